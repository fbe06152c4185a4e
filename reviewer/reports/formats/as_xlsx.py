"""A report as a workbook: real numbers, frozen headers, filters, and charts that Excel draws."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from datetime import date
from typing import Any

from reviewer.reports.document import Bars, Document, Grid, Line, Reps, Table
from reviewer.reports.formats.cells import PERCENT, Plain, grid_table, parts, plain_table
from reviewer.reports.formats.charts import LOST, NEUTRAL, WON
from reviewer.reports.formats.rep_cells import FLAT_COLUMNS, flat
from reviewer.reports.harmless import harmless
from reviewer.reports.layout import TALLY_COLUMNS
from reviewer.reports.scale import Grade
from reviewer.reports.wording import cell_words

NUMBERS = frozenset({"rep", "start", "end", "down", "distance", "points", "confidence"})
"""Columns of a rep that are numbers. A jersey is none: "00" and "0" are two."""

WIDE = {"words": 70, "game": 24, "from_play_list": 20, "coach_note": 40, "faults": 24, "techniques": 28}
SECONDS = "0.0"


class _Book:
    """A workbook being filled; owns its formats and the names taken."""

    def __init__(self) -> None:
        import xlsxwriter

        self.sink = io.BytesIO()
        # A coach's words are text, whatever they begin with: no formulas, no links.
        options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
        self.book = xlsxwriter.Workbook(self.sink, options)
        self.bold = self.book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        self.head = self.book.add_format({"bold": True, "bottom": 1})
        self.label = self.book.add_format({"bold": True, "align": "left"})
        self.left = self.book.add_format({"align": "left"})
        self.title = self.book.add_format({"bold": True, "font_size": 16})
        self.wrap = self.book.add_format({"text_wrap": True, "valign": "top"})
        self.top = self.book.add_format({"valign": "top"})
        self.percent = self.book.add_format({"num_format": "0%", "valign": "top"})
        self.decimal = self.book.add_format({"num_format": "0.00", "valign": "top"})
        self.seconds = self.book.add_format({"num_format": SECONDS, "valign": "top"})
        self.date = self.book.add_format({"num_format": "yyyy-mm-dd", "valign": "top"})
        self.names: set[str] = set()

    def sheet(self, title: str) -> Any:
        """A new sheet under a name that a workbook allows: 31 characters, unlike all others."""
        base = re.sub(r"[\[\]:*?/\\']", " ", title).strip()[:31] or "Sheet"
        name, number = base, 2
        while name.lower() in self.names:
            name, number = f"{base[:28]} {number}", number + 1
        self.names.add(name.lower())
        return self.book.add_worksheet(name)


def xlsx_bytes(document: Document) -> bytes:
    """The document as an XLSX workbook: a summary sheet, then one sheet a table, reps last."""
    document = harmless(document)
    book = _Book()
    summary = book.sheet("Summary")
    row = _summary(book, summary, document)
    for block in document.blocks:
        match block:
            case Table():
                _table(book, block)
            case Grid():
                _table(book, grid_table(block))
            case Reps():
                _reps(book, block)
            case Bars():
                row = _chart(book, summary, block, row)
            case Line():
                row = _line_chart(book, summary, block, row)
    book.book.close()
    return book.sink.getvalue()


def _summary(book: _Book, sheet: Any, document: Document) -> int:
    # the cells right of a long text are empty, so that it shows whole without making a column wide
    sheet.set_column(0, 0, 34)
    sheet.set_column(1, 4, 11)
    sheet.fit_to_pages(1, 1)
    sheet.write_string(0, 0, document.title, book.title)
    sheet.write_string(1, 0, document.subtitle)
    row = 3
    for label, value in document.facts:
        sheet.write_string(row, 0, label, book.label)
        taken = parts(value)
        if list(taken) == [""]:
            _write(sheet, row, 1, taken[""], book.left)
        else:
            sheet.write_string(row, 1, cell_words(value))
        row += 1
    for line in [*document.remarks, *([document.caution] if document.caution else [])]:
        sheet.write_string(row + 1, 0, line)
        row += 1
    return row + 2


def _write(sheet: Any, row: int, column: int, value: Plain, style: Any) -> None:
    if isinstance(value, int | float):
        sheet.write_number(row, column, value, style)
    elif value:
        sheet.write_string(row, column, value, style)


def _table(book: _Book, table: Table) -> None:
    columns, rows = plain_table(table)
    sheet = book.sheet(table.title)
    _header(book, sheet, [title for _, title, _ in columns], len(rows))
    for place, (_, title, part) in enumerate(columns):
        texts = [str(row[place]) for row in rows if isinstance(row[place], str)]
        sheet.set_column(place, place, min(40, max([len(title) + 3, 9, *map(len, texts)])))
        for number, row in enumerate(rows, 1):
            _write(sheet, number, place, row[place], _style(book, part, row[place]))
    if table.about:
        sheet.write_string(len(rows) + 2, 0, table.about)


def _style(book: _Book, part: str, value: Plain) -> Any:
    if part in PERCENT:
        return book.percent
    return book.decimal if isinstance(value, float) else book.top


def _header(book: _Book, sheet: Any, titles: Sequence[str], rows: int) -> None:
    for place, title in enumerate(titles):
        sheet.write_string(0, place, title, book.bold)
    sheet.freeze_panes(1, 0)
    if rows:
        sheet.autofilter(0, 0, rows, len(titles) - 1)
    sheet.repeat_rows(0)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)


def _reps(book: _Book, block: Reps) -> None:
    sheet = book.sheet(block.title)
    _header(book, sheet, FLAT_COLUMNS, len(block.reps))
    for place, name in enumerate(FLAT_COLUMNS):
        sheet.set_column(place, place, WIDE.get(name, max(9, len(name) + 3)))
    scores = block.scores or [None] * len(block.reps)
    for number, (rep, score) in enumerate(zip(block.reps, scores, strict=True), 1):
        for place, (name, value) in enumerate(flat(rep, score).items()):
            _rep_cell(book, sheet, number, place, name, value)


def _rep_cell(book: _Book, sheet: Any, row: int, column: int, name: str, value: Plain) -> None:
    if name == "date" and isinstance(value, str) and (day := _day(value)):
        sheet.write_datetime(row, column, day, book.date)
    elif name in ("start", "end"):
        _write(sheet, row, column, value, book.seconds)
    else:
        _write(sheet, row, column, value, book.wrap if name in ("words", "coach_note") else book.top)


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def _chart(book: _Book, summary: Any, block: Bars, row: int) -> int:
    """A native chart over its own little table on the summary; returns the next free row."""
    if not block.bars:
        return row
    titles = ["", TALLY_COLUMNS["wins"], TALLY_COLUMNS["neutral"], TALLY_COLUMNS["losses"]]
    summary.write_row(row, 0, [block.title, *titles[1:]], book.head)
    for number, (name, tally) in enumerate(block.bars, row + 1):
        summary.write_string(number, 0, name)
        for place, count in enumerate((tally.wins, tally.neutral, tally.losses), 1):
            summary.write_number(number, place, count)
    last = row + len(block.bars)
    chart = book.book.add_chart({"type": "bar", "subtype": "stacked"})
    for place, colour in enumerate((WON, NEUTRAL, LOST), 1):
        chart.add_series(
            {
                "name": ["Summary", row, place],
                "categories": ["Summary", row + 1, 0, last, 0],
                "values": ["Summary", row + 1, place, last, place],
                "fill": {"color": colour},
            }
        )
    chart.set_title({"name": block.title})
    chart.set_y_axis({"reverse": True})
    height = 110 + 28 * len(block.bars)
    chart.set_size({"width": 620, "height": height})
    summary.insert_chart(row, 5, chart)
    return max(last, row + height // 20) + 2


def _line_chart(book: _Book, summary: Any, block: Line, row: int) -> int:
    """Grades in their order with interval and cut-off, drawn by the workbook; the next free row."""
    graded = [(name, grade) for name, grade in block.points if grade.value is not None]
    if not graded:
        return row
    style = book.percent if graded[0][1].show == "percent" else book.decimal
    summary.write_row(row, 0, [block.title, "Grade", "From", "To", "Cut-off"], book.head)
    for number, (name, grade) in enumerate(graded, row + 1):
        summary.write_string(number, 0, name)
        ends = (grade.interval.low, grade.interval.high) if grade.interval else (grade.value, grade.value)
        for place, value in enumerate((grade.value, *ends, grade.cutoff), 1):
            summary.write_number(number, place, value, style)
    last = row + len(graded)
    chart = book.book.add_chart({"type": "line"})
    for place, options in enumerate(_series(graded), 1):
        if options is not None:
            chart.add_series(
                {
                    "name": ["Summary", row, place],
                    "categories": ["Summary", row + 1, 0, last, 0],
                    "values": ["Summary", row + 1, place, last, place],
                    **options,
                }
            )
    chart.set_title({"name": block.title})
    if style is book.percent:
        chart.set_y_axis({"num_format": "0%", "min": 0, "max": 1})
    chart.set_size({"width": 620, "height": 380})
    summary.insert_chart(row, 5, chart)
    return max(last, row + 19) + 2


def _series(graded: Sequence[tuple[str, Grade]]) -> tuple[dict[str, Any] | None, ...]:
    """How each column of the chart's table is drawn; the interval's ends are the bars of the grade."""
    around = [(g.value or 0.0, g.interval) for _, g in graded]
    bars = {
        "type": "custom",
        "plus_values": [i.high - value if i else 0 for value, i in around],
        "minus_values": [value - i.low if i else 0 for value, i in around],
    }
    marker = {"type": "circle", "size": 7, "fill": {"color": WON}, "border": {"color": WON}}
    grades = {"line": {"none": True}, "marker": marker, "y_error_bars": bars}
    return grades, None, None, {"line": {"color": LOST, "dash_type": "dash"}}
