"""A report for the terminal: tables, and bars drawn with block characters."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from reviewer.reports.document import Bars, Document, Grid, Line, Reps, Table
from reviewer.reports.formats.rep_cells import line
from reviewer.reports.formats.text_tables import empty_table, grids, tables
from reviewer.reports.harmless import harmless
from reviewer.reports.reps import GradedRep
from reviewer.reports.scale import Grade, RepScore
from reviewer.reports.tally import Tally
from reviewer.reports.wording import cell_words, grade_words, number, percent, tally_cell

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.table import Table as RichTable

BAR_COLUMNS = 30
STYLES = {"win": "bold green", "loss": "bold red", "neutral": ""}
SIGNS = {"win": "+ win", "loss": "− loss", "neutral": "· neutral"}
"""A sign beside the word, so that a verdict is seen without colour too."""


def text(document: Document, width: int = 100, words: bool = False) -> str:
    """The document as plain text of that width, without colours."""
    from rich.console import Console

    sink = io.StringIO()
    show(document, Console(file=sink, width=width, color_system=None, legacy_windows=False), words)
    return "\n".join(row.rstrip() for row in sink.getvalue().splitlines()) + "\n"


def show(document: Document, console: Console, words: bool = False) -> None:
    """Print the document to a console; `words` adds what was said under each rep."""
    from rich.text import Text

    document = harmless(document)
    console.print(Text(document.title, style="bold"))
    if document.subtitle:
        console.print(Text(document.subtitle, style="italic"))
    for label, value in document.facts:
        console.print(Text.assemble((f"{label}: ", "dim"), cell_words(value)))
    for remark in document.remarks:
        console.print(Text(remark, style="yellow"))
    if document.caution:
        console.print(Text(document.caution, style="bold"))
    for block in document.blocks:
        console.print()
        console.print(Text(block.title, style="bold"))
        if block.about:
            console.print(Text(block.about, style="dim"))
        match block:
            case Table():
                for part in tables(block, console.width):
                    console.print(part)
            case Grid():
                for part in grids(block, console.width):
                    console.print(part)
            case Bars():
                _bars(block, console)
            case Line():
                _line(block, console)
            case Reps():
                console.print(_reps(block, words))


def _plain(value: str) -> RenderableType:
    from rich.text import Text

    # Text as it is: square brackets in a coach's words are no markup.
    return Text(value)


def _bars(block: Bars, console: Console) -> None:
    if not block.bars:
        return
    longest = max(tally.reps for _, tally in block.bars)
    label = max(len(name) for name, _ in block.bars)
    for name, tally in block.bars:
        bar = _bar(tally, longest)
        console.print(_plain(f"{name:>{label}} {bar:<{BAR_COLUMNS}} {tally_cell(tally)}"), soft_wrap=True)


def _bar(tally: Tally, longest: int) -> str:
    """Wins solid, neutral light, losses hollow; every part at least one column."""
    parts = ((tally.wins, "█"), (tally.neutral, "░"), (tally.losses, "▒"))
    room = BAR_COLUMNS - 3
    return "".join(sign * max(1, round(count / longest * room)) for count, sign in parts if count)


def _line(block: Line, console: Console) -> None:
    label = max((len(name) for name, _ in block.points), default=0)
    for name, grade in block.points:
        console.print(_plain(f"{name:>{label}} {_whisker(grade)} {grade_words(grade)}"), soft_wrap=True)
    cutoff = block.points[0][1] if block.points else None
    if cutoff is not None:
        value = percent(cutoff.cutoff) if cutoff.show == "percent" else number(cutoff.cutoff)
        console.print(_plain(f"{'':>{label}} | marks the cut-off of {value}"))


def _whisker(grade: Grade) -> str:
    """The interval as a line, the grade as a dot, the cut-off as a bar; for per cent only."""
    if grade.show != "percent" or grade.value is None or grade.interval is None:
        return ""
    last = BAR_COLUMNS - 1
    canvas = [" "] * BAR_COLUMNS
    for place in range(round(grade.interval.low * last), round(grade.interval.high * last) + 1):
        canvas[place] = "─"
    canvas[round(grade.cutoff * last)] = "|"
    canvas[round(grade.value * last)] = "●"
    return "".join(canvas)


def _reps(block: Reps, words: bool) -> RichTable:
    from rich.text import Text

    shown = empty_table()
    scored = any(score is not None for score in block.scores)
    several = len({rep.row.player for rep in block.reps}) > 1
    for title in ("Rep", "Time", *(["No."] if several else []), "What", "A T F", "Verdict"):
        shown.add_column(title, no_wrap=title != "What")
    if scored:
        shown.add_column("Pts", justify="right")
    game = ""
    blank = [""] * (int(scored) + int(several) + 4)
    scores = block.scores or [None] * len(block.reps)
    for rep, score in zip(block.reps, scores, strict=True):
        if rep.game_title != game:
            game = rep.game_title
            shown.add_row("", "", *([""] if several else []), Text(game, style="bold"))
        cells = line(rep, score)
        first = [cells["rep"], cells["time"], *([cells["player"]] if several else [])]
        verdict = Text(SIGNS[rep.row.verdict], style=STYLES[rep.row.verdict])
        shown.add_row(
            *first, _what(rep, score), cells["marks"], verdict, *([cells["points"]] if scored else [])
        )
        if words and rep.words:
            place = 3 if several else 2
            shown.add_row(*blank[:place], Text(f"“{rep.words}”", style="dim"))
    return shown


def _what(rep: GradedRep, score: RepScore | None) -> RenderableType:
    cells = line(rep, score)
    order = ("situation", "play", "faced", "did", "remarks")
    return _plain(" · ".join(cells[key] for key in order if cells[key]))
