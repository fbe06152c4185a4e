"""Lists to choose one line from: what stands in them, as data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reviewer import store
from reviewer.review import actions, firsts
from reviewer.review.canvas import Line, Span, fitted, padded, width_of
from reviewer.review.plain import count, plain
from reviewer.review.session import Session
from reviewer.review.slots import BY_FIELD, SLOTS, slot_help, value_words, words_for
from reviewer.review.views import LEGEND, who_words
from reviewer.store import StoredRow


@dataclass(frozen=True, slots=True)
class Item:
    """One line. act: what choosing it gives back, None for a heading or a remark. key: a terminal key
    that chooses it at once, "" for none."""

    label: str
    about: str = ""
    act: Any = None
    key: str = ""


def item_lines(items: Sequence[Item], index: int, width: int) -> list[Line]:
    """The lines, the marked one lit."""
    keys = max((len(actions.shown_key(item.key)) for item in items if item.key), default=0)
    room = max((len(item.label) for item in items if item.act is not None), default=0)
    room = min(room, width - keys - 6)
    lines: list[Line] = []
    for place, item in enumerate(items):
        if item.act is None:
            lines.append(
                fitted((Span(plain(item.label), "heading"), Span(f"  {plain(item.about)}", "dim")), width)
            )
            continue
        here = " here" if place == index else ""
        tag = ("item", place)
        line = fitted(
            (
                Span("›" if here else " ", f"cursor{here}", tag),
                Span(f"{actions.shown_key(item.key):>{keys}} " if keys else "", f"key{here}", tag),
                Span(f"{padded(plain(item.label), room)}  ", here.strip(), tag),
                Span(plain(item.about), f"dim{here}", tag),
            ),
            width,
        )
        lines.append((*line, Span(" " * (width - width_of(line)), here.strip(), tag)))
    return lines


def first_choice(items: Sequence[Item]) -> int:
    """The first line that can be chosen."""
    return next((place for place, item in enumerate(items) if item.act is not None), 0)


def step(items: Sequence[Item], index: int, by: int) -> int:
    """The next line that can be chosen in a direction; the same one at the end."""
    place = index + by
    while 0 <= place < len(items):
        if items[place].act is not None:
            return place
        place += 1 if by > 0 else -1
    return index


def help_items(table: Sequence[actions.Action], slots: bool = False) -> list[Item]:
    """Every key of a screen, under headings; choosing one does it."""
    items: list[Item] = [Item("Signs", LEGEND)] if slots else []
    for heading, found in actions.by_heading(table).items():
        items.append(Item(heading))
        for action in found:
            more = ", ".join(actions.shown_key(key) for key in action.keys[1:])
            items.append(
                Item(action.help, f"also {more}" if more else "", ("act", action.id), action.keys[0])
            )
        if slots and heading == actions.ROW:
            items += [Item(slot_help(slot), "", ("slot", slot.id), slot.key) for slot in SLOTS]
    return items


def rep_items() -> list[Item]:
    """What can be done to the rep in hand."""
    return [Item(action.help, "", ("act", action.id), action.keys[0]) for action in actions.REP_MENU]


def row_items(session: Session) -> list[Item]:
    """Every row of the note."""
    return [_row_item(session, row) for row in session.rows]


def _row_item(session: Session, row: StoredRow) -> Item:
    sign = "✓" if row.confirmed else "?" if row.current.confidence < 0.8 else " "
    verdict = value_words(BY_FIELD["verdict"], row.current.verdict)
    about = "fixed" if row.corrected else ""
    return Item(
        f"{sign} rep {row.current.rep:>3}  {who_words(row, session.roster)}  {verdict}",
        about,
        ("row", row.id),
    )


def removed_items(session: Session) -> list[Item]:
    """The rows that were removed and can come back."""
    return [
        Item(
            f"{who_words(row, session.roster)}  {words_for(BY_FIELD['verdict'], row.current)}",
            "",
            ("row", row.id),
        )
        for row in session.state.hidden
    ]


def first_items(session: Session) -> list[Item]:
    """How the row was first read where it stands otherwise now. Raises InputError for a row by hand."""
    found = firsts.differences(session)
    if not found:
        return [Item("The row stands as the machine first read it.")]
    items = [Item("First read", "and what stands now; choose one to set it back")]
    items += [
        Item(
            f"{one.slot.label}: {one.first or 'nothing'}",
            f"now {one.now or 'nothing'}",
            ("slot", one.slot.id),
        )
        for one in found
    ]
    items.append(Item("Set the whole row back", "", ("row", None), "R"))
    return items


def question_items(session: Session) -> list[Item]:
    """What a new reading says otherwise than the coach decided: keep his, or take the reading's."""
    items: list[Item] = []
    for question in session.questions:
        row = session.state.row(question.row) or next(
            (r for r in session.state.hidden if r.id == question.row), None
        )
        where = f"Rep {row.current.rep}, {plain(row.current.player or 'no number')}" if row else "A new row"
        kept, read = _sides(question)
        items.append(Item(where, _question_about(question)))
        items.append(Item(f"keep yours: {kept}", "", (question.id, "mine")))
        items.append(Item(f"take the new reading: {read}", "", (question.id, "machine")))
    return items or [Item("No new reading differs from what you decided.")]


def _question_about(question: store.Question) -> str:
    names = {"row": "the new reading has one row more", "missing": "the new reading has nothing here"}
    slot = BY_FIELD.get(question.field)
    return names.get(question.field, slot.label if slot else question.field)


def _sides(question: store.Question) -> tuple[str, str]:
    if question.field == "row":
        return "leave it out", "show the row"
    if question.field == "missing":
        return "the row stays", "remove the row"
    slot = BY_FIELD.get(question.field)
    if slot is None or slot.kind == "situation":
        return str(question.kept), str(question.read)
    return value_words(slot, question.kept) or "nothing", value_words(slot, question.read) or "nothing"


def note_items(library: store.Library, now: int) -> list[Item]:
    """The notes, newest first, with the rows left in each."""
    items = []
    for note in store.notes(library, limit=300):
        left = note.rows - note.confirmed
        state = f"{left} of {count(note.rows, 'row')} left" if left else "all confirmed"
        here = ", open here" if note.id == now else ""
        items.append(Item(note.title, f"{state}{here}  {note.created[:10]}", note.id))
    return items
