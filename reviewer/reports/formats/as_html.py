"""A report as one HTML file: prints well, charts inside, words open on click and play the sound."""

from __future__ import annotations

import base64
import hashlib
import os
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from reviewer.errors import InputError
from reviewer.reports.document import Bars, Block, Document, Grid, Line, Reps, Table
from reviewer.reports.files import write_whole
from reviewer.reports.formats.charts import bars_svg, line_svg
from reviewer.reports.formats.rep_cells import lines, used_columns
from reviewer.reports.harmless import harmless
from reviewer.reports.reps import GradedRep
from reviewer.reports.tally import Tally
from reviewer.reports.wording import cell_words, percent, span, tally_words

if TYPE_CHECKING:
    from markupsafe import Markup

STACK_LETTERS = 60
"""A table whose longest cells are longer together does not fit a phone: there each row stands as lines."""

TEMPLATES = Path(__file__).parent / "templates"

AudioLink = Callable[[Path], str | None]
"""From a recording to the address the page plays it by, or None when it has none."""


def page(document: Document, link: AudioLink = lambda _: None) -> str:
    """The document as a whole HTML page that loads nothing but the recordings it links."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["held"] = held
    document = harmless(document)
    script = (TEMPLATES / "page.js").read_text("utf-8")
    blocks = [_block(block, link) for block in document.blocks]
    return environment.get_template("page.html.j2").render(
        document=document,
        blocks=blocks,
        words=cell_words,
        css=(TEMPLATES / "page.css").read_text("utf-8"),
        script=script,
        script_hash=base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
        any_audio=any(block.get("any_audio") for block in blocks),
    )


_UNBROKEN = re.compile(r"\d[\d.]* % of \d+|\(-?\d[\d.]*(?:–| to )-?\d[\d.]*\)|\d{4}-\d\d-\d\d")


def held(text: str) -> Markup:
    """The text as markup in which shares, intervals and days stay on one line each."""
    from markupsafe import Markup, escape

    return Markup(_UNBROKEN.sub(r'<span class="k">\g<0></span>', str(escape(text))))


def write_page(document: Document, out: Path, audio: str = "link") -> Path:
    """Write the page. `audio`: "link" plays the recordings where they lie, "copy" puts copies into
    a folder beside the page (so that both can be moved together), "none" has no sound.

    Raises InputError when a file cannot be written or `audio` is none of these.
    """
    if audio == "none":
        return write_whole(out, page(document))
    if audio == "link":
        return write_whole(out, page(document, lambda path: _relative(path, out)))
    if audio != "copy":
        raise InputError(f"Sound can be linked, copied or left out, not {audio!r}; say link, copy or none.")
    folder = out.with_name(f"{out.stem}-audio")
    copies = {path: folder / f"{n:02}-{path.name}" for n, path in enumerate(sorted(_recordings(document)), 1)}
    _copy(copies)
    return write_whole(
        out, page(document, lambda path: _relative(copies[path], out) if path in copies else None)
    )


def _recordings(document: Document) -> set[Path]:
    return {
        rep.audio
        for block in document.blocks
        if isinstance(block, Reps)
        for rep in block.reps
        if rep.audio is not None and rep.audio.is_file()
    }


def _copy(copies: dict[Path, Path]) -> None:
    for path, copy in copies.items():
        try:
            copy.parent.mkdir(exist_ok=True)
            shutil.copyfile(path, copy)
        except OSError as problem:
            raise InputError(
                f"The recording {path} cannot be copied to {copy} ({problem.strerror}); use --audio link."
            ) from problem


def _relative(path: Path, out: Path) -> str | None:
    """The path as the page sees it; None for a recording that is gone."""
    if not path.is_file():
        return None
    try:
        return quote(Path(os.path.relpath(path.resolve(), out.resolve().parent)).as_posix())
    except ValueError:
        # Another drive has no relative path.
        return path.resolve().as_uri()


def _block(block: Block, link: AudioLink) -> dict[str, Any]:
    head = {"key": block.key, "title": block.title, "about": block.about}
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
            return {**head, "kind": "reps", **_reps(block, link)}


def _table(table: Table) -> dict[str, Any]:
    numeric = [
        all(isinstance(row[place], int | float) or row[place] is None for row in table.rows)
        for place in range(len(table.columns))
    ]
    rows = [[cell_words(cell) for cell in row] for row in table.rows]
    titles = list(table.columns.values())
    letters = sum(max(map(len, cells)) for cells in zip(titles, *rows, strict=True))
    return {
        "columns": list(zip(titles, numeric, strict=True)),
        "rows": [list(zip(row, numeric, strict=True)) for row in rows],
        "stack": letters > STACK_LETTERS,
        # what a row is about: its first cell, and the name beside a number
        "heads": 0 if numeric[0] else 2 if titles[:2] == ["No.", "Name"] else 1,
    }


def grid_cells(grid: Grid) -> dict[str, Any]:
    """A grid as rows of {count, share, tone}: tone "up" or "down" where the interval of the share
    of wins lies wholly above or below one half, "all" for totals."""
    found = grid.matrix
    rows = [
        {
            "name": row,
            "cells": [
                *(_cell(found.cells.get((row, column))) for column in found.columns),
                _cell(found.row_totals[row], total=True),
            ],
        }
        for row in found.rows
    ]
    totals = [_cell(found.column_totals[column], total=True) for column in found.columns]
    rows.append({"name": "all", "cells": [*totals, _cell(found.total, total=True)]})
    return {
        "row_title": grid.row_title,
        "column_title": grid.column_title,
        "columns": [*found.columns, "all"],
        "rows": rows,
    }


def _cell(tally: Tally | None, total: bool = False) -> dict[str, str]:
    if tally is None:
        return {"count": "", "share": "", "tone": "all" if total else ""}
    share = tally.share
    if share.value is None or share.interval is None:
        return {"count": tally_words(tally), "share": "", "tone": "all" if total else ""}
    tone = "up" if share.interval.low > 0.5 else "down" if share.interval.high < 0.5 else ""
    words = f"{percent(share.value)} ({span(share.interval)})"
    return {"count": tally_words(tally), "share": words, "tone": "all" if total else tone}


def _reps(block: Reps, link: AudioLink) -> dict[str, Any]:
    found = lines(block)
    columns = used_columns(found)
    links: dict[Path, str | None] = {}
    games: list[dict[str, Any]] = []
    for number, (rep, cells) in enumerate(found):
        if not games or games[-1]["title"] != rep.game_title:
            games.append({"title": rep.game_title, "reps": []})
        if rep.audio is not None and rep.audio not in links:
            links[rep.audio] = link(rep.audio)
        source = links.get(rep.audio) if rep.audio is not None else None
        games[-1]["reps"].append(
            {
                "id": f"{block.key}-{number}",
                "cells": [(key, cells[key]) for key in columns],
                **_said(rep),
                "src": source,
            }
        )
    return {
        "columns": list(columns.values()),
        "games": games,
        "several": len(games) > 1,
        "any_words": any(rep.words for rep, _ in found),
        "any_audio": any(links.values()),
    }


def _said(rep: GradedRep) -> dict[str, str]:
    return {
        "words": rep.words,
        "coach_note": rep.coach_note,
        "start": f"{rep.row.start:.2f}",
        "end": f"{rep.row.end:.2f}",
        "label": f"{rep.game_title}, rep {rep.row.rep}",
    }
