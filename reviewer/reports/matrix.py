"""The table that teaches: what a player does against what he faces.

Rows are his pass sets (or any field of his), columns the moves he faced (or any field), and each
cell holds wins, losses and neutral of the reps where both were said. A rep with two moves stands in
two columns; the totals count every rep once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from reviewer.reports.reps import GradedRep, field_values
from reviewer.reports.tally import NOT_SAID, Tally, tally_reps


@dataclass(frozen=True)
class Matrix:
    """Tallies by two fields. `cells` maps (row, column) to its tally; pairs never seen are left out.

    row_field, column_field: fields of the grade row. rows, columns: values, the most frequent
    first, "not said" last. row_totals, column_totals: each rep counted once.
    """

    row_field: str
    column_field: str
    rows: tuple[str, ...]
    columns: tuple[str, ...]
    cells: Mapping[tuple[str, str], Tally]
    row_totals: Mapping[str, Tally]
    column_totals: Mapping[str, Tally]
    total: Tally

    def __bool__(self) -> bool:
        return bool(self.cells)


def matrix(reps: Sequence[GradedRep], row_field: str = "set", column_field: str = "moves") -> Matrix:
    """The reps in which either field was said, by both."""
    told = [r for r in reps if field_values(r.row, row_field) or field_values(r.row, column_field)]
    by_row = _members(told, row_field)
    by_column = _members(told, column_field)
    cells: dict[tuple[str, str], Tally] = {}
    for row, ours in by_row.items():
        ids = {id(rep) for rep in ours}
        for column, theirs in by_column.items():
            both = [rep for rep in theirs if id(rep) in ids]
            if both:
                cells[row, column] = tally_reps(both)
    return Matrix(
        row_field,
        column_field,
        tuple(by_row),
        tuple(by_column),
        cells,
        {name: tally_reps(found) for name, found in by_row.items()},
        {name: tally_reps(found) for name, found in by_column.items()},
        tally_reps(told),
    )


def _members(reps: Sequence[GradedRep], field: str) -> dict[str, list[GradedRep]]:
    members: dict[str, list[GradedRep]] = {}
    for rep in reps:
        for value in field_values(rep.row, field) or (NOT_SAID,):
            members.setdefault(value, []).append(rep)
    order = sorted(members, key=lambda name: (name == NOT_SAID, -len(members[name]), name))
    return {name: members[name] for name in order}
