"""What a coach does to rows. Every function is one undoable action and returns `Done`.

`seen` is the note's revision that the caller last saw (None: write whatever happened since);
see `journal.editing` for what is merged and what raises `Conflict`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from pydantic import ValidationError

from reviewer.errors import InputError
from reviewer.records import GRADE_FIELDS, LIST_FIELDS, GradeRow
from reviewer.store.codec import load, storable
from reviewer.store.fold import BASE, SPAN_FIELDS, Cell, StoredRow, mend_key
from reviewer.store.journal import Done, Edit, NotThere, editing, note_of, revision_of, state_of
from reviewer.store.library import Library
from reviewer.store.notes import insert_row


def set_fields(library: Library, row: int, values: Mapping[str, Any], *, seen: int | None = None) -> Done:
    """Correct fields of a row (names of GRADE_FIELDS). Raises InputError for a value that cannot stand."""
    with editing(library, note_of(library, "grade_row", row), "correct", seen) as edit:
        clean = checked(live_row(edit, row).current, values)
        edit.need(Cell("row", row, "deleted"))
        edit.set_row(row, **clean)
    return edit.done


def checked(row: GradeRow, values: Mapping[str, Any]) -> dict[str, Any]:
    """The values as they may stand in that row: trimmed, lists without repeats, "" as None.

    Raises InputError naming the field, what was given and what is allowed.
    """
    unknown = [name for name in values if name not in GRADE_FIELDS]
    if unknown:
        known = ", ".join(GRADE_FIELDS)
        raise InputError(f"A grade row has no field {unknown[0]!r} to correct; the fields are {known}.")
    tidy = {name: _tidy(name, value) for name, value in values.items()}
    try:
        valid = GradeRow.model_validate({**row.model_dump(), **tidy})
    except ValidationError as error:
        first = error.errors()[0]
        name = str(first["loc"][0])
        raise InputError(f"{values.get(name)!r} cannot stand in {name}: {first['msg'].lower()}.") from error
    return {name: getattr(valid, name) for name in tidy}


def _tidy(name: str, value: Any) -> Any:
    if name in LIST_FIELDS and isinstance(value, Iterable) and not isinstance(value, str):
        return list(dict.fromkeys(_text(item) for item in value if _text(item)))
    return _text(value) or None if isinstance(value, str) else value


def _text(value: Any) -> Any:
    """Trimmed text that can be stored (no half characters)."""
    return storable(value).strip() if isinstance(value, str) else value


def live_row(edit: Edit, row: int) -> StoredRow:
    """The row as it stands; InputError when it was deleted."""
    found = edit.fold.row(row)
    if found is None:
        raise NotThere(f"Row {row} is no longer in the note; undo its deletion first.")
    return found


def set_comment(library: Library, row: int, text: str, *, seen: int | None = None) -> Done:
    """Put the coach's own words on a row; "" takes them away."""
    with editing(library, note_of(library, "grade_row", row), "comment", seen) as edit:
        live_row(edit, row)
        edit.need(Cell("row", row, "deleted"))
        edit.set_row(row, comment=_text(text))
    return edit.done


def set_confirmed(library: Library, row: int, confirmed: bool = True, *, seen: int | None = None) -> Done:
    """Confirm a row as it was seen (a row changed elsewhere since is a Conflict), or take that back."""
    kind = "confirm" if confirmed else "unconfirm"
    with editing(library, note_of(library, "grade_row", row), kind, seen) as edit:
        live_row(edit, row)
        if confirmed:
            edit.need_row(row)
        edit.set_row(row, confirmed=confirmed)
    return edit.done


def above(library: Library, note: int, confidence: float) -> list[StoredRow]:
    """The rows that `confirm_above` would confirm: unconfirmed, machine-read, at least so sure."""
    return _above(state_of(library, note).rows, confidence)


def _above(rows: Iterable[StoredRow], confidence: float) -> list[StoredRow]:
    return [r for r in rows if not r.confirmed and not r.by_hand and r.current.confidence >= confidence]


def confirm_above(library: Library, note: int, confidence: float, *, seen: int | None = None) -> Done:
    """Confirm all rows of `above` in one action."""
    with editing(library, note, "confirm many", seen) as edit:
        for row in _above(edit.before.rows, confidence):
            edit.need_row(row.id)
            edit.set_row(row.id, confirmed=True)
    return edit.done


def add_row(
    library: Library, rep: int, values: Mapping[str, Any], *, seen: int | None = None
) -> tuple[int, Done]:
    """Add a row to a rep (a second player); returns its id. Its times are those of the rep's rows."""
    note = note_of(library, "rep", rep)
    with editing(library, note, "add row", seen) as edit:
        beside = edit.before.rows_of(rep)
        if not beside:
            raise NotThere(
                f"Rep {rep} is no longer in the note; add the row to another rep or undo its removal."
            )
        model = beside[0].current
        blank = GradeRow(rep=model.rep, start=model.start, end=model.end)
        grade = blank.model_copy(update=checked(blank, values))
        seq = max(row.seq for row in (*edit.before.rows, *edit.before.hidden)) + 1
        row = make_row(edit, rep, seq, grade)
    return row, edit.done


def make_row(edit: Edit, rep: int, seq: int, grade: GradeRow) -> int:
    """Insert a row by hand into the action; it is there only while the action is in force."""
    row = insert_row(edit.library.connection, edit.note, rep, seq, grade, None, shown=False)
    edit.reload()
    edit.set_row(row, shown=True)
    return row


def delete_row(library: Library, row: int, *, seen: int | None = None) -> Done:
    """Take a row out of the note. Its words stay; a rep without rows becomes talk outside reps."""
    with editing(library, note_of(library, "grade_row", row), "delete row", seen) as edit:
        live_row(edit, row)
        edit.need_row(row)
        edit.set_row(row, deleted=True)
    return edit.done


def deleted_rows(library: Library, note: int) -> list[StoredRow]:
    """The rows a coach deleted, which `restore_row` can bring back."""
    return list(state_of(library, note).hidden)


def first_reading(library: Library, row: int) -> GradeRow | None:
    """What the machine read first for a row; None for a row added by hand."""
    state = state_of(library, note_of(library, "grade_row", row))
    return next((r.first for r in (*state.rows, *state.hidden) if r.id == row), None)


def restore_first(library: Library, row: int, *, seen: int | None = None) -> Done:
    """Set every field of a row back to the machine's first reading (InputError for a row added by hand)."""
    with editing(library, note_of(library, "grade_row", row), "restore first", seen) as edit:
        stored = live_row(edit, row)
        if stored.first is None:
            raise InputError(
                "This row was added by hand, so there is no first reading to go back to; "
                "delete it or correct it."
            )
        edit.need_row(row)
        for name in GRADE_FIELDS:
            first = getattr(stored.first, name)
            same = stored.machine is not None and getattr(stored.machine, name) == first
            edit.set_row(row, **{name: BASE if same else first})
    return edit.done


def refuse_mend(library: Library, note: int, heard: str, read: str, *, seen: int | None = None) -> Done:
    """Turn a mend back to what was heard, for this note and this wording, in later readings too."""
    return _mend(library, note, heard, read, True, seen)


def allow_mend(library: Library, note: int, heard: str, read: str, *, seen: int | None = None) -> Done:
    """Take a refusal back."""
    return _mend(library, note, heard, read, False, seen)


def _mend(library: Library, note: int, heard: str, read: str, refused: bool, seen: int | None) -> Done:
    with editing(library, note, "refuse mend" if refused else "allow mend", seen) as edit:
        edit.write(Cell("mend", note, mend_key(heard, read)), refused)
    return edit.done


def refused_mends(library: Library, note: int) -> frozenset[tuple[str, str]]:
    """The refused wordings of a note as (heard, read), in lower case: what a new reading must not mend."""
    return state_of(library, note).refused


@dataclass(frozen=True)
class Question:
    """Where a new reading and the coach differ; the coach's stands until he settles it.

    field: a grade field; "row": the reading has a row that is not shown; "missing": the reading
    has nothing there any more. kept, read: the value that stands and the value read.
    """

    id: int
    note: int
    row: int
    field: str
    kept: Any
    read: Any


def open_questions(library: Library, note: int) -> list[Question]:
    """What new readings left open in a note."""
    with library.reading() as db:
        revision_of(library, note)
        found = db.execute(
            """
            SELECT question.id, question.note_id, row_id, field, kept, read FROM question
            JOIN action ON action.id = action_id AND undone = 0
            WHERE question.note_id = ? AND NOT coalesce(
                (SELECT new = 'true' FROM change_log WHERE subject = 'question' AND subject_id = question.id
                 AND undone = 0 ORDER BY id DESC LIMIT 1), 0)
            ORDER BY question.id
            """,
            (note,),
        ).fetchall()
    return [Question(*(*record[:4], load(record[4]), load(record[5]))) for record in found]


def settle(
    library: Library, question: int, take: Literal["mine", "machine"], *, seen: int | None = None
) -> Done:
    """Settle a question: keep the coach's value, or take what the new reading says."""
    with library.reading() as db:
        found = db.execute(
            "SELECT note_id, row_id, field, read FROM question WHERE id = ?", (question,)
        ).fetchone()
    if found is None:
        raise InputError(f"There is no open question {question}; look at the note again.")
    note, row, field, read = found
    with editing(library, note, "settle", seen) as edit:
        edit.write(Cell("question", question, "settled"), True)
        if take == "machine":
            edit.need(Cell("row", row, field))
            _take(edit, row, field, load(read))
    return edit.done


def _take(edit: Edit, row: int, field: str, read: Any) -> None:
    if field == "row":
        edit.set_row(row, shown=True)
    elif field == "missing":
        edit.set_row(row, deleted=True)
    elif field in GRADE_FIELDS or field in SPAN_FIELDS:
        edit.set_row(row, **{field: read})
