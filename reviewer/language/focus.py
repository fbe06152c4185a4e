"""Whose deed each word tells: which of our men the talk is on, token by token.

The talk is on the man under review until another of ours is named where a subject stands. A man
named beside him ("with the guard", "hands him to Dorsey") does not take the talk over. Before the
first of several men is named, the talk is on the play and counts for all of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from reviewer.language.analysis import Analysis
from reviewer.language.people import Mention, people_words, position_of
from reviewer.language.tokens import Token

Men = frozenset[str]
NOBODY: Men = frozenset()

Subject = Literal["focus", "other", "opponent", "he", "you", "none"]

_BESIDE = frozenset(
    [
        "and",
        "with",
        "beside",
        "to",
        "between",
        "behind",
        "from",
        "by",
        "help",
        "helps",
        "helping",
        "toward",
        "towards",
        "off",
        "around",
        "past",
        "outside",
        "inside",
        "over",
        "near",
    ]
)
_TARGET = frozenset(["for", "from", "on", "to", "goes", "give", "giving"])
_RETURN_WORDS = frozenset(["you", "i", "me", "my", "your", "our", "ours"])


@dataclass(frozen=True)
class Focus:
    """For each token of a rep (by token index): the men of ours that the talk is on."""

    men: dict[int, Men]
    explicit: dict[int, bool]
    named: tuple[str, ...]

    def at(self, token: int) -> Men:
        """The men the talk is on at a token; empty for the play as a whole."""
        return self.men.get(token, NOBODY)


def follow_focus(
    analysis: Analysis, sentences: Sequence[int], default: str | None, before: Sequence[str] = ()
) -> Focus:
    """Follow the talk through a rep.

    default: the man under review, if the note has one. before: the men in focus earlier in the
    note, latest last ("you two" means the last two of them).
    """
    men: dict[int, Men] = {}
    explicit: dict[int, bool] = {}
    named: list[str] = []
    current: Men = frozenset([default]) if default else NOBODY
    told = False
    waiting: list[int] = []
    for place, k in enumerate(sentences):
        sentence = analysis.text.sentences[k]
        tokens = analysis.text.tokens[sentence.first : sentence.last]
        own = [m for m in analysis.mentions_in.get(k, ()) if m.own]
        changes = {}
        for group in _together(own, analysis):
            change = _takes_over(analysis, sentence.first, group, tokens, default)
            if change:
                changes[group[0].first] = frozenset(m.jersey for m in group)
            named += [j for j in dict.fromkeys(m.jersey for m in group) if j not in named]
        if not default and _looks_forward(analysis, sentences, place, own):
            current, told = NOBODY, False
            waiting = list(range(sentence.first, sentence.last))
        elif waiting and changes:
            ahead = next(iter(changes.values()))
            for at in waiting:
                men[at], explicit[at] = ahead, False
            waiting = []
        pair = _you_two(tokens, (*before, *named))
        if pair:
            changes.setdefault(sentence.first, pair)
        if default and not changes and any(t.text in _RETURN_WORDS for t in tokens):
            current, told = frozenset([default]), True
        steady = (current, told)
        returns = _not_on_him(tokens, sentence.first)
        # a man named first thing in a clause is who the whole clause is about
        for at in range(sentence.first, sentence.last):
            if at in changes:
                current, told = changes[at], True
                back = at - 1
                while (
                    back >= sentence.first
                    and analysis.text.tokens[back].clause == analysis.text.tokens[at].clause
                ):
                    men[back], explicit[back] = current, True
                    back -= 1
            if default and at in returns and current != frozenset([default]):
                current, told = frozenset([default]), True
            men[at], explicit[at] = current, told
        if default and current and not any(_may_block(analysis, m) for m in current):
            current, told = steady  # a passer or a runner is talked of for a moment only
    only = [j for j in named if _may_block(analysis, j)]
    if not default and len(only) == 1 and not any(men.values()):
        men = dict.fromkeys(men, frozenset(only))  # "power, with sixty as the puller": nobody else is told of
    return Focus(men, explicit, tuple(named))


def _not_on_him(tokens: Sequence[Token], first: int) -> set[int]:
    """Where the talk comes back to the man under review: "the center gets beat, but that's not on him"."""
    texts = [t.text for t in tokens]
    phrases = [p.split() for p in people_words()["blame"]["back_to_him"]]
    return {
        first + at for at in range(len(texts)) for words in phrases if texts[at : at + len(words)] == words
    }


def _may_block(analysis: Analysis, jersey: str) -> bool:
    return position_of(jersey, analysis.context) not in {"QB", "WR", "RB"}


def _looks_forward(analysis: Analysis, sentences: Sequence[int], place: int, own: Sequence[Mention]) -> bool:
    """Whether a sentence opens the next man's part: it follows a verdict, names none of ours and no
    "he", and the next sentence begins with one of ours ("Inside they twist it, ninety-one and
    ninety-six. Sixty-three and sixty trade it off.")."""
    if own or place == 0 or place + 1 >= len(sentences) or sentences[place + 1] != sentences[place] + 1:
        return False
    text = analysis.text
    before, this, after = (text.sentences[sentences[place + d]] for d in (-1, 0, 1))
    if not any(s.group == "verdict" for s in analysis.spans_in.get(before.index, ())):
        return False
    if any(
        t.text in {"he", "his", "him", "you", "your", "that", "i", "my"}
        for t in text.tokens[this.first : this.last]
    ):
        return False
    following = [m for m in analysis.mentions_in.get(after.index, ()) if m.own]
    return (
        bool(following)
        and following[0].first - after.first <= 2
        and any(not m.own for m in analysis.mentions_in.get(this.index, ()))
    )


def _together(own: Sequence[Mention], analysis: Analysis) -> list[list[Mention]]:
    """Own mentions joined into groups: "Rasmark and Bellweather", "seventy-eight, Struthway"."""
    groups: list[list[Mention]] = []
    tokens = analysis.text.tokens
    for mention in own:
        if groups:
            last = groups[-1][-1]
            between = [t.text for t in tokens[last.last : mention.first]]
            if mention.first == last.first or between in (
                [],
                ["and"],
                ["the"],
                ["number"],
                ["our"],
                ["and", "the"],
                ["at"],
                ["our", "number"],
            ):
                groups[-1].append(mention)
                continue
        groups.append([mention])
    return groups


def _takes_over(
    analysis: Analysis, first: int, group: Sequence[Mention], tokens: Sequence[Token], default: str | None
) -> bool:
    """Whether naming these men turns the talk to them."""
    mention = group[0]
    if default and any(m.jersey == default for m in group):
        return True
    if not mention.sure and default and _defender_sense(analysis, mention):
        return False
    lead = [t.text for t in analysis.text.tokens[first : mention.first]]
    skip = people_words()["words"]["skip_first"]
    at_front = all(w in skip for w in lead)
    clause_start = _clause_lead(analysis, mention)
    before = analysis.text.tokens[mention.first - 1].text if mention.first > first else ""
    before = (
        analysis.text.tokens[mention.first - 2].text
        if before in {"the", "our", "number", "my"} and mention.first - 2 >= first
        else before
    )
    if before in _TARGET and _judged_near(analysis, mention):
        return True
    if at_front or _directly_before(analysis, mention.first, people_words()["words"]["presented"]):
        return True
    if before in _BESIDE and not (before == "and" and clause_start):
        return False
    return clause_start


def _directly_before(analysis: Analysis, token: int, phrases: Sequence[str]) -> bool:
    """Whether one of the phrases stands right before a token, a "the" or "number" between at most."""
    said = [t.text for t in analysis.text.tokens[max(0, token - 5) : token]]
    while said and said[-1] in {"the", "our", "number", "my", "your"}:
        said.pop()
    return any(said[-len(words) :] == words for p in phrases if (words := p.split()))


def _defender_sense(analysis: Analysis, mention: Mention) -> bool:
    """ "the tackle goes first": a bare position inside a game is a defender."""
    sentence = analysis.text.tokens[mention.first].sentence
    return any(s.group == "games" for s in analysis.spans_in.get(sentence, ()))


def _clause_lead(analysis: Analysis, mention: Mention) -> bool:
    """Whether only small words stand between the clause's start and the mention."""
    skip = people_words()["words"]["skip_first"]
    at = mention.first - 1
    tokens = analysis.text.tokens
    clause = tokens[mention.first].clause
    while at >= 0 and tokens[at].clause == clause:
        if tokens[at].text not in skip:
            return False
        at -= 1
    return True


def _judged_near(analysis: Analysis, mention: Mention) -> bool:
    """Whether a verdict or a counted event stands in the mention's clause, before it."""
    tokens = analysis.text.tokens
    sentence = tokens[mention.first].sentence
    return any(
        s.group in {"verdict", "praise", "blame", "events", "mixed"}
        and s.last <= mention.first
        and mention.first - s.last <= 6
        for s in analysis.spans_in.get(sentence, ())
    )


def _you_two(tokens: Sequence[Token], named: Sequence[str]) -> Men | None:
    texts = [t.text for t in tokens]
    joined = " ".join(texts)
    if not any(
        p in joined
        for p in (
            "you two",
            "both of you",
            "the two of you",
            "two of them",
            "both of them",
            "they're both",
            "they both",
            "both of 'em",
            "these two",
            "you guys both",
            "you both",
        )
    ):
        return None
    last = list(dict.fromkeys(reversed(named)))[:2]
    return frozenset(last) if len(last) == 2 else None


def subject_of(analysis: Analysis, first: int, focus: Men) -> Subject:
    """Who does what begins at token `first`: the nearest person named before it in its sentence."""
    tokens = analysis.text.tokens
    sentence = tokens[first].sentence
    mentions = {m.last: m for m in analysis.mentions_in.get(sentence, ())}
    at = first
    while at > 0 and tokens[at - 1].sentence == sentence:
        if at in mentions:
            mention = mentions[at]
            before = (
                tokens[mention.first - 1].text
                if mention.first and tokens[mention.first - 1].sentence == sentence
                else ""
            )
            if before not in {"on", "with", "to", "against", "for", "over", "at", "from", "off", "of", "and"}:
                if not mention.own:
                    return "opponent"
                return "focus" if mention.jersey in focus else "other"
            at = mention.first
            continue
        at -= 1
        text = tokens[at].text
        if text in {"he", "she", "they", "who"}:
            return "he"
        if text in {"you", "i", "we"}:
            return "you"
    return "none"
