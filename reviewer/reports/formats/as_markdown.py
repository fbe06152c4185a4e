"""A report as Markdown, for a wiki, a mail or a shared folder."""

from __future__ import annotations

import re
from collections.abc import Sequence

from reviewer.reports.document import Bars, Document, Grid, Line, Reps, Table
from reviewer.reports.formats.rep_cells import lines, used_columns
from reviewer.reports.harmless import harmless
from reviewer.reports.tally import Tally
from reviewer.reports.wording import cell_words, side_sign, tally_cell


def markdown(document: Document) -> str:
    """The document as Markdown with pipe tables; charts are left out, their tables stand there."""
    document = harmless(document)
    parts = [f"# {_text(document.title)}"]
    if document.subtitle:
        parts.append(f"*{_text(document.subtitle)}*")
    if document.facts:
        parts.append("\n".join(f"- **{_text(k)}:** {_text(cell_words(v))}" for k, v in document.facts))
    parts += [_text(remark) for remark in document.remarks]
    if document.caution:
        parts.append(f"> **{document.caution}**")
    for block in document.blocks:
        match block:
            case Table():
                body = _rows(
                    list(block.columns.values()), [[cell_words(c) for c in row] for row in block.rows]
                )
                parts += _section(block.title, block.about, body)
            case Grid():
                parts += _section(block.title, block.about, _grid(block))
            case Reps():
                parts += _section(block.title, block.about, _reps(block))
            case Bars() | Line():
                pass
    return "\n\n".join(parts) + "\n"


def _section(title: str, about: str, body: str) -> list[str]:
    return [f"## {_text(title)}", *([_text(about)] if about else []), body]


def _cell(tally: Tally | None) -> str:
    return "" if tally is None else " ".join(filter(None, (tally_cell(tally), side_sign(tally))))


def _grid(grid: Grid) -> str:
    found = grid.matrix
    header = [f"{grid.row_title} \\ {grid.column_title}", *found.columns, "all"]
    rows = []
    for row in found.rows:
        cells = [_cell(found.cells.get((row, column))) for column in found.columns]
        rows.append([row, *cells, tally_cell(found.row_totals[row])])
    totals = [tally_cell(found.column_totals[c]) for c in found.columns]
    rows.append(["all", *totals, tally_cell(found.total)])
    return _rows(header, rows)


def _reps(block: Reps) -> str:
    found = lines(block)
    columns = used_columns(found)
    several = len({rep.game_title for rep, _ in found}) > 1
    header = [*(["Game"] if several else []), *columns.values(), "Words"]
    rows = [
        [*([rep.game_title] if several else []), *(cells[key] for key in columns), rep.words]
        for rep, cells in found
    ]
    return _rows(header, rows)


def _rows(header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    out = [_line(header), "|" + " --- |" * len(header)]
    return "\n".join(out + [_line(row) for row in rows])


def _line(cells: Sequence[str]) -> str:
    return "| " + " | ".join(_text(cell) for cell in cells) + " |"


def _text(text: str) -> str:
    """Plain text that Markdown will show as it is, on one line."""
    shown = re.sub(r"([\\`*_\[\]<>#|])", r"\\\1", " ".join(text.split()))
    # a table is pasted into a spreadsheet too, which must not take a name for a formula
    return re.sub(r"^([=@]|[+-](?=\S)(?![\d.,]+ ?%?$))", r"\\\1", shown)
