"""The staff's grading scale: one small TOML file that says what each mark is worth.

    title = "Plus and minus"          # shown on the sheet
    about = "…"                       # one line: how it counts
    show = "percent"                  # or "average": points a graded rep
    cutoff = 0.80                     # a winning grade, in the unit of `show` (percent as 0..1)
    [verdict]                         # points by verdict; a verdict left out is not graded
    win = 1
    loss = 0
    [assignment] [technique] [finish] # points by mark, "+" and "-"; a mark not given is not counted
    [events]                          # points on top, by event

The common ones ship in `scales/`; the user's own is `scale.toml` in the library folder, or any file
named on the command line.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from reviewer import paths
from reviewer.errors import InputError
from reviewer.own_toml import read_toml
from reviewer.records import GradeRow
from reviewer.reports.intervals import LEVEL, Interval, wilson_of_mean

FOLDER = Path(__file__).parent / "scales"
DEFAULT = "plus-minus"
MOST_POINTS = 1_000_000
PARTS: Mapping[str, tuple[str, ...]] = {
    "verdict": ("win", "neutral", "loss"),
    "assignment": ("+", "-"),
    "technique": ("+", "-"),
    "finish": ("+", "-"),
}
"""The fields a scale may score, with the values they can have."""


@dataclass(frozen=True)
class Scale:
    """A grading scale. `points` maps a field to the points of each value; `events` adds on top."""

    name: str
    title: str
    about: str
    show: Literal["percent", "average"]
    cutoff: float
    points: Mapping[str, Mapping[str, float]]
    events: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class RepScore:
    """A rep's points, and the least and most its counted parts allow (events may pass them)."""

    points: float
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class Grade:
    """A grade over reps, in the scale's own unit.

    reps: graded reps (those with nothing the scale scores are left out). points: their sum.
    value, interval: None when nothing was graded. The interval is Wilson's, for the mean of scores
    laid between the least and the most possible; for plus and minus it is exactly Wilson's.
    winning: value at or above the cut-off. sure: the interval lies on one side of the cut-off.
    """

    show: Literal["percent", "average"]
    cutoff: float
    reps: int
    points: float
    value: float | None
    interval: Interval | None

    @property
    def winning(self) -> bool | None:
        return None if self.value is None else self.value >= self.cutoff

    @property
    def sure(self) -> bool:
        return self.interval is not None and self.cutoff not in self.interval


def score(row: GradeRow, scale: Scale) -> RepScore | None:
    """The points of one row, or None when the scale finds nothing in it to score."""
    points = least = most = 0.0
    counted = False
    for field, table in scale.points.items():
        value = getattr(row, field)
        if value not in table:
            continue
        counted = True
        points += table[value]
        least += min(table.values())
        most += max(table.values())
    extra = [scale.events[event] for event in row.events if event in scale.events]
    if not counted and not extra:
        return None
    return RepScore(points + sum(extra), least, most)


def grade(rows: Iterable[GradeRow], scale: Scale, level: float = LEVEL) -> Grade:
    """The grade of the rows on the scale."""
    scores = [counted for row in rows if (counted := score(row, scale)) is not None]
    points = sum(s.points for s in scores)
    least, most = sum(s.least for s in scores), sum(s.most for s in scores)
    if not scores or most <= least:
        value = points / len(scores) if scores and scale.show == "average" else None
        return Grade(scale.show, scale.cutoff, len(scores), points, value, None)
    part = min(1.0, max(0.0, (points - least) / (most - least)))
    found = wilson_of_mean(part, len(scores), level)
    if scale.show == "percent":
        return Grade(scale.show, scale.cutoff, len(scores), points, part, found)
    reps = len(scores)
    low = (least + found.low * (most - least)) / reps
    high = (least + found.high * (most - least)) / reps
    average = points / reps
    interval = Interval(min(low, average), max(high, average))
    return Grade(scale.show, scale.cutoff, reps, points, average, interval)


def shipped_scales() -> list[str]:
    """Names of the scales that come with the program."""
    return sorted(path.stem for path in FOLDER.glob("*.toml"))


def load_scale(name: str | None = None) -> Scale:
    """The scale of that name or file; without one the user's own `scale.toml`, else plus and minus.

    Raises InputError when it is not known or its file cannot be read as a scale.
    """
    if name is None:
        own = paths.home() / "scale.toml"
        return _read(own) if own.is_file() else _read(FOLDER / f"{DEFAULT}.toml")
    if name in shipped_scales():
        return _read(FOLDER / f"{name}.toml")
    path = Path(name).expanduser()
    if path.is_file():
        return _read(path)
    known = ", ".join(shipped_scales())
    raise InputError(f"There is no grading scale {name!r}; name one of {known}, or a scale's TOML file.")


def _read(path: Path) -> Scale:
    data = read_toml(path, "The grading scale", "mend it or name another")
    where = f"The grading scale {path}"
    unknown = sorted(set(data) - {"title", "about", "show", "cutoff", "events", *PARTS})
    if unknown:
        raise InputError(f"{where} has an unknown key {unknown[0]!r}; remove it.")
    show = data.get("show", "percent")
    if show not in ("percent", "average"):
        raise InputError(f'{where}: `show` must be "percent" or "average", not {show!r}.')
    points = {
        part: _points(where, part, data[part], allowed) for part, allowed in PARTS.items() if part in data
    }
    if not points:
        raise InputError(f"{where} scores nothing; give points under [verdict], [assignment], … .")
    if all(min(table.values()) == max(table.values()) for table in points.values()):
        raise InputError(f"{where} gives every mark the same points; a better mark must be worth more.")
    events = _points(where, "events", data.get("events", {}), None)
    cutoff = data.get("cutoff", 0.8)
    if not _is_number(cutoff):
        raise InputError(f"{where}: `cutoff` must be a number, not {cutoff!r}.")
    if show == "percent" and not 0 <= cutoff <= 1:
        raise InputError(f"{where}: `cutoff` must lie between 0 and 1 (0.80 for 80 %), not at {cutoff}.")
    title, about = data.get("title", path.stem), data.get("about", "")
    return Scale(path.stem, str(title), str(about), show, float(cutoff), points, events)


def _points(where: str, part: str, table: Any, allowed: tuple[str, ...] | None) -> dict[str, float]:
    if not isinstance(table, dict) or (allowed is not None and not table):
        raise InputError(f"{where}: [{part}] must be a table of points; mend it.")
    for key, value in table.items():
        if allowed is not None and key not in allowed:
            raise InputError(f"{where}: [{part}] knows {', '.join(allowed)}, not {key!r}.")
        if not _is_number(value):
            raise InputError(f"{where}: the points of {key!r} in [{part}] must be a number, not {value!r}.")
    return {key: float(value) for key, value in table.items()}


def _is_number(value: Any) -> bool:
    """Whether it is a number that points can be: no bool, not endless, nothing absurd."""
    real = isinstance(value, int | float) and not isinstance(value, bool)
    return real and (isinstance(value, int) or math.isfinite(value)) and abs(value) <= MOST_POINTS
