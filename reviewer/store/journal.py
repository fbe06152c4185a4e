"""The log of what was decided about a note: actions, undo, redo, conflicts.

Invariants:
- An action is one step of undo; its changes are never altered, only its `undone` mark
  (0 in force, 1 undone and can come back, 2 undone and passed over by a later action).
- Of one note, every action marked 1 is newer than every action marked 0.
- A note's revision counts its events (do, undo, redo), one each.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from reviewer.errors import InputError, LibraryError
from reviewer.records import GRADE_FIELDS
from reviewer.store.codec import dump, load, load_row, load_stretches
from reviewer.store.fold import BASE, BaseRep, BaseRow, Cell, Facts, Fold, NoteState
from reviewer.store.library import Library

REREAD = "read again"
"""The kind of action that puts a new reading in force."""


@dataclass(frozen=True)
class Done:
    """What a write did. `revision`: of the note, after it. `action`: None when nothing had to change.

    rows: ids of the rows it touched, where to land first. merged: another window had written since
    the revision that was seen, and both kept their work.
    """

    note: int
    revision: int
    action: int | None
    kind: str
    rows: tuple[int, ...] = ()
    merged: bool = False


@dataclass(frozen=True)
class Clash:
    """One value that was changed elsewhere. `row` as in `Change`; `yours` None where none was given."""

    row: int | None
    field: str
    theirs: Any
    yours: Any
    at: str
    who: str


class Conflict(LibraryError):
    """The note was changed elsewhere in a way that clashes; nothing was written.

    note, revision: where it stands now. clashes: what was changed.
    """

    def __init__(self, message: str, note: int, revision: int, clashes: tuple[Clash, ...]) -> None:
        super().__init__(message)
        self.note = note
        self.revision = revision
        self.clashes = clashes


def revision_of(library: Library, note: int) -> int:
    """The note's revision. Raises InputError when there is no such note."""
    with library.reading() as db:
        found = db.execute("SELECT revision FROM note WHERE id = ?", (note,)).fetchone()
    if found is None:
        raise InputError(f"There is no note {note} in the grade book; list the notes to see their numbers.")
    return int(found[0])


def note_of(library: Library, table: str, number: int) -> int:
    """The note that a row ("grade_row") or rep ("rep") belongs to."""
    with library.reading() as db:
        found = db.execute(f"SELECT note_id FROM {table} WHERE id = ?", (number,)).fetchone()
    if found is None:
        name = "row" if table == "grade_row" else table
        raise InputError(f"There is no {name} {number} in the grade book; look at the note again.")
    return int(found[0])


def load_facts(library: Library, note: int) -> Facts:
    """What was read and made of a note, before any change."""
    db = library.connection
    readings: dict[int, list[tuple[int, Any]]] = {}
    for row, reading, grade in db.execute(
        "SELECT row_id, reading_id, grade FROM row_reading JOIN grade_row ON id = row_id WHERE note_id = ? "
        "ORDER BY reading_id",
        (note,),
    ):
        readings.setdefault(row, []).append((reading, load_row(grade)))
    rows = tuple(
        BaseRow(row, rep, seq, bool(shown), load_row(made) if made else None, tuple(readings.get(row, ())))
        for row, rep, seq, shown, made in db.execute(
            "SELECT id, rep_id, seq, shown, made FROM grade_row WHERE note_id = ? ORDER BY id", (note,)
        )
    )
    cuts: dict[int, list[tuple[int, Any]]] = {}
    for rep, reading, stretches in db.execute(
        "SELECT rep_id, reading_id, stretches FROM rep_reading JOIN rep ON id = rep_id WHERE note_id = ? "
        "ORDER BY reading_id",
        (note,),
    ):
        cuts.setdefault(rep, []).append((reading, load_stretches(load(stretches))))
    reps = tuple(
        BaseRep(rep, order, tuple(cuts.get(rep, ())))
        for rep, order in db.execute("SELECT id, position FROM rep WHERE note_id = ? ORDER BY id", (note,))
    )
    first = db.execute("SELECT min(id) FROM reading WHERE note_id = ?", (note,)).fetchone()[0]
    return Facts(note, first, rows, reps)


def load_overrides(library: Library, note: int) -> dict[Cell, Any]:
    """The newest change in force of every cell."""
    return {
        Cell(subject, number, field): BASE if new is None else load(new)
        for subject, number, field, new in library.execute(
            "SELECT subject, subject_id, field, new FROM change_log "
            "WHERE note_id = ? AND undone = 0 ORDER BY id",
            (note,),
        )
    }


def load_fold(library: Library, note: int) -> Fold:
    """The note's cells, current."""
    return Fold(load_facts(library, note), load_overrides(library, note))


def state_of(library: Library, note: int) -> NoteState:
    """The note folded from its log (the derived tables are not asked)."""
    with library.reading():
        revision_of(library, note)
        return load_fold(library, note).state()


class NotThere(InputError):
    """What an action works on is not, or no longer, in the note."""


class Edit:
    """One action in the making: collects new values, then writes them all or none."""

    def __init__(self, library: Library, note: int, kind: str, seen: int | None) -> None:
        self.library = library
        self.note = note
        self.kind = kind
        self.revision = revision_of(library, note)
        self.fold = self._was = load_fold(library, note)
        self.done = Done(note, self.revision, None, kind)
        self._writes: dict[Cell, Any] = {}
        self._pins: set[Cell] = set()
        self._decided: set[Cell] = set()
        self._needs: set[Cell] = {Cell("note", note, "reading")}
        self._moved = {} if seen is None else _moved_since(library, note, seen, self.revision)

    @cached_property
    def before(self) -> NoteState:
        """The note as it stood before the action."""
        return self._was.state()

    def write(self, cell: Cell, value: Any) -> None:
        """Give a cell a new value (`BASE`: as read)."""
        self._writes[cell] = value

    def pin(self, cell: Cell, value: Any) -> None:
        """Hold a value although it is what is read now: another reading comes under it."""
        self._pins.add(cell)
        self.write(cell, value)

    def decide(self, cell: Cell, value: Any) -> None:
        """Write a value even where it stands already: that it stands was decided anew."""
        self._decided.add(cell)
        self.write(cell, value)

    def set_row(self, row: int, **values: Any) -> None:
        """Give cells of a row new values."""
        for name, value in values.items():
            self.write(Cell("row", row, name), value)

    def need(self, *cells: Cell) -> None:
        """The action rests on these values being as they were seen."""
        self._needs.update(cells)

    def need_row(self, row: int) -> None:
        """The action rests on the whole row being as it was seen."""
        self.need(*(Cell("row", row, name) for name in (*GRADE_FIELDS, "deleted", "rep", "comment")))

    def reload(self) -> None:
        """Take in rows and reps that were inserted for this action."""
        self.fold = load_fold(self.library, self.note)

    def value(self, cell: Cell) -> Any:
        """The cell's value as it would stand after what was written so far."""
        if cell not in self._writes:
            return self.fold.value(cell)
        new = self._writes[cell]
        return self.fold.base(cell) if new is BASE else new

    def commit(self) -> int | None:
        """Check against other windows, then write. Returns the action's id, None if nothing changes."""
        self.check()
        changed = {cell: value for cell, value in self._writes.items() if self._differs(cell, value)}
        if not changed:
            self.done = Done(self.note, self.revision, None, self.kind, self._rows(), bool(self._moved))
            return None
        db, at = self.library.connection, self.library.now()
        db.execute("UPDATE action SET undone = 2 WHERE note_id = ? AND undone = 1", (self.note,))
        action = db.execute(
            "INSERT INTO action (note_id, kind, at, who) VALUES (?, ?, ?, ?)",
            (self.note, self.kind, at, self.library.who),
        ).lastrowid
        assert action is not None
        db.executemany(
            "INSERT INTO change (action_id, subject, subject_id, field, old, new) VALUES (?, ?, ?, ?, ?, ?)",
            [
                (action, *cell, dump(self.fold.value(cell)), None if value is BASE else dump(value))
                for cell, value in changed.items()
            ],
        )
        revision = _record_event(self.library, self.note, action, "do")
        self.done = Done(self.note, revision, action, self.kind, self._rows(), bool(self._moved))
        _refresh(self.library, self.fold.after(changed), changed)
        return action

    def _differs(self, cell: Cell, value: Any) -> bool:
        if cell in self._decided:
            return True
        if value is BASE:
            return cell in self.fold.overrides
        if cell in self._pins and cell not in self.fold.overrides:
            return True
        return dump(self.fold.value(cell)) != dump(value)

    def _rows(self) -> tuple[int, ...]:
        return tuple(dict.fromkeys(cell.id for cell in self._writes if cell.subject == "row"))

    def check(self) -> None:
        """Raise Conflict when another window changed what this action writes or rests on."""
        clashes = []
        for cell in {*self._needs, *self._writes} & set(self._moved):
            yours = self._writes.get(cell)
            yours = self.fold.base(cell) if yours is BASE else yours
            theirs = self.fold.value(cell)
            if cell in self._needs or dump(theirs) != dump(yours):
                at, who = self._moved[cell]
                row = cell.id if cell.subject == "row" else None
                clashes.append(Clash(row, cell.field, theirs, yours, at, who))
        if clashes:
            raise _conflict(self.note, self.revision, clashes, self.before)

    def blame(self) -> None:
        """Raise Conflict when another window changed the note at all."""
        if self._moved:
            raise _conflict(self.note, self.revision, _clashes(self._moved, self.fold), self.before)


@contextmanager
def editing(library: Library, note: int, kind: str, seen: int | None) -> Iterator[Edit]:
    """One undoable action on a note.

    seen: the revision that the writer last saw, None to write whatever happened since. Work done
    elsewhere since then is merged where it touches other values, else `Conflict` is raised.
    """
    with library.writing():
        edit = Edit(library, note, kind, seen)
        try:
            yield edit
        except NotThere:
            edit.blame()
            raise
        edit.commit()


def undo(library: Library, note: int, *, seen: int | None = None) -> Done | None:
    """Take back the newest action in force. None when there is nothing to undo."""
    query = "SELECT max(id) FROM action WHERE note_id = ? AND undone = 0"
    return _step(library, note, seen, query, "undo")


def redo(library: Library, note: int, *, seen: int | None = None) -> Done | None:
    """Bring back the action undone last. None when there is nothing to redo."""
    query = "SELECT min(id) FROM action WHERE note_id = ? AND undone = 1"
    return _step(library, note, seen, query, "redo")


def can_undo(library: Library, note: int) -> tuple[str | None, str | None]:
    """The kinds of action that `undo` and `redo` would take, None where there is none."""
    query = "SELECT kind FROM action WHERE note_id = ? AND undone = ? ORDER BY id {} LIMIT 1"
    with library.reading() as db:
        back = db.execute(query.format("DESC"), (note, 0)).fetchone()
        again = db.execute(query.format("ASC"), (note, 1)).fetchone()
    return (back[0] if back else None, again[0] if again else None)


def _step(library: Library, note: int, seen: int | None, query: str, what: str) -> Done | None:
    with library.writing() as db:
        revision = revision_of(library, note)
        if seen is not None and (moved := _moved_since(library, note, seen, revision)):
            fold = load_fold(library, note)
            raise _conflict(note, revision, _clashes(moved, fold), fold.state())
        action = db.execute(query, (note,)).fetchone()[0]
        if action is None:
            return None
        db.execute("UPDATE action SET undone = ? WHERE id = ?", (int(what == "undo"), action))
        (kind,) = db.execute("SELECT kind FROM action WHERE id = ?", (action,)).fetchone()
        query = "SELECT subject, subject_id, field FROM change WHERE action_id = ? ORDER BY id"
        cells = [Cell(*cell) for cell in db.execute(query, (action,))]
        revision = _record_event(library, note, action, what)
        _refresh(library, load_fold(library, note), cells)
        rows = tuple(dict.fromkeys(cell.id for cell in cells if cell.subject == "row"))
        return Done(note, revision, action, kind, rows)


def _record_event(library: Library, note: int, action: int, what: str) -> int:
    db = library.connection
    db.execute("UPDATE note SET revision = revision + 1 WHERE id = ?", (note,))
    (revision,) = db.execute("SELECT revision FROM note WHERE id = ?", (note,)).fetchone()
    db.execute(
        "INSERT INTO event (note_id, revision, action_id, what, at, who) VALUES (?, ?, ?, ?, ?, ?)",
        (note, revision, action, what, library.now(), library.who),
    )
    return int(revision)


def _moved_since(library: Library, note: int, seen: int, revision: int) -> dict[Cell, tuple[str, str]]:
    """The cells changed after a revision, each with when and by whom last."""
    if not 0 <= seen <= revision:
        raise InputError(
            f"Revision {seen} of note {note} does not exist (it is at {revision}); load the note again."
        )
    return {
        Cell(subject, number, field): (at, who)
        for subject, number, field, at, who in library.execute(
            "SELECT subject, subject_id, field, at, who FROM event JOIN change USING (action_id) "
            "WHERE note_id = ? AND revision > ? ORDER BY revision",
            (note, seen),
        )
    }


def _clashes(moved: dict[Cell, tuple[str, str]], fold: Fold) -> list[Clash]:
    return [
        Clash(cell.id if cell.subject == "row" else None, cell.field, fold.value(cell), None, at, who)
        for cell, (at, who) in moved.items()
    ]


def _conflict(note: int, revision: int, clashes: list[Clash], state: NoteState) -> Conflict:
    clashes.sort(key=lambda clash: (clash.at, clash.row or 0, clash.field))
    last = clashes[-1]
    rows = {row.id: row for row in (*state.rows, *state.hidden)}
    row = rows.get(last.row) if last.row is not None else None
    where = f"rep {row.current.rep}" if row is not None else "the note"
    more = f" and {len(clashes) - 1} more" if len(clashes) > 1 else ""
    message = (
        f"Another window changed this note: {last.field} of {where}{more} "
        f"({last.who}, {last.at[11:16]} UTC); nothing of yours was written, look at it again and repeat."
    )
    return Conflict(message, note, revision, tuple(clashes))


def _refresh(library: Library, fold: Fold, cells: Iterable[Cell]) -> None:
    from reviewer.store.derive import refresh

    refresh(library, fold, cells)
