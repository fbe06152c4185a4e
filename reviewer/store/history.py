"""What was decided about a row or a note, and when: the log, read back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from reviewer.store.codec import load
from reviewer.store.fold import Cell, Fold
from reviewer.store.journal import load_fold, note_of, revision_of
from reviewer.store.library import Library


@dataclass(frozen=True)
class Change:
    """One changed value in a history. `row` is None for a change of a rep or of the note.

    old, new: JSON values; `as_read` tells that `new` is what the machine read. undone: not in force.
    """

    id: int
    action: int
    kind: str
    note: int
    row: int | None
    rep: int | None
    field: str
    old: Any
    new: Any
    as_read: bool
    at: str
    who: str
    undone: bool


def history(library: Library, row: int) -> list[Change]:
    """All that was ever decided about a row, oldest first, undone decisions marked."""
    with library.reading():
        note_of(library, "grade_row", row)
        return _changes(library, "subject = 'row' AND subject_id = ?", (row,))


def note_history(library: Library, note: int) -> list[Change]:
    """All that was ever decided about a note, oldest first, undone decisions marked."""
    with library.reading():
        revision_of(library, note)
        return _changes(library, "note_id = ?", (note,))


def _changes(library: Library, condition: str, values: tuple[Any, ...]) -> list[Change]:
    query = (
        "SELECT id, action_id, kind, note_id, subject, subject_id, field, old, new, at, who, undone "
        f"FROM change_log WHERE {condition} ORDER BY id"
    )
    records = library.execute(query, values).fetchall()
    if not records:
        return []
    fold = load_fold(library, records[0][3])
    return [_change(record, fold) for record in records]


def _change(record: tuple[Any, ...], fold: Fold) -> Change:
    number, action, kind, note, subject, subject_id, field, old, new, at, who, undone = record
    value = fold.base(Cell(subject, subject_id, field)) if new is None else load(new)
    return Change(
        number, action, kind, note,
        subject_id if subject == "row" else None,
        subject_id if subject == "rep" else None,
        field, load(old), value, new is None, at, who, bool(undone),
    )  # fmt: skip
