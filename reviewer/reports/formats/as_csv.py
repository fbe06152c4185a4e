"""A report as CSV: its reps, one a line, with the grade row's own column names; a report without
reps gives its first table."""

from __future__ import annotations

import csv
import io
import re

from reviewer.reports.document import Document, Reps, Table
from reviewer.reports.formats.cells import Plain, plain_table
from reviewer.reports.formats.rep_cells import FLAT_COLUMNS, flat

_FORMULA = re.compile(r"\s*[=+@＝＋＠－-](?=.)|[\t\r]", re.DOTALL)
_NUMBER = re.compile(r"[+-][0-9.]+")


def csv_text(document: Document) -> str:
    """The document's reps (or first table) as CSV, RFC 4180 line ends, "" for what was not said."""
    for block in document.blocks:
        if isinstance(block, Reps) and block.key == "reps":
            scores = block.scores or [None] * len(block.reps)
            records = [list(flat(r, s).values()) for r, s in zip(block.reps, scores, strict=True)]
            return _csv(list(FLAT_COLUMNS), records)
    table = next(block for block in document.blocks if isinstance(block, Table))
    columns, rows = plain_table(table)
    return _csv([key for key, _, _ in columns], rows)


def _text(value: Plain) -> Plain:
    """A cell that no spreadsheet computes: the usual apostrophe before what would be a formula there.

    A mark ("+", "-") and a number are none.
    """
    if isinstance(value, str) and _FORMULA.match(value) and not _NUMBER.fullmatch(value):
        return f"'{value}"
    return value


def _csv(header: list[str], rows: list[list[Plain]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(header)
    writer.writerows([["" if value is None else _text(value) for value in row] for row in rows])
    return text.getvalue()
