"""The defenders named in a man's part of a rep, each with the signs that he worked on him or not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reviewer.language.analysis import Analysis
from reviewer.language.focus import Focus, subject_of
from reviewer.language.people import Mention, people_words
from reviewer.language.split import Cut
from reviewer.language.tokens import Token, base_form

CARRIED = "carried over"
"""Mark of a defender whom the rep's own words do not name."""


@dataclass
class Opponent:
    """A defender named in a man's stretch."""

    jersey: str
    mentions: list[Mention]
    features: list[str]


def find_opponents(
    analysis: Analysis, cut: Cut, focus: Focus, man: str | None, facing: dict[str | None, str]
) -> list[Opponent]:
    found: dict[str, Opponent] = {}
    back = set(cut.back)
    denied = _denied_men(analysis, cut.sentences)
    named = [
        m
        for k in cut.sentences
        for m in analysis.mentions_in.get(k, ())
        if not m.own and m.jersey not in denied
    ]
    different = len({m.jersey for m in named if m.jersey})
    order = 0
    for k in (*cut.sentences, *cut.back):
        for mention in analysis.mentions_in.get(k, ()):
            if mention.own or (mention.jersey and mention.jersey in denied):
                continue
            jersey = mention.jersey
            if mention.how == "same" and (
                found
                or _named_beside(analysis, mention)
                or (jersey := facing.get(man) or facing.get(None, "")) == ""
            ):
                continue
            features = _opponent_features(analysis, mention, focus, man, k in back, different)
            if jersey not in found:
                if "on him" in features:
                    features.append(f"order {min(order, 3)}")
                    order += 1
                found[jersey] = Opponent(jersey, [mention], features)
            else:
                known = found[jersey]
                known.mentions.append(mention)
                known.features = sorted({*known.features, *features, "again"})
    _not_worked_on(analysis, cut, list(found.values()))
    alone = not any("on him" in o.features for o in found.values())
    for opponent in found.values():
        if "on the play" in opponent.features:
            opponent.features.append("on the play, nobody on him" if alone else "on the play, another on him")
    return list(found.values())


REACH = 5
"""Tokens of a clause before a defender in which a word can tell that he was let go or missed."""


def _not_worked_on(analysis: Analysis, cut: Cut, opponents: Sequence[Opponent]) -> None:
    """Add the signs that a defender was let through ("lets ninety-five go") or should have been met."""
    words = people_words()["not_worked_on"]
    tokens = analysis.text.tokens
    past = any(c.id in words["plays_past"] for k in cut.sentences for c in analysis.cues(k, "concepts"))
    let_go = {base_form(w) for w in words["let_go"]}
    missed, drops, helpers = ({base_form(w) for w in words[k]} for k in ("missed", "drops", "helpers"))
    for opponent in opponents:
        signs = set()
        for mention in opponent.mentions:
            clause = tokens[mention.first].clause
            before = {
                t.norm for t in tokens[max(0, mention.first - REACH) : mention.first] if t.clause == clause
            }
            if before & let_go:
                signs |= {"let go", f"let go, {'as the play has it' if past else 'on his own'}"}
            if before & missed:
                signs.add("should have been met")
            after = {t.norm for t in tokens[mention.last : mention.last + REACH] if t.clause == clause}
            if after & drops:
                signs.add("drops out")
            if (before | after) & helpers:
                signs.add("the back's")
        opponent.features += sorted(signs)


def _denied_men(analysis: Analysis, sentences: Sequence[int]) -> set[str]:
    """Jerseys the speaker takes back: "that's not fifty-eight, that's ninety-four"."""
    said = set(sentences)
    tokens = analysis.text.tokens
    denied = {
        m.jersey
        for k in sentences
        for m in analysis.mentions_in.get(k, ())
        if not m.own and m.jersey and _gone(tokens, m)
    }
    for use in analysis.figures.numbers:
        number = use.number
        if use.use != "jersey" or tokens[number.first].sentence not in said:
            continue
        if use.withdrawn:
            denied.add(number.digits)
            continue
        before = [t.text for t in tokens[max(0, number.first - 2) : number.first]]
        if (before[-1:] == ["not"] and before[:1] != ["it"]) or before == ["not", "number"]:
            denied.add(number.digits)
    return denied


def _gone(tokens: Sequence[Token], mention: Mention) -> bool:
    """ "It's not Strand anymore": somebody else is there now."""
    before = [t.text for t in tokens[max(0, mention.first - 3) : mention.first]]
    after = " ".join(t.text for t in tokens[mention.last : mention.last + 2])
    return bool({"not", "n't"} & set(before)) and after.startswith(("anymore", "any more", "this time"))


def _named_beside(analysis: Analysis, mention: Mention) -> bool:
    """ "same fella, ninety-seven": the number says who it is."""
    return any(
        not m.own and m.how in {"number", "name"} and 0 <= m.first - mention.last <= 3
        for m in analysis.mentions_in.get(analysis.text.tokens[mention.first].sentence, ())
    )


_LEADS = frozenset(
    [
        "on",
        "with",
        "against",
        "to",
        "at",
        "off",
        "and",
        "for",
        "over",
        "from",
        "around",
        "by",
        "up",
        "not",
        "inside",
        "the",
        "and",
        "¶",
        "of",
        "past",
        "into",
    ]
)
_FOLLOWS = frozenset(
    [
        "over",
        "'s",
        "is",
        "comes",
        "and",
        "with",
        "who",
        "on",
        "again",
        "inside",
        "out",
        "in",
        "no",
        "loops",
        "¶",
        "off",
        "up",
        "goes",
        "the",
        "too",
    ]
)


def _opponent_features(
    analysis: Analysis, mention: Mention, focus: Focus, man: str | None, back: bool, different: int
) -> list[str]:
    tokens = analysis.text.tokens
    sentence = tokens[mention.first].sentence
    men = focus.at(mention.first)
    kind = "on the play" if not men else "on him" if man in men or man is None else "on another"
    found = [kind, f"different {min(different, 4)}", mention.how]
    if not mention.sure:
        found.append("unsure side")
    if back:
        found.append("back")
    before = (
        tokens[mention.first - 1].text
        if mention.first and tokens[mention.first - 1].sentence == sentence
        else "¶"
    )
    found.append(f"subject {subject_of(analysis, mention.first, men)}")
    for at, place in (
        (mention.first - 1, "1 before"),
        (mention.first - 2, "2 before"),
        (mention.last, "1 after"),
        (mention.last + 1, "2 after"),
    ):
        if 0 <= at < len(tokens) and tokens[at].sentence == sentence:
            found.append(f"{place}|{tokens[at].norm}")
    if before in _LEADS:
        found.append(f"before {before}")
    after = (
        tokens[mention.last].text
        if mention.last < len(tokens) and tokens[mention.last].sentence == sentence
        else "¶"
    )
    if after in _FOLLOWS:
        found.append(f"after {after}")
    if any(
        s.group in {"moves", "games"} and 0 <= s.first - mention.last <= 5 for s in analysis.cues_in(sentence)
    ):
        found.append("does something")
    if any(
        s.group in {"techniques", "faults"} and 0 <= mention.first - s.last <= 3
        for s in analysis.cues_in(sentence)
    ):
        found.append("is done something to")
    if any(s.group == "alignment" and abs(s.first - mention.last) <= 5 for s in analysis.cues_in(sentence)):
        found.append("lines up")
    if mention.first == analysis.text.sentences[sentence].first:
        found.append("first word")
    clause = tokens[mention.first].clause
    near = {s.group for s in analysis.spans_in.get(sentence, ()) if tokens[s.first].clause == clause}
    found += [
        f"near {g}"
        for g in sorted(near & {"techniques", "faults", "moves", "alignment", "games", "set", "events"})
    ]
    whole = {s.group for s in analysis.spans_in.get(sentence, ())}
    found += [
        f"sentence {g}"
        for g in sorted(
            whole
            & {"techniques", "faults", "moves", "alignment", "games", "opinion", "hypothetical", "teaching"}
        )
    ]
    if any(s.id == "combo" for s in analysis.cues(sentence, "techniques")):
        found.append("combo")
        if any(m.jersey == man for m in analysis.mentions_in.get(sentence, ())):
            found.append("combo beside him")
    if any(
        m.own and m.jersey != man
        for m in analysis.mentions_in.get(sentence, ())
        if tokens[m.first].clause == clause
    ):
        found.append("another of ours in clause")
    if any(
        m.own and m.jersey == man
        for m in analysis.mentions_in.get(sentence, ())
        if tokens[m.first].clause == clause
    ):
        found.append("he in clause")
    entry = next((e for e in analysis.context.roster if e.jersey == mention.jersey and e.side == "opp"), None)
    if entry:
        found.append(f"plays {entry.position}")
    return found
