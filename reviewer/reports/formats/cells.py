"""Cells taken apart into plain values, for the formats that keep numbers as numbers."""

from __future__ import annotations

from collections.abc import Sequence

from reviewer.reports.document import Cell, Grid, Table
from reviewer.reports.intervals import Interval, Share
from reviewer.reports.kappa import Kappa
from reviewer.reports.scale import Grade
from reviewer.reports.tally import Tally
from reviewer.reports.trend import P

Plain = str | int | float | None

PERCENT = frozenset({"share", "low", "high"})
"""Parts that are fractions to be shown as per cent."""


def parts(cell: Cell) -> dict[str, Plain]:
    """A cell's plain values by the name of the part; "" names the value itself."""
    match cell:
        case Tally():
            return {"wins": cell.wins, "losses": cell.losses, "neutral": cell.neutral, **_share(cell.share)}
        case Share():
            return {"hits": cell.hits, "of": cell.total, **_share(cell)}
        case Grade():
            low, high = _ends(cell.interval)
            return {"": cell.value, "from": low, "to": high, "graded reps": cell.reps, "points": cell.points}
        case Kappa():
            low, high = _ends(cell.interval)
            return {"": cell.value, "from": low, "to": high, "pairs": cell.n}
        case Interval():
            return {"low": cell.low, "high": cell.high}
        case P():
            return {"": cell.value}
        case _:
            return {"": cell}


def _share(share: Share) -> dict[str, Plain]:
    low, high = _ends(share.interval)
    return {"share": share.value, "low": low, "high": high}


def _ends(interval: Interval | None) -> tuple[float | None, float | None]:
    return (interval.low, interval.high) if interval else (None, None)


def plain_table(table: Table) -> tuple[list[tuple[str, str, str]], list[list[Plain]]]:
    """A table of plain values: columns as (key, heading, part), and the rows.

    A cell of several values becomes several columns, the same ones in every row.
    """
    columns: list[tuple[str, str, str]] = []
    slots: list[tuple[int, str]] = []
    for place, (key, title) in enumerate(table.columns.items()):
        for part in _parts_of_column([row[place] for row in table.rows]):
            name = key if part in ("", key) else f"{key}_{part.replace(' ', '_')}"
            columns.append((name, title if part in ("", key) else f"{title}: {part}", part))
            slots.append((place, part))
    rows = []
    for row in table.rows:
        taken = [parts(cell) for cell in row]
        rows.append([taken[place].get(part) for place, part in slots])
    return columns, rows


def _parts_of_column(cells: Sequence[Cell]) -> list[str]:
    return list(dict.fromkeys(name for cell in cells for name in parts(cell))) or [""]


def grid_table(grid: Grid) -> Table:
    """A grid as a long table, a line for each pair seen."""
    found = grid.matrix
    columns = {found.row_field: grid.row_title, found.column_field: grid.column_title, "tally": "Reps"}
    rows = [
        (row, column, found.cells[row, column])
        for row in found.rows
        for column in found.columns
        if (row, column) in found.cells
    ]
    return Table(grid.key, grid.title, columns, rows, grid.about)
