"""A report as a document: facts, tables, charts and reps, in the order they are read.

Every report is built once into a `Document`; each format (`reviewer.reports.formats`) renders any
document. Cells keep their meaning (a `Tally`, a `Share`, a `Grade`), so a workbook gets numbers and
a page gets words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from reviewer.reports.intervals import Interval, Share
from reviewer.reports.kappa import Kappa
from reviewer.reports.matrix import Matrix
from reviewer.reports.reps import GradedRep
from reviewer.reports.scale import Grade, RepScore
from reviewer.reports.tally import Tally
from reviewer.reports.trend import P

Cell = str | int | float | None | Tally | Share | Grade | Kappa | Interval | P
"""What a table may hold. A str is text; an int a count; a float a plain number."""


@dataclass(frozen=True)
class Table:
    """A table. `key` names it in JSON and workbooks; columns maps a key to the heading shown;
    rows hold one cell per column. about: one line under the heading, "" for none."""

    key: str
    title: str
    columns: Mapping[str, str]
    rows: Sequence[Sequence[Cell]]
    about: str = ""


@dataclass(frozen=True)
class Grid:
    """A matrix, shown as a grid of tallies. `row_title`, `column_title` name its fields to people."""

    key: str
    title: str
    matrix: Matrix
    row_title: str
    column_title: str
    about: str = ""


@dataclass(frozen=True)
class Bars:
    """A chart of wins, neutral reps and losses, one bar a name, the longest first."""

    key: str
    title: str
    bars: Sequence[tuple[str, Tally]]
    about: str = ""


@dataclass(frozen=True)
class Line:
    """A chart of grades by game with their intervals and the cut-off."""

    key: str
    title: str
    points: Sequence[tuple[str, Grade]]
    about: str = ""


@dataclass(frozen=True)
class Reps:
    """Reps with their marks, words and time. `scores` stand beside them, or it is empty."""

    key: str
    title: str
    reps: Sequence[GradedRep]
    scores: Sequence[RepScore | None] = ()
    about: str = ""


Block = Table | Grid | Bars | Line | Reps


@dataclass(frozen=True)
class Document:
    """A whole report.

    facts: label and value, shown under the title. remarks: sentences the reader must see (rows not
    confirmed, values from a play list). caution: the caution line, "" when nothing calls for it.
    """

    title: str
    subtitle: str = ""
    facts: Sequence[tuple[str, Cell]] = ()
    remarks: Sequence[str] = ()
    blocks: Sequence[Block] = field(default_factory=tuple)
    caution: str = ""

    def block(self, key: str) -> Block:
        """The block of that key. Raises KeyError when the document has none."""
        for block in self.blocks:
            if block.key == key:
                return block
        raise KeyError(key)
