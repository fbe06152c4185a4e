"""Who is meant: roster names, jerseys and positions in the talk.

A `Mention` is a place where one man of either side is named. Our man or theirs is told by the
roster first, then by the numbering rules of the rule books (see `numbering`), then by the words.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

from reviewer import paths
from reviewer.language.situation import Figures
from reviewer.language.tag import NameSpan
from reviewer.language.tokens import TokenText
from reviewer.records import NoteContext

LINE = ("LT", "LG", "C", "RG", "RT")


@dataclass(frozen=True, slots=True)
class Mention:
    """Tokens first..last (exclusive) that name the man `jersey` ("" when only the kind is known).

    how: "name", "number", "position", "group" or "same" (the same man as in the rep before).
    """

    first: int
    last: int
    jersey: str
    own: bool
    how: Literal["name", "number", "position", "group", "same"]
    sure: bool = True


@lru_cache(maxsize=1)
def people_words() -> Mapping[str, Any]:
    """The data of `vocab/people.toml`."""
    return tomllib.loads((paths.vocabulary() / "people.toml").read_text("utf-8"))


def find_names(text: TokenText, context: NoteContext) -> list[NameSpan]:
    """Roster names in the talk: full names, surnames, first names that only one man bears.

    A name counts only where it was written with a capital, so that common words stay words.
    """
    spoken = _spoken_names(context)
    if not spoken:
        return []
    found: list[NameSpan] = []
    at = 0
    longest = max(len(name) for name in spoken)
    tokens = text.tokens
    while at < len(tokens):
        for length in range(min(longest, len(tokens) - at), 0, -1):
            key = tuple(t.text for t in tokens[at : at + length])
            if key in spoken and _capital(text, at):
                jersey, own = spoken[key]
                found.append(NameSpan(at, at + length, jersey, own))
                at += length - 1
                break
        at += 1
    return found


def _capital(text: TokenText, at: int) -> bool:
    written = text.words[text.tokens[at].word].text.lstrip("\n\"'(“‘")
    return written[:1].isupper() or "-" in written


def _spoken_names(context: NoteContext) -> dict[tuple[str, ...], tuple[str, bool]]:
    """Each spoken form of a name that means one man only."""
    forms: dict[tuple[str, ...], set[tuple[str, bool]]] = {}
    common = (
        set(people_words()["common_first_names"]["words"])
        if "common_first_names" in people_words()
        else set()
    )
    for entry in context.roster:
        parts = tuple(p for p in entry.name.lower().replace("-", " ").replace(".", "").split() if p)
        if not parts:
            continue
        man = (entry.jersey, entry.side == "own")
        spellings = {parts, parts[-1:]}
        if len(parts) > 2:
            spellings.add(parts[1:])
        if parts[0] not in common and len(parts) > 1:
            spellings.add(parts[:1])
        for spelling in spellings:
            forms.setdefault(spelling, set()).add(man)
    return {form: next(iter(men)) for form, men in forms.items() if len(men) == 1}


def find_mentions(
    text: TokenText, figures: Figures, names: Sequence[NameSpan], context: NoteContext
) -> list[Mention]:
    """Every place where a man is named, in order."""
    found = [Mention(n.first, n.last, n.jersey, n.own, "name") for n in names]
    found += _jersey_mentions(text, figures, context)
    taken = {k for m in found for k in range(m.first, m.last)}
    found += _position_mentions(text, context, taken)
    found += [m for m in _same_man(text) if m.first not in taken]
    ordered = sorted(found, key=lambda m: (m.first, -m.last))
    single = {m.first for m in ordered if m.own and m.how != "group"}
    # "left side, Voight": the side only says where the man named next plays
    return [m for m in ordered if m.how != "group" or m.last not in single]


def _jersey_mentions(text: TokenText, figures: Figures, context: NoteContext) -> list[Mention]:
    own = {e.jersey for e in context.roster if e.side == "own"} | (
        {context.player} if context.player else set()
    )
    opp = {e.jersey for e in context.roster if e.side == "opp"}
    found = []
    denied = people_words()["words"]["absent_before"]
    for use in figures.numbers:
        if use.use not in {"jersey", "maybe jersey"} or use.withdrawn:
            continue
        number = use.number
        if _directly_before(text, number.first, denied):
            continue
        jersey = number.digits
        is_own, is_opp = jersey in own, jersey in opp
        if is_own and is_opp:
            ours, sure = jersey == context.player, False
        elif is_own or is_opp:
            ours, sure = is_own, True
        else:
            ours, sure = _ours_by_numbering(jersey, context), False
        if use.use == "maybe jersey":
            continue
        found.append(Mention(number.first, number.last, jersey, ours, "number", sure))
    return found


def _ours_by_numbering(jersey: str, context: NoteContext) -> bool:
    """A number that is on no roster: an offensive lineman's (50-79) is ours only when we know no
    other man under review and it is one that linemen wear and rushers seldom do (60-79)."""
    if context.roster and any(e.side == "opp" for e in context.roster):
        return False
    return context.player is None and jersey.isdigit() and 60 <= int(jersey) <= 79


def _directly_before(text: TokenText, at: int, phrases: Sequence[str]) -> bool:
    for phrase in phrases:
        words = phrase.split()
        start = at - len(words)
        same = start >= 0 and text.tokens[start].sentence == text.tokens[at].sentence
        if same and [t.text for t in text.tokens[start:at]] == words:
            return True
    return False


def _position_mentions(text: TokenText, context: NoteContext, taken: set[int]) -> list[Mention]:
    """Our men named by position, where the roster or the note says who plays it."""
    words = people_words()
    by_position = _men_by_position(context)
    side_of = _side_positions(context, by_position)
    phrases: list[Phrase] = []
    for spoken, position in words["positions"].items():
        if position in by_position:
            phrases.append((tuple(spoken.split()), (by_position[position],), "position"))
    if context.player:
        for spoken in words["words"]["reviewed"]:
            phrases.append((tuple(spoken.split()), (context.player,), "position"))
    for spoken, jersey in side_of.items():
        phrases.append(((spoken,), (jersey,), "position"))
    for spoken, positions in words["groups"].items():
        men = tuple(by_position[p] for p in positions if p in by_position)
        if len(men) == len(positions) and len(men) > 1:
            phrases.append((tuple(spoken.split()), men, "group"))
    openers = _group_openers(words["groups_first"], by_position) if context.player is None else []
    phrases.sort(key=lambda p: -len(p[0]))
    found: list[Mention] = []
    claimed = set(taken)
    tokens = text.tokens
    for at in range(len(tokens)):
        if at in claimed:
            continue
        first_words = openers if at == 0 or tokens[at - 1].sentence != tokens[at].sentence else ()
        for spoken, men, how in (*first_words, *phrases):
            span = tokens[at : at + len(spoken)]
            if tuple(t.text for t in span) != spoken or span[0].sentence != span[-1].sentence:
                continue
            if any(k in claimed for k in range(at, at + len(spoken))):
                continue
            found += [
                Mention(at, at + len(spoken), jersey, True, how, len(spoken) > 1 or how == "group")
                for jersey in men
            ]
            claimed.update(range(at, at + len(spoken)))
            break
    return found


Phrase = tuple[tuple[str, ...], tuple[str, ...], Literal["position", "group"]]


def _group_openers(words: Mapping[str, Sequence[str]], by_position: Mapping[str, str]) -> list[Phrase]:
    """ "Tackles, both plus": several of our men named by a bare plural that opens a sentence."""
    found: list[Phrase] = []
    for spoken, positions in words.items():
        men = tuple(by_position[p] for p in positions if p in by_position)
        if len(men) == len(positions):
            found.append((tuple(spoken.split()), men, "group"))
    return sorted(found, key=lambda p: -len(p[0]))


def _men_by_position(context: NoteContext) -> dict[str, str]:
    """Position to jersey of our men; of several at one position the first on the roster, as a
    roster names its starters first (common practice, no source)."""
    men: dict[str, str] = {}
    for entry in context.roster:
        if entry.side == "own":
            men.setdefault(entry.position, entry.jersey)
    if context.player and context.position:
        men[context.position] = context.player
    return men


def _side_positions(context: NoteContext, by_position: Mapping[str, str]) -> dict[str, str]:
    """Whom "the guard" means when the player under review is a tackle beside him, and so on."""
    position = context.position
    if not position:
        return {}
    side = {"LT": "L", "LG": "L", "RT": "R", "RG": "R"}.get(position)
    out = {}
    for spoken, positions in people_words()["side_positions"].items():
        beside = next((p for p in positions if side and p.startswith(side)), None)
        if beside and beside in by_position:
            out[spoken] = by_position[beside]
    return out


def _same_man(text: TokenText) -> list[Mention]:
    phrases = sorted((tuple(p.split()) for p in people_words()["words"]["same_man"]), key=len, reverse=True)
    found = []
    for at in range(len(text.tokens)):
        for phrase in phrases:
            if tuple(t.text for t in text.tokens[at : at + len(phrase)]) == phrase:
                found.append(Mention(at, at + len(phrase), "", False, "same"))
                break
    return found


def position_of(jersey: str | None, context: NoteContext) -> str | None:
    """A man's position as the roster or the note gives it."""
    if jersey is None:
        return None
    if jersey == context.player and context.position:
        return context.position
    return next((e.position for e in context.roster if e.jersey == jersey and e.side == "own"), None)
