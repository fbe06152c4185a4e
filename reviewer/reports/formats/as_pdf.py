"""A report as PDF, set by Typst: fonts and layout come inside, no system library is needed."""

from __future__ import annotations

import json
from typing import Any

from reviewer.reports.document import Bars, Block, Document, Grid, Line, Reps, Table
from reviewer.reports.formats.as_html import TEMPLATES, grid_cells
from reviewer.reports.formats.charts import bars_svg, line_svg
from reviewer.reports.formats.rep_cells import lines, used_columns
from reviewer.reports.harmless import harmless
from reviewer.reports.wording import cell_words

PAPER = "us-letter"
SMALL = 5
"""A table of at most so many columns takes half a page's width."""

WIDTHS = {"play": "2fr", "faced": "2.2fr", "did": "2.6fr", "remarks": "2fr"}
"""Columns of reps that share what room is left; the others are as wide as they need."""


def pdf_bytes(document: Document, paper: str = PAPER) -> bytes:
    """The document as a PDF. paper: a Typst paper name, "us-letter" or "a4"."""
    import typst

    document = harmless(document)
    data = {
        "paper": paper,
        "title": document.title,
        "subtitle": document.subtitle,
        "facts": [[label, cell_words(value)] for label, value in document.facts],
        "remarks": list(document.remarks),
        "caution": document.caution,
        "blocks": _paired([_block(block) for block in document.blocks]),
    }
    return bytes(typst.compile(TEMPLATES / "page.typ", sys_inputs={"data": json.dumps(data)}))


def _block(block: Block) -> dict[str, Any]:
    head = {"title": block.title, "about": block.about}
    match block:
        case Table():
            return {**head, "kind": "table", **_table(block)}
        case Grid():
            return {**head, "kind": "grid", **grid_cells(block)}
        case Bars():
            return {**head, "kind": "chart", "svg": bars_svg(block)}
        case Line():
            return {**head, "kind": "chart", "svg": line_svg(block)}
        case Reps():
            return {**head, "kind": "reps", **_reps(block)}


def _paired(blocks: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The blocks with small tables that follow each other set side by side."""
    result: list[dict[str, Any]] = []
    for block in blocks:
        small = block["kind"] == "table" and len(block["columns"]) <= SMALL
        pair = result[-1]["tables"] if result and result[-1]["kind"] == "pair" else None
        if small and pair is not None and len(pair) < 2:
            pair.append(block)
        else:
            result.append({"kind": "pair", "tables": [block]} if small else block)
    return result


def _table(table: Table) -> dict[str, Any]:
    numeric = [
        all(isinstance(row[place], int | float) or row[place] is None for row in table.rows)
        for place in range(len(table.columns))
    ]
    return {
        "columns": list(table.columns.values()),
        "numeric": numeric,
        "rows": [[cell_words(cell) for cell in row] for row in table.rows],
    }


def _reps(block: Reps) -> dict[str, Any]:
    found = lines(block)
    columns = used_columns(found)
    games: list[dict[str, Any]] = []
    for rep, cells in found:
        if not games or games[-1]["title"] != rep.game_title:
            games.append({"title": rep.game_title, "reps": []})
        said = f"“{rep.words}”" if rep.words else ""
        note = f"Coach's note: {rep.coach_note}" if rep.coach_note else ""
        games[-1]["reps"].append(
            {"cells": [cells[key] for key in columns], "words": " ".join(filter(None, [said, note]))}
        )
    return {
        "columns": list(columns.values()),
        "keys": list(columns),
        "widths": [WIDTHS.get(key, "auto") for key in columns],
        "games": games,
        "several": len(games) > 1,
    }
