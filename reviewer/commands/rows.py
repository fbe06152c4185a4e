"""Grade rows as a table: wide or narrow, with what is doubtful marked by signs, not only by colour."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from reviewer.commands.terminal import cell, say
from reviewer.look import concluded_fields, doubtful_fields, needs_look
from reviewer.records import GradeRow
from reviewer.reports.wording import clock, marks_words, situation

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

WIDE = 112
"""From this many columns on every part of a row has a column of its own."""

DOUBTFUL = "?"
LOOK = "!"
LEGEND = {
    DOUBTFUL: f"{DOUBTFUL} not sure",
    "(": "(…) concluded, not said",
    LOOK: f"{LOOK} needs a look",
}
VERDICT_SIGNS = {"win": "+ win", "loss": "− loss", "neutral": "· neutral"}
_VERDICT_STYLES = {"win": "green", "loss": "red", "neutral": "yellow"}


@dataclass(frozen=True, slots=True)
class ShownRow:
    """A row with what the coach has decided about it."""

    row: GradeRow
    confirmed: bool = False
    decided: frozenset[str] = frozenset()


def row_cells(shown: ShownRow, times: bool = True) -> dict[str, str]:
    """A row's cells as plain text, by column name. times: whether its times are measured."""
    row = shown.row
    doubt = doubtful_fields(row, GRADE_DECIDED if shown.confirmed else shown.decided)
    concluded = frozenset() if shown.confirmed else concluded_fields(row, shown.decided)

    def say(text: str | None, *fields: str) -> str:
        if not text:
            return ""
        text = f"({text})" if any(name in concluded for name in fields) else text
        return text + DOUBTFUL if any(name in doubt for name in fields) else text

    def items(name: str) -> str:
        return say(", ".join(getattr(row, name)), name)

    men = say(" and ".join(row.opponents), "opponents")
    where = say(row.alignment and f"in {row.alignment}", "alignment")
    faced = ", ".join(filter(None, (items("moves"), items("games"))))
    done = ", ".join(filter(None, (say(row.set and f"{row.set} set", "set"), items("techniques"))))
    play = items("concepts") or say(row.phase, "phase")
    return {
        "Rep": f"{LOOK if needs_look(row, shown.confirmed) else ''}{row.rep}",
        "Time": clock(row.start) if times else "",
        "No.": say(row.player, "player") or "–",
        "Situation": say(situation(row), "down", "distance", "goal_to_go"),
        "Play": ", ".join(filter(None, (play, say(row.side, "side"), say(row.play_result, "play_result")))),
        "Against": ": ".join(filter(None, (" ".join(filter(None, (men, where))), faced))),
        "What he did": done,
        "Also": ", ".join(filter(None, (items("events"), items("safety"), items("labels")))),
        "Faults": items("faults"),
        "Verdict": say(VERDICT_SIGNS[row.verdict], "verdict"),
        "A T F": marks_words(row) if any((row.assignment, row.technique, row.finish)) else "",
        "Sure": "confirmed" if shown.confirmed else f"{100 * row.confidence:.0f} %",
    }


GRADE_DECIDED = frozenset(GradeRow.model_fields)
"""A confirmed row is decided in every field."""


def rows_table(rows: Sequence[ShownRow], width: int, times: bool = True) -> RenderableType:
    """The rows as a table for so many columns of terminal; empty columns are left out."""
    from rich import box
    from rich.table import Table

    cells = [row_cells(row, times) for row in rows]
    if width < WIDE:
        cells = [_narrow(one) for one in cells]
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1, 0, 0), show_edge=False)
    names = [name for name in cells[0] if any(one[name] for one in cells)]
    for name in names:
        short = name in _SHORT
        table.add_column(
            name,
            no_wrap=short,
            justify="right" if name in ("Rep", "Time", "No.", "Sure") else "left",
            overflow="fold",
            ratio=None,
        )
    for one, shown in zip(cells, rows, strict=True):
        style = _VERDICT_STYLES[shown.row.verdict]
        table.add_row(*(cell(one[name], style if name == "Verdict" else "") for name in names))
    return table


_SHORT = frozenset({"Rep", "Time", "No.", "Verdict", "A T F", "Sure"})


def _narrow(cells: dict[str, str]) -> dict[str, str]:
    """The parts that talk about the snap and the man, each in one column."""
    faults = cells["Faults"] and f"fault: {cells['Faults']}"
    return {
        **{name: cells[name] for name in ("Rep", "Time", "No.")},
        "Snap": ", ".join(filter(None, (cells["Situation"], cells["Play"]))),
        "Against": cells["Against"],
        "What he did": "; ".join(filter(None, (cells["What he did"], cells["Also"], faults))),
        "Verdict": cells["Verdict"],
        "A T F": cells["A T F"],
        "Sure": cells["Sure"],
    }


def legend(rows: Iterable[ShownRow], times: bool = True) -> str:
    """What the signs in a table mean; "" where it has none."""
    cells = [row_cells(row, times) for row in rows]
    everything = [text for one in cells for text in one.values()]
    used = [meaning for sign, meaning in LEGEND.items() if any(sign in text for text in everything)]
    return "   ".join(used)


def summary(rows: Sequence[ShownRow]) -> str:
    """One line: "9 rows in 8 reps: 5 wins, 3 losses, 1 neutral; 2 need a look"."""
    reps = len({shown.row.rep for shown in rows})
    counts = {verdict: sum(s.row.verdict == verdict for s in rows) for verdict in ("win", "loss", "neutral")}
    look = sum(needs_look(shown.row, shown.confirmed) for shown in rows)
    parts = (
        _count(counts["win"], "win", "wins"),
        _count(counts["loss"], "loss", "losses"),
        f"{counts['neutral']} neutral",
    )
    tail = f"; {look} need{'s' if look == 1 else ''} a look" if look else ""
    head = f"{_count(len(rows), 'row', 'rows')} in {_count(reps, 'rep', 'reps')}"
    return f"{head}: {', '.join(parts)}{tail}"


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def show_rows(out: Console, rows: Sequence[ShownRow], times: bool = True) -> None:
    """Print the table, its legend and, where a row is about head contact or an injury, the caution."""
    from reviewer.cautions import CAUTION

    out.print(rows_table(rows, out.width, times))
    if signs := legend(rows, times):
        say(out, signs)
    if any(shown.row.safety for shown in rows):
        say(out, CAUTION)
