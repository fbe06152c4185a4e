"""Figures of a measurement: against the best of others in the same run, and against a stated limit."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

PAGE = Path(__file__).parents[1] / "docs" / "benchmarks.md"

_HEAD = ("what", "here", "best other", "here / other", "limit", "here / limit")


@dataclass(frozen=True)
class Figure:
    """One figure; less is better. others: what others needed for the same in the same run, by name.

    limit: what was promised; None for nothing.
    """

    what: str
    here: float
    unit: str = ""
    others: tuple[tuple[str, float], ...] = ()
    limit: float | None = None

    @property
    def best(self) -> tuple[str, float] | None:
        """The other that did best."""
        return min(self.others, key=lambda other: other[1], default=None)

    @property
    def ratio(self) -> float | None:
        """How much of the best other's is needed here."""
        return self.here / self.best[1] if self.best and self.best[1] else None

    def cells(self) -> tuple[str, ...]:
        """The figure as a line of a table."""
        best = f"{self.best[0]}: {_number(self.best[1], self.unit)}" if self.best else "–"
        limit = _number(self.limit, self.unit) if self.limit is not None else "–"
        share = _plain(self.here / self.limit) if self.limit else "–"
        ratio = _plain(self.ratio) if self.ratio is not None else "–"
        return self.what, _number(self.here, self.unit), best, ratio, limit, share


def _plain(number: float) -> str:
    return f"{number:.0f}" if abs(number) >= 100 else f"{number:.3g}"


def _number(number: float, unit: str) -> str:
    return f"{_plain(number)} {unit}".strip()


def as_text(figures: Iterable[Figure]) -> str:
    """The figures as columns for a terminal."""
    lines = [_HEAD, *(figure.cells() for figure in figures)]
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    padded = (
        "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)) for line in lines
    )
    return "\n".join(line.rstrip() for line in padded)


def as_markdown(figures: Sequence[Figure], day: date | None = None) -> str:
    """The figures as a table under the date and the machine's processors."""
    processors = os.cpu_count() or 1
    load = os.getloadavg()[0]
    rows = [_HEAD, ("---",) * len(_HEAD), *(figure.cells() for figure in figures)]
    table = "\n".join(f"| {' | '.join(row)} |" for row in rows)
    when = (day or date.today()).isoformat()
    return f"Measured {when} on {processors} processors, load {load:.0f}.\n\n{table}"


def put_into(page: str, name: str, table: str) -> str:
    """The page with a measurement's table between its marks. Raises ValueError where it has none."""
    marks = re.compile(rf"(<!-- measured: {re.escape(name)} -->\n).*?(\n<!-- end -->)", re.S)
    if not marks.search(page):
        raise ValueError(f"{PAGE.name} has no place for {name}")
    return marks.sub(lambda found: f"{found[1]}\n{table}\n{found[2]}", page, count=1)
