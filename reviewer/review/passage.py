"""The words of a rep with what was read from them, and how they are laid out on lines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from reviewer.records import GradeRow, Mend, Word
from reviewer.review.canvas import Line, Span, cells
from reviewer.review.plain import plain
from reviewer.review.slots import BY_FIELD, SLOTS
from reviewer.store.fold import NoteState

Part = Literal["before", "rep", "after"]

SLACK_S = 0.011
"""Evidence carries rounded times."""

CONTEXT_WORDS = 60
"""So many words of the talk around a rep are shown at most."""

DERIVED = frozenset({"phase"})
"""Slots that are read from the words of other slots; their words are lit only under the cursor."""


@dataclass(frozen=True, slots=True)
class Shown:
    """One word as shown.

    index: into the note's words. text: as read, harmless. heard: the words as heard when they were
    read otherwise and this is the last of them. slots: ids of the slots that it said something for.
    part: whether it belongs to the rep or to the talk around it. jump: whether words lie between it
    and the one before. turn: whether it begins another part.
    """

    index: int
    text: str
    heard: str | None
    slots: frozenset[str]
    part: Part
    jump: bool = False
    turn: bool = False


def passage(
    words: Sequence[Word],
    state: NoteState,
    rep_id: int,
    row: GradeRow | None,
    mends: Sequence[tuple[Mend, bool]] = (),
    around: bool = True,
) -> list[Shown]:
    """The words of a rep in spoken order, with the talk of no rep before and after its first stretch
    where `around` is set.

    row: the one whose evidence is marked. mends: with whether each was refused.
    """
    rep = state.rep(rep_id)
    if rep is None or not rep.stretches:
        return []
    first, last = rep.stretches[0]
    before, after = _around(state, first, last, len(words)) if around else ((first, first), (last, last))
    said = _said(words, row)
    heard = _heard(words, mends)
    shown: list[Shown] = []
    stretches: list[tuple[Part, int, int]] = [("before", *before), ("rep", first, last), ("after", *after)]
    stretches += [("rep", a, b) for a, b in rep.stretches[1:]]
    end = before[0]
    for part, a, b in stretches:
        for index in range(a, b):
            text = plain(words[index].text).strip()
            if not text and index not in heard:
                continue
            slots = said.get(index, frozenset()) if part == "rep" else frozenset()
            turn = bool(shown) and shown[-1].part != part
            shown.append(Shown(index, text, heard.get(index), slots, part, index == a and a != end, turn))
        end = b
    return shown


def everything(words: Sequence[Word], mends: Sequence[tuple[Mend, bool]] = ()) -> list[Shown]:
    """All words of a note without reps, as talk of no rep."""
    heard = _heard(words, mends)
    texts = [(i, plain(word.text).strip()) for i, word in enumerate(words)]
    return [Shown(i, t, heard.get(i), frozenset(), "before") for i, t in texts if t or i in heard]


def _around(state: NoteState, first: int, last: int, total: int) -> tuple[tuple[int, int], tuple[int, int]]:
    """The words of no rep directly before and after a stretch."""
    taken = [s for rep in state.reps if rep.number for s in rep.stretches]
    low = max((b for _, b in taken if b <= first), default=0)
    high = min((a for a, _ in taken if a >= last), default=total)
    return (max(low, first - CONTEXT_WORDS), first), (last, min(high, last + CONTEXT_WORDS))


def _said(words: Sequence[Word], row: GradeRow | None) -> Mapping[int, frozenset[str]]:
    """Word index to the slots that it said something for."""
    found: dict[int, set[str]] = {}
    for name, evidence in (row.evidence if row else {}).items():
        slot = BY_FIELD.get(name)
        if slot is None:
            continue
        for each in evidence:
            for index in words_between(words, each.start, each.end):
                found.setdefault(index, set()).add(slot.id)
    return {index: frozenset(slots) for index, slots in found.items()}


def words_between(words: Sequence[Word], start: float, end: float) -> range:
    """The indices of the words spoken between two times, both in seconds."""
    from bisect import bisect_left, bisect_right

    first = bisect_left(words, start - SLACK_S, key=lambda w: w.start)
    last = bisect_right(words, end + SLACK_S, key=lambda w: w.end)
    return range(first, max(first, last))


def word_at(words: Sequence[Word], moment: float) -> int | None:
    """The word that is spoken at a moment (in seconds), or the last one before; None before the first."""
    from bisect import bisect_right

    place = bisect_right(words, moment, key=lambda w: w.start) - 1
    return place if place >= 0 else None


def _heard(words: Sequence[Word], mends: Sequence[tuple[Mend, bool]]) -> dict[int, str]:
    """The last word of each stretch read otherwise than heard, to what was heard for the stretch."""
    found: dict[int, str] = {}
    for index, word in enumerate(words):
        if word.heard:
            found[_last_of_mend(words, index)] = plain(word.heard)
    for mend, refused in mends:
        if not refused:
            found[mend.last - 1] = plain(mend.heard)
    return found


def _last_of_mend(words: Sequence[Word], first: int) -> int:
    """Where several read words stand for what was heard, all but the first carry ""."""
    last = first
    while last + 1 < len(words) and words[last + 1].heard == "":
        last += 1
    return last


_KEYS = {slot.id: slot.key for slot in SLOTS}


def lit_words(shown: Sequence[Shown], slot: str) -> frozenset[int]:
    """The words that said what stands in a slot."""
    return frozenset(word.index for word in shown if slot in word.slots)


def lay_out(
    shown: Sequence[Shown],
    width: int,
    lit: frozenset[int] = frozenset(),
    slot: str = "",
    cursor: frozenset[int] = frozenset(),
) -> list[Line]:
    """The words as lines of at most `width` columns, each word tagged ("word", index).

    A stretch that said something stands in brackets with the keys of its slots before it; a lit one in
    ▸◂. Words read otherwise than heard are followed by what was heard in ‹›. cursor: the words under
    the words' own cursor.
    """
    lines: list[list[Span]] = [[]]
    used = 0
    for group in _groups(shown, lit, slot, cursor):
        room = sum(cells(span.text) for span in group)
        gap = 1 if used else 0
        turns = group[0].style in {"jump", "turn"}
        group = [span for span in group if span.style != "turn"]
        if used and (turns or used + gap + room > width):
            lines.append([])
            used, gap = 0, 0
        if gap:
            lines[-1].append(Span(" ", _between(lines[-1][-1], group[0])))
        for span in _broken(group, width):
            size = cells(span.text)
            if used and used + gap + size > width:
                lines.append([])
                used, gap = 0, 0
            lines[-1].append(span)
            used += gap + size
            gap = 0
    return [tuple(line) for line in lines]


def _between(last: Span, following: Span) -> str:
    """The blank between two words of one marked stretch looks like them."""
    inside = last.style == following.style and following.style in {"said", "lit", "chosen"}
    return last.style if inside else ""


def _groups(
    shown: Sequence[Shown], lit: frozenset[int], slot: str, cursor: frozenset[int]
) -> list[list[Span]]:
    """The spans, in groups that a line does not break: a word with the signs that cling to it."""
    groups: list[list[Span]] = []
    for place, word in enumerate(shown):
        before = shown[place - 1] if place else None
        after = shown[place + 1] if place + 1 < len(shown) else None
        mark, is_lit = _mark(word, lit, slot), word.index in lit
        tag = ("word", word.index)
        sign = "lit" if is_lit else "sign"
        group: list[Span] = []
        if word.jump and place:
            groups.append([Span("…", "jump")])
        elif word.turn:
            group.append(Span("", "turn"))
        if mark and (before is None or word.jump or _mark(before, lit, slot) != mark):
            group.append(Span("▸" if is_lit else f"[{mark} ", sign, tag))
        if word.text:
            group.append(Span(word.text, _style(word, mark, is_lit, cursor), tag))
        if word.heard:
            group.append(Span(f"{' ' if word.text else ''}‹{word.heard}›", "heard", tag))
        if mark and (after is None or after.jump or _mark(after, lit, slot) != mark):
            group.append(Span("◂" if is_lit else "]", sign, tag))
        if group:
            groups.append(group)
    return groups


def _style(word: Shown, mark: str, is_lit: bool, cursor: frozenset[int]) -> str:
    if word.index in cursor:
        return "chosen"
    if word.part != "rep":
        return "around"
    return "lit" if is_lit else "said" if mark else ""


def _mark(word: Shown, lit: frozenset[int], slot: str) -> str:
    """The keys of the slots that a word is marked with; the lit slot's alone where it is lit."""
    if word.index in lit:
        return _KEYS.get(slot, "▸")
    return "".join(_KEYS[s.id] for s in SLOTS if s.id in word.slots and s.id not in DERIVED)


def _broken(group: list[Span], width: int) -> list[Span]:
    """Spans wider than a line, cut into lines."""
    from rich.cells import chop_cells

    result: list[Span] = []
    for span in group:
        if cells(span.text) <= width:
            result.append(span)
        else:
            result += [Span(part, span.style, span.tag) for part in chop_cells(span.text, width)]
    return result


def line_of(lines: Sequence[Line], words: frozenset[int]) -> int | None:
    """The first line with one of these words, None for none."""
    for place, line in enumerate(lines):
        if any(span.tag and span.tag[1] in words for span in line):
            return place
    return None


def gave(shown: Sequence[Shown], word: int) -> list[str]:
    """The slots that a word said something for, in the order they are shown."""
    slots = next((s.slots for s in shown if s.index == word), frozenset())
    return [slot.id for slot in SLOTS if slot.id in slots]
