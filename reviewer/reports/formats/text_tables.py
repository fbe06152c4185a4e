"""Tables for the terminal that fit its width: one too wide for whole words is shown in parts, each
beginning with the first column."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from reviewer.reports.document import Grid, Table
from reviewer.reports.tally import Tally
from reviewer.reports.wording import cell_words, percent, side_sign, span, tally_words

if TYPE_CHECKING:
    from rich.table import Table as RichTable
    from rich.text import Text as RichText

BETWEEN = 3
"""Columns of the terminal between two of a table."""

LEAST = 10
"""A cell is broken into lines of no fewer characters than this."""


def empty_table() -> RichTable:
    """A table without rows, in the look that all of them share."""
    from rich.box import SIMPLE_HEAD
    from rich.table import Table as RichTable

    return RichTable(box=SIMPLE_HEAD, pad_edge=False, header_style="bold")


def tables(table: Table, width: int) -> list[RichTable]:
    """The table in as many parts as a terminal of that width needs."""
    titles = list(table.columns.values())
    cells = [[cell_words(cell) for cell in row] for row in table.rows]
    numeric = [
        all(isinstance(row[place], int | float) or row[place] is None for row in table.rows)
        for place in range(len(titles))
    ]
    return _parts(titles, cells, numeric, width)


def grids(grid: Grid, width: int) -> list[RichTable]:
    """The grid in as many parts as a terminal of that width needs; three short lines a cell."""
    found = grid.matrix
    titles = [grid.row_title, *found.columns, "all"]
    cells = [
        [
            row,
            *(_tally(found.cells.get((row, column))) for column in found.columns),
            _tally(found.row_totals[row]),
        ]
        for row in found.rows
    ]
    totals = (_tally(found.column_totals[column]) for column in found.columns)
    cells.append(["all", *totals, _tally(found.total)])
    return _parts(titles, cells, [False] * len(titles), width)


def _tally(tally: Tally | None) -> str:
    """A cell; the sign says what a page says by shading."""
    if tally is None:
        return ""
    share = tally.share
    if share.value is None or share.interval is None:
        return tally_words(tally)
    head = " ".join(filter(None, (tally_words(tally), side_sign(tally))))
    return f"{head}\n{percent(share.value)}\n{span(share.interval)}"


def _parts(
    titles: Sequence[str], cells: Sequence[Sequence[str]], numeric: Sequence[bool], width: int
) -> list[RichTable]:
    columns = [[title, *(row[place] for row in cells)] for place, title in enumerate(titles)]
    shown = []
    for part in parted([_least(column) for column in columns], width):
        rich = empty_table()
        for place in part:
            rich.add_column(
                titles[place],
                justify="right" if numeric[place] else "left",
                min_width=_least(columns[place]),
            )
        for row in cells:
            # text as it is: square brackets in a coach's words are no markup
            rich.add_row(*(_plain(row[place]) for place in part))
        shown.append(rich)
    return shown


def _plain(value: str) -> RichText:
    from rich.text import Text

    return Text(value)


def _least(column: Sequence[str]) -> int:
    """How narrow a column can be without a word of it broken."""
    lines = [line for text in column for line in text.split("\n")]
    word = max((len(word) for line in lines for word in line.split(" ")), default=0)
    return max(word, min(LEAST, max(map(len, lines), default=0)))


def parted(least: Sequence[int], width: int) -> list[list[int]]:
    """Which columns stand in each part: as many as fit, the first one in all of them."""
    parts: list[list[int]] = [[0]]
    room = width - 2 - least[0]
    left = room
    for place in range(1, len(least)):
        wanted = least[place] + BETWEEN
        if wanted > left and len(parts[-1]) > 1:
            parts.append([0])
            left = room
        parts[-1].append(place)
        left -= wanted
    return parts
