"""The current state of a note: what the machine read, with the coach's changes laid over it.

Pure functions, no SQL. The state is made of cells, each (subject, id, field) with one value. A
cell's base value comes from the readings; a change gives it another one, or `BASE` to fall back.
The current value of a cell is the newest change that is not undone, else the base:

    row:      every field of GRADE_FIELDS, start, end, rep, seq, shown, deleted, confirmed, comment
    rep:      stretches, order, placed (put in its order by hand), held (cut by hand: a later reading
              may not cut it anew)
    note:     reading (the id of the reading in force)
    mend:     subject id = note, field = JSON [heard, read]: True where the mend is refused
    question: settled
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from typing import Any, Final, NamedTuple

from reviewer.records import GRADE_FIELDS, LIST_FIELDS, GradeRow, Word
from reviewer.store.codec import Stretches, dump, load, load_stretches

SPAN_FIELDS: Final = ("start", "end")


class _Base(Enum):
    BASE = "base"


BASE: Final = _Base.BASE
"""As a change's new value: what the machine read holds again."""


class Cell(NamedTuple):
    """One value of a note's state."""

    subject: str
    id: int
    field: str


@dataclass(frozen=True)
class BaseRow:
    """A row before any change. `made`: the values of a row added by hand. `readings`: (reading id, row)."""

    id: int
    rep: int
    seq: int
    shown: bool
    made: GradeRow | None
    readings: tuple[tuple[int, GradeRow], ...] = ()

    def known(self, reading: int) -> list[GradeRow]:
        """What the machine read for it, up to the reading in force, oldest first."""
        return [row for number, row in self.readings if number <= reading]

    def read(self, reading: int) -> GradeRow | None:
        """What the machine read for it, in the reading in force or the last one that saw it."""
        known = self.known(reading)
        return known[-1] if known else None


@dataclass(frozen=True)
class BaseRep:
    """A rep before any change. `order` is the second at which its talk begins."""

    id: int
    order: float
    readings: tuple[tuple[int, Stretches], ...] = ()

    def read(self, reading: int) -> Stretches:
        """The stretches in the reading in force or the last one that saw it."""
        known = [stretches for number, stretches in self.readings if number <= reading]
        return known[-1] if known else ()


@dataclass(frozen=True)
class Facts:
    """Everything of a note that no change ever touches. `reading` is the first reading's id."""

    note: int
    reading: int
    rows: tuple[BaseRow, ...]
    reps: tuple[BaseRep, ...]


@dataclass(frozen=True)
class StoredRow:
    """A row as it stands.

    current: the row now; evidence only of the fields that are as read. first: the machine's first
    reading, None for a row added by hand. machine: the reading in force, None likewise.
    corrected: the fields that differ from the machine's reading in force (all given ones of a row
    added by hand). comment: the coach's own words, "" for none. start, end: seconds.
    """

    id: int
    note: int
    rep_id: int
    seq: int
    current: GradeRow
    first: GradeRow | None
    machine: GradeRow | None
    confirmed: bool
    corrected: frozenset[str]
    comment: str = ""

    @property
    def start(self) -> float:
        """Second at which the talk about it begins."""
        return self.current.start

    @property
    def end(self) -> float:
        """Second at which the talk about it ends."""
        return self.current.end

    @property
    def by_hand(self) -> bool:
        """True for a row that no machine read."""
        return self.first is None


@dataclass(frozen=True)
class RepState:
    """A rep as it stands; `number` counts live reps from 1, 0 for one without rows."""

    id: int
    number: int
    order: float
    stretches: Stretches
    held: bool


@dataclass(frozen=True)
class NoteState:
    """A note as it stands. `rows` are in order (rep, then as spoken); `hidden` holds deleted rows."""

    note: int
    reading: int
    rows: tuple[StoredRow, ...]
    hidden: tuple[StoredRow, ...]
    reps: tuple[RepState, ...]
    refused: frozenset[tuple[str, str]]
    retired: frozenset[int] = field(default=frozenset())

    def row(self, row: int) -> StoredRow | None:
        """The live row of that id."""
        return next((r for r in self.rows if r.id == row), None)

    def rep(self, rep: int) -> RepState | None:
        """The rep of that id, live or not."""
        return next((r for r in self.reps if r.id == rep), None)

    def rows_of(self, rep: int) -> list[StoredRow]:
        """The live rows of a rep."""
        return [r for r in self.rows if r.rep_id == rep]


_BLANK: Final = GradeRow(rep=1, start=0, end=0)


class Fold:
    """The cells of one note: base values and changes."""

    def __init__(self, facts: Facts, overrides: Mapping[Cell, Any]) -> None:
        self.facts = facts
        self.overrides = {cell: value for cell, value in overrides.items() if value is not BASE}
        self._rows = {row.id: row for row in facts.rows}
        self._changes: dict[int, dict[str, Any]] = {}
        for cell, value in self.overrides.items():
            if cell.subject == "row" and (cell.field in GRADE_FIELDS or cell.field in SPAN_FIELDS):
                self._changes.setdefault(cell.id, {})[cell.field] = value
        self._reps = {rep.id: rep for rep in facts.reps}

    @property
    def reading(self) -> int:
        """The reading in force."""
        return int(self.overrides.get(Cell("note", self.facts.note, "reading"), self.facts.reading))

    def after(self, changes: Mapping[Cell, Any]) -> Fold:
        """The same note with further changes."""
        return Fold(self.facts, {**self.overrides, **changes})

    def value(self, cell: Cell) -> Any:
        """The current value of a cell, as JSON data."""
        if cell in self.overrides:
            return self.overrides[cell]
        return self.base(cell)

    def base(self, cell: Cell) -> Any:
        """The value of a cell without changes, as JSON data."""
        if cell.subject == "row":
            return self._base_of_row(self._rows[cell.id], cell.field)
        if cell.subject == "rep":
            rep = self._reps[cell.id]
            if cell.field == "stretches":
                return [list(stretch) for stretch in rep.read(self.reading)]
            return rep.order if cell.field == "order" else False
        return self.facts.reading if cell.field == "reading" else False

    def _base_of_row(self, row: BaseRow, name: str) -> Any:
        if name in GRADE_FIELDS or name in SPAN_FIELDS:
            return getattr(self._read_or_made(row), name)
        return {"rep": row.rep, "seq": row.seq, "shown": row.shown, "comment": ""}.get(name, False)

    def _read_or_made(self, row: BaseRow) -> GradeRow:
        grade = row.read(self.reading) or row.made
        # A later reading's row looked at from before that reading: only its own values exist.
        return grade or row.readings[0][1]

    def row(self, row: int) -> StoredRow | None:
        """The live row of that id, without the work of folding all others."""
        base = self._rows.get(row)
        if base is None or not self._cell(base, "shown") or self._cell(base, "deleted"):
            return None
        live = {self._cell(other, "rep") for other in self._live()}
        return self._stored(base, {rep.id: rep.number for rep in self._number(live)})

    def _live(self) -> list[BaseRow]:
        return [
            base for base in self.facts.rows if self._cell(base, "shown") and not self._cell(base, "deleted")
        ]

    def state(self) -> NoteState:
        """Every row and rep as it stands."""
        rows = self._live()
        retired = {base.id for base in self.facts.rows if not self._cell(base, "shown")}
        hidden = [base for base in self.facts.rows if base.id not in retired and self._cell(base, "deleted")]
        reps = self._number({self._cell(base, "rep") for base in rows})
        numbers = {rep.id: rep.number for rep in reps}
        stored = [self._stored(base, numbers) for base in rows]
        stored.sort(key=lambda r: (r.current.rep, r.seq, r.id))
        refused = {
            tuple(load(cell.field))
            for cell, value in self.overrides.items()
            if cell.subject == "mend" and value
        }
        return NoteState(
            self.facts.note,
            self.reading,
            tuple(stored),
            tuple(self._stored(base, numbers) for base in hidden),
            reps,
            frozenset(refused),
            frozenset(retired),
        )

    def _cell(self, base: BaseRow, name: str) -> Any:
        return self.value(Cell("row", base.id, name))

    def _number(self, live: set[int]) -> tuple[RepState, ...]:
        ordered = sorted(self.facts.reps, key=lambda rep: (self.value(Cell("rep", rep.id, "order")), rep.id))
        states, number = [], 0
        for rep in ordered:
            number += rep.id in live
            states.append(
                RepState(
                    rep.id,
                    number if rep.id in live else 0,
                    self.value(Cell("rep", rep.id, "order")),
                    load_stretches(self.value(Cell("rep", rep.id, "stretches"))),
                    bool(self.value(Cell("rep", rep.id, "held"))),
                )
            )
        return tuple(states)

    def _stored(self, base: BaseRow, numbers: Mapping[int, int]) -> StoredRow:
        known = base.known(self.reading)
        machine = known[-1] if known else None
        origin = self._read_or_made(base)
        changes = self._changes.get(base.id, {})
        rep = self._cell(base, "rep")
        blank = _BLANK if machine is None else machine
        # lists of its own: the first reading must not change with the current row
        lists = {name: list(getattr(origin, name)) for name in LIST_FIELDS}
        current = origin.model_copy(update={**lists, **changes, "rep": max(1, numbers.get(rep, 0))})
        names: Iterable[str] = changes if origin is machine else GRADE_FIELDS
        corrected = frozenset(
            name for name in names if name in GRADE_FIELDS and getattr(current, name) != getattr(blank, name)
        )
        current.evidence = {name: said for name, said in current.evidence.items() if name not in corrected}
        return StoredRow(
            id=base.id,
            note=self.facts.note,
            rep_id=rep,
            seq=self._cell(base, "seq"),
            current=current,
            first=known[0] if known else None,
            machine=machine,
            confirmed=bool(self._cell(base, "confirmed")),
            corrected=corrected,
            comment=self._cell(base, "comment"),
        )


def mend_key(heard: str, read: str) -> str:
    """The cell field of a mend's wording; case and spacing do not count."""
    return dump([_plain(heard), _plain(read)])


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


def spoken(
    words: Sequence[Word], mends: Iterable[tuple[int, int, str, str]], refused: frozenset[tuple[str, str]]
) -> tuple[Word, ...]:
    """The words as read, with refused mends turned back to what was heard.

    mends: (first, last, heard, read). The number of words stays, so that stretches keep their
    meaning: the first word of a refused mend carries all of the heard words, the others are "".
    """
    result = list(words)
    for first, last, heard, read in mends:
        if (_plain(heard), _plain(read)) not in refused:
            continue
        for index in range(first, min(last, len(result))):
            word = result[index]
            text = heard if index == first else ""
            result[index] = Word(text, word.start, word.end, word.probability)
    return tuple(result)
