"""One note of a library with everything that hangs on it, and which of it another library has too.

Ids mean nothing outside their own file. What makes two records the same:
reading: its digest. Action: moment, kind and what it wrote (`Act.key`). Row: what a shared reading said
of it, or the action that added it by hand; else, where the two were read differently, the time and the
player (`reread.match_rows`). Rep: how a shared reading cut it, the action that made it, or its rows.
"""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from reviewer.records import GradeRow
from reviewer.store.codec import dump, load
from reviewer.store.fold import Cell, NoteState
from reviewer.store.journal import state_of
from reviewer.store.library import Library

Key = tuple[Any, ...]


@dataclass(frozen=True)
class Act:
    """One action of the log. changes: (cell, old, new) as stored. key: the same in every library."""

    id: int
    kind: str
    at: str
    who: str
    undone: int
    changes: tuple[tuple[Cell, str, str | None], ...]
    key: Key

    @property
    def cells(self) -> frozenset[Cell]:
        """What it wrote."""
        return frozenset(cell for cell, _, _ in self.changes)


@dataclass(frozen=True)
class Event:
    """One do, undo or redo of an action (its id)."""

    action: int
    what: str
    at: str
    who: str


@dataclass(frozen=True)
class Side:
    """A note as one library holds it. cuts, grades: by rep and row, as (reading id, JSON text)."""

    library: Library
    note: int
    readings: Mapping[int, tuple[Any, ...]]
    reps: Mapping[int, float]
    cuts: Mapping[int, tuple[tuple[int, str], ...]]
    rows: Mapping[int, tuple[int, int, int, str | None]]
    grades: Mapping[int, tuple[tuple[int, str], ...]]
    acts: tuple[Act, ...]
    events: tuple[Event, ...]

    def digest(self, reading: int) -> str:
        """What tells a reading from others."""
        return str(self.readings[reading][0])

    @property
    def state(self) -> NoteState:
        """The note as it stands."""
        return state_of(self.library, self.note)


def side_of(library: Library, note: int) -> Side:
    """Load a note."""
    db = library.connection
    return Side(
        library,
        note,
        {
            number: tuple(rest)
            for number, *rest in db.execute(
                "SELECT id, digest, model, settings, created, words, mends, remarks FROM reading "
                "WHERE note_id = ? ORDER BY id",
                (note,),
            )
        },
        dict(db.execute("SELECT id, position FROM rep WHERE note_id = ? ORDER BY id", (note,))),
        _grouped(
            db.execute(
                "SELECT rep_id, reading_id, stretches FROM rep_reading JOIN rep ON rep.id = rep_id "
                "WHERE note_id = ? ORDER BY rep_id, reading_id",
                (note,),
            )
        ),
        {
            number: (rep, seq, shown, made)
            for number, rep, seq, shown, made in db.execute(
                "SELECT id, rep_id, seq, shown, made FROM grade_row WHERE note_id = ? ORDER BY id", (note,)
            )
        },
        _grouped(
            db.execute(
                "SELECT row_id, reading_id, grade FROM row_reading JOIN grade_row ON grade_row.id = row_id "
                "WHERE note_id = ? ORDER BY row_id, reading_id",
                (note,),
            )
        ),
        tuple(_acts(db, note)),
        tuple(
            Event(*record)
            for record in db.execute(
                "SELECT action_id, what, at, who FROM event WHERE note_id = ? ORDER BY revision", (note,)
            )
        ),
    )


def _grouped(records: Iterable[tuple[int, int, str]]) -> dict[int, tuple[tuple[int, str], ...]]:
    found: dict[int, tuple[tuple[int, str], ...]] = {}
    for number, reading, text in records:
        found[number] = (*found.get(number, ()), (reading, text))
    return found


def _acts(db: sqlite3.Connection, note: int) -> Iterator[Act]:
    changes: dict[int, list[tuple[Cell, str, str | None]]] = {}
    for action, subject, number, name, old, new in db.execute(
        "SELECT action_id, subject, subject_id, field, old, new FROM change_log "
        "WHERE note_id = ? ORDER BY id",
        (note,),
    ):
        changes.setdefault(action, []).append((Cell(subject, number, name), old, new))
    seen: Counter[Key] = Counter()
    for number, kind, at, who, undone in db.execute(
        "SELECT id, kind, at, who, undone FROM action WHERE note_id = ? ORDER BY id", (note,)
    ):
        wrote = tuple(changes.get(number, ()))
        key: Key = (at, kind, tuple(sorted(_plain(cell, new) for cell, _, new in wrote)))
        seen[key] += 1
        yield Act(number, kind, at, who, undone, wrote, (*key, seen[key]))


def _plain(cell: Cell, new: str | None) -> tuple[str, str, str]:
    # ids of reps and readings differ from library to library
    names_a_record = (cell.subject, cell.field) in (("row", "rep"), ("note", "reading"))
    return cell.subject, cell.field, "" if names_a_record else new or ""


@dataclass
class Ids:
    """Their ids to mine."""

    note: int
    readings: dict[int, int] = field(default_factory=dict)
    reps: dict[int, int] = field(default_factory=dict)
    rows: dict[int, int] = field(default_factory=dict)
    questions: dict[int, int] = field(default_factory=dict)

    def cell(self, cell: Cell) -> Cell:
        """Their cell as mine."""
        number = {
            "row": self.rows, "rep": self.reps, "question": self.questions,
        }.get(cell.subject, {cell.id: self.note})[cell.id]  # fmt: skip
        return Cell(cell.subject, number, cell.field)

    def value(self, cell: Cell, text: str | None) -> str | None:
        """Their stored value of a cell as mine."""
        if text is not None and (cell.subject, cell.field) == ("row", "rep"):
            return dump(self.reps[load(text)])
        if text is not None and (cell.subject, cell.field) == ("note", "reading"):
            return dump(self.readings[load(text)])
        return text


def matched(mine: Side, theirs: Side) -> Ids:
    """The ids of what both sides have."""
    ids = Ids(mine.note)
    here = {mine.digest(number): number for number in mine.readings}
    ids.readings = {n: here[theirs.digest(n)] for n in theirs.readings if theirs.digest(n) in here}
    ids.rows = _paired(_row_keys(mine), _row_keys(theirs))
    ids.reps = _paired(_rep_keys(mine), _rep_keys(theirs))
    _match_likely(ids, mine, theirs)
    for number, (rep, *_) in theirs.rows.items():
        if number in ids.rows and rep not in ids.reps:
            home = mine.rows[ids.rows[number]][0]
            if home not in ids.reps.values():
                ids.reps[rep] = home
    return ids


def _paired(mine: Mapping[Key, int], theirs: Mapping[Key, int]) -> dict[int, int]:
    pairs: dict[int, int] = {}
    for key, number in theirs.items():
        if key in mine and number not in pairs and mine[key] not in pairs.values():
            pairs[number] = mine[key]
    return pairs


def _row_keys(side: Side) -> dict[Key, int]:
    found: dict[Key, int] = {}
    seen: Counter[Key] = Counter()
    for number in side.rows:
        for reading, grade in side.grades.get(number, ()):
            _take(found, seen, ("read", side.digest(reading), grade), number)
    for key, number in _by_hand(side, "row", [n for n, row in side.rows.items() if row[3] is not None]):
        _take(found, seen, key, number)
    return found


def _rep_keys(side: Side) -> dict[Key, int]:
    found: dict[Key, int] = {}
    seen: Counter[Key] = Counter()
    for number in side.reps:
        for reading, stretches in side.cuts.get(number, ()):
            _take(found, seen, ("cut", side.digest(reading), stretches), number)
    for key, number in _by_hand(side, "rep", [n for n in side.reps if n not in side.cuts]):
        _take(found, seen, key, number)
    return found


def _take(found: dict[Key, int], seen: Counter[Key], key: Key, number: int) -> None:
    seen[key] += 1
    found[(*key, seen[key])] = number


def _by_hand(side: Side, subject: str, numbers: list[int]) -> Iterator[tuple[Key, int]]:
    """What an action added, named by that action."""
    first: dict[int, Key] = {}
    # a joined log may hold a decision on a row before the one that added it, but never on these values
    begun = {"row": "shown", "rep": "stretches"}[subject]
    for act in side.acts:
        for cell in act.cells:
            if cell.subject == subject and cell.field == begun:
                first.setdefault(cell.id, act.key)
    for number in numbers:
        if number in first:
            yield ("made", first[number]), number


def _match_likely(ids: Ids, mine: Side, theirs: Side) -> None:
    """Rows that only readings of one's own know, paired by time and player."""
    from reviewer.store.reread import match_rows

    shared = {mine.digest(n) for n in ids.readings.values()}
    state, taken = mine.state, set(ids.rows.values())
    old = [r for r in (*state.rows, *state.hidden) if r.id not in taken and _apart(mine, r.id, shared)]
    new = [n for n in theirs.grades if n not in ids.rows and _apart(theirs, n, shared)]
    if not old or not new:
        return
    grades = [GradeRow.model_validate_json(theirs.grades[n][-1][1]) for n in new]
    found = match_rows(old, grades, frozenset(row.id for row in state.rows))
    ids.rows.update({new[index]: row for row, index in found.items()})


def _apart(side: Side, row: int, shared: set[str]) -> bool:
    return all(side.digest(reading) not in shared for reading, _ in side.grades.get(row, ()))
