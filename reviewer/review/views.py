"""What the review's panes show, as lines: the bars, the fields, the detail, the list of rows."""

from __future__ import annotations

from collections.abc import Sequence

from reviewer.records import RosterEntry
from reviewer.review import doubt, lineup, slots
from reviewer.review.canvas import (
    Line,
    Span,
    Tag,
    both_ends,
    cells,
    clipped,
    fitted,
    padded,
    width_of,
    wrapped,
)
from reviewer.review.plain import clock, plain
from reviewer.review.progress import progress_words
from reviewer.review.session import Session
from reviewer.review.slots import BY_ID, NOTHING, SLOTS, Slot
from reviewer.store.fold import StoredRow

LABEL = 11
"""Columns of a slot's label."""

DOUBT, FIXED, GUESS = "?", "*", "~"
"""Signs before a field: doubtful, decided by the coach, inferred and not said."""

LEGEND = f"{DOUBT} doubtful  {FIXED} yours  {GUESS} inferred, not said  [t gave t]  ‹heard›"


def title_line(session: Session, width: int) -> Line:
    """The note and how far its review is."""
    note = session.note
    name = plain(note.title)
    if note.opponent and note.opponent.casefold() not in name.casefold():
        name += f" · {plain(note.opponent)}"
    return both_ends(
        (Span(f" {name}", "title"),), (Span(f"{progress_words(session.progress)} ", "bar"),), width
    )


def row_line(session: Session, width: int) -> Line:
    """Which row it is, and how it stands."""
    row = session.row
    if row is None:
        return fitted((Span(" No rows: tab shows the words, a makes a rep of chosen ones.", "bar"),), width)
    place = f" Rep {row.current.rep}, row {session.number(row.id)} of {len(session.rows)}"
    who = who_words(row, session.roster)
    times = f"  {clock(row.start)}–{clock(row.end)}"
    left = (Span(f"{place}  ", "bar"), Span(who, "who"))
    stands = standing(row)
    timed = (*left, Span(times, "bar"))
    # the times give way whole: half a time says nothing
    fits = width_of(timed) + width_of((stands,)) + 1 <= width
    return both_ends(timed if fits else left, (stands,), width)


def who_words(row: StoredRow, roster: Sequence[RosterEntry]) -> str:
    """The graded man: number, name, position."""
    grade = row.current
    name = lineup.name_of(roster, grade.player, "own")
    return " ".join(filter(None, [plain(grade.player or "no number"), name, plain(grade.position or "")]))


def standing(row: StoredRow) -> Span:
    """How a row stands: confirmed, made by hand, or how sure the machine is of it."""
    if row.confirmed:
        return Span("✓ confirmed ", "good")
    if row.by_hand:
        return Span("added by you, open ", "doubt")
    sure = f"{percent(row.current.confidence)} sure "
    if doubt.needs_look(row):
        return Span(f"{DOUBT} {_CUT if doubt.bounds_doubtful(row) else ''}{sure}", "doubt")
    return Span(f"{_CUT if doubt.bounds_doubtful(row) else 'open, '}{sure}", "bar")


_CUT = "start or end unsure, "
"""Of a row whose rep may begin or end elsewhere."""


def percent(share: float) -> str:
    """A share as whole per cent, rounded down: what is not certain is never shown as 100."""
    return f"{int(100 * share + 1e-9)} %"


def field_lines(session: Session, width: int) -> list[Line]:
    """The slots in two columns, the one under the cursor marked."""
    left = [slot for slot in SLOTS if not slot.right]
    right = [slot for slot in SLOTS if slot.right]
    half = width // 2
    lines = []
    for place in range(max(len(left), len(right))):
        cellsline: list[Span] = []
        for column, room in ((left, half), (right, width - half)):
            if place < len(column):
                cellsline += slot_spans(session, column[place], room)
            else:
                cellsline.append(Span(" " * room))
        lines.append(tuple(cellsline))
    return lines


def slot_spans(session: Session, slot: Slot, width: int) -> Line:
    """One slot in exactly `width` columns: cursor, sign, key, label, value."""
    row = session.row
    here = slot.id == session.slot_id
    tag = ("slot", slot.id)
    sign, style = sign_of(row, slot) if row else (" ", "")
    value = slot_value(session, slot, width - LABEL - 6) if row else ""
    shown = value or NOTHING
    line = (
        Span("›" if here else " ", "cursor" if here else "", tag),
        Span(sign, style, tag),
        Span(f"{slot.key} ", "key", tag),
        Span(padded(slot.label, LABEL), "label", tag),
        Span(shown, _value_style(row, slot, value), tag),
    )
    return _filled(line, width, tag, here)


def _filled(line: Sequence[Span], width: int, tag: Tag, here: bool) -> Line:
    """A line in exactly `width` columns, as one thing to click on, marked when the cursor is there."""
    short = fitted(line, width)
    whole = (*short, Span(" " * (width - width_of(short)), "", tag))
    return tuple(Span(s.text, f"{s.style} here".strip(), s.tag) for s in whole) if here else whole


def _value_style(row: StoredRow | None, slot: Slot, value: str) -> str:
    if not value or row is None:
        return "nothing"
    if slot.kind in {"verdict", "mark"}:
        good = {"win": "good", "+": "good", "loss": "bad", "-": "bad"}
        return good.get(getattr(row.current, slot.field), "")
    return "guess" if doubt.inferred(row, slot) else ""


def sign_of(row: StoredRow, slot: Slot) -> tuple[str, str]:
    """The sign before a field and its style."""
    if doubt.decided(row, slot):
        return FIXED, "fixed"
    if doubt.sureness(row, slot) < doubt.LOOK_BELOW:
        return DOUBT, "doubt"
    return (GUESS, "guess") if doubt.inferred(row, slot) else (" ", "")


def slot_value(session: Session, slot: Slot, width: int) -> str:
    """What stands in a slot, with names beside numbers where there is room."""
    row = session.row
    if row is None:
        return ""
    words = plain(slots.words_for(slot, row.current))
    if slot.kind in {"man", "men"}:
        side = "own" if slot.kind == "man" else "opp"
        held = row.current.opponents if slot.many else [row.current.player or ""]
        named = ", ".join(f"{plain(n)} {lineup.name_of(session.roster, n, side)}".strip() for n in held)
        words = named if cells(named) <= width else words
    return clipped(words, width)


def detail_lines(session: Session, width: int) -> list[Line]:
    """The slot under the cursor in full: its value, how sure, what was heard and read for it."""
    row = session.row
    if row is None:
        return []
    slot = session.slot
    lines = [fitted(_stands(session, row, slot), width)]
    said = said_line(row, slot)
    if said:
        lines += wrapped(said, width, "said-line")
    if row.comment:
        lines.append(fitted((Span("your note: ", "label"), Span(plain(row.comment))), width))
    return lines


def _stands(session: Session, row: StoredRow, slot: Slot) -> Line:
    value = slot_value(session, slot, 200) or "nothing"
    return (Span(f"{slot.label}: ", "label"), Span(value, "strong"), Span(f"   {_how(row, slot)}", "how"))


def _how(row: StoredRow, slot: Slot) -> str:
    if doubt.decided(row, slot):
        if row.first is None:
            return "given by you"
        return f"fixed by you, was {plain(slots.words_for(slot, row.first)) or 'nothing'}"
    if row.confirmed:
        return "confirmed by you"
    parts = []
    if slots.words_for(slot, row.current):
        sure = doubt.sureness(row, slot)
        if sure < 1:
            parts.append(f"{percent(sure)} sure")
        if doubt.inferred(row, slot):
            parts.append("inferred, not said")
    elif doubt.sureness(row, slot) < doubt.LOOK_BELOW:
        parts.append("nothing read, and not sure of it")
    return ", ".join(parts)


def said_line(row: StoredRow, slot: Slot) -> str:
    """The words that a slot was read from; where they were heard otherwise, both."""
    evidence = {(e.start, e.end): e for name in slot.fields for e in row.current.evidence.get(name, ())}
    parts = []
    for each in evidence.values():
        heard, read = plain(each.heard), plain(each.read)
        both = f"“{read}”" if heard == read else f"heard “{heard}”, read “{read}”"
        parts.append(f"{both} {clock(each.start)}")
    return "said: " + "; ".join(parts) if parts else ""


def list_lines(session: Session, width: int) -> list[Line]:
    """All rows of the note, one a line: how each stands, rep, man, verdict."""
    return [_list_line(session, row, width) for row in session.rows]


def _list_line(session: Session, row: StoredRow, width: int) -> Line:
    sign, style = ("✓", "good") if row.confirmed else (DOUBT, "doubt") if doubt.needs_look(row) else (" ", "")
    here = row.id == session.row_id
    tag = ("row", row.id)
    verdict = row.current.verdict
    name = lineup.name_of(session.roster, row.current.player, "own").split(" ")[-1]
    room = max(0, width - 22)
    line = (
        Span("›" if here else " ", "cursor", tag),
        Span(f"{sign} ", style, tag),
        Span(f"{row.current.rep:>3} {plain(row.current.player or '–'):>2} ", "", tag),
        Span(padded(name, room), "", tag),
        Span(padded(f" {slots.value_words(BY_ID['verdict'], verdict)}", 10), _LIST_STYLE[verdict], tag),
        Span(FIXED if row.corrected else " ", "fixed", tag),
    )
    return _filled(line, width, tag, here)


_LIST_STYLE = {"win": "good", "loss": "bad", "neutral": ""}


MESSAGE_LINES = 3
"""A message is never longer on the screen; its end is cut."""


def message_lines(text: str, warning: bool, width: int) -> list[Line]:
    """What just happened, on as many lines as it takes; a warning has its sign."""
    style, sign = ("warn", "! ") if warning else ("message", "")
    lines = wrapped(f"{sign}{plain(text)}", width - 1, style)
    if len(lines) > MESSAGE_LINES:
        rest = " ".join(span.text for line in lines[MESSAGE_LINES - 1 :] for span in line)
        lines = [*lines[: MESSAGE_LINES - 1], (Span(clipped(rest, width - 1), style),)]
    return [(Span(" "), *line) for line in lines] or [()]


def above_lines(session: Session, confidence: float, width: int) -> list[Line]:
    """The rows that a confidence would confirm, the least sure first."""
    rows = sorted(session.above(confidence), key=lambda row: row.current.confidence)
    if not rows:
        return [(Span("No row left is so sure.", "dim"),)]
    return [
        fitted(
            (
                Span(f"{percent(row.current.confidence):>5}  rep {row.current.rep:>3}  ", "dim"),
                Span(f"{who_words(row, session.roster)}  ", "strong"),
                Span(slots.words_for(BY_ID["verdict"], row.current), _LIST_STYLE[row.current.verdict]),
                Span(f"  {plain(', '.join((*row.current.techniques, *row.current.faults)))}", "dim"),
            ),
            width,
        )
        for row in rows
    ]
