"""Techniques and faults over time: is it getting better, and could chance have done it?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from reviewer.reports.reps import GradedRep, by_game, field_values
from reviewer.reports.trend import LIKELY_CHANCE, Trend, adjusted, trend

FEWEST = 5
"""A term seen in fewer reps is not tested: there is nothing to learn from it yet."""

Measure = Literal["how often", "share won"]


@dataclass(frozen=True, slots=True)
class Course:
    """One term's course over the games.

    measure: "how often" counts the reps that have the term among all reps of the game; "share won"
        counts the wins among the reps with the term that were won or lost.
    games: titles, oldest first; hits, totals: one a game. found: None when nothing can be told.
    p: two-sided, adjusted for all the courses looked at together; None without a trend.
    """

    field: str
    term: str
    measure: Measure
    games: tuple[str, ...]
    hits: tuple[int, ...]
    totals: tuple[int, ...]
    found: Trend | None
    p: float | None = None

    @property
    def chance(self) -> bool:
        """Whether chance alone could have made the change."""
        return self.p is None or self.p >= LIKELY_CHANCE


def courses(
    reps: Sequence[GradedRep],
    wanted: Sequence[tuple[str, Measure]] = (("faults", "how often"), ("techniques", "share won")),
    fewest: int = FEWEST,
) -> list[Course]:
    """The course of every term that occurs in at least `fewest` reps, surest change first.

    Needs at least three games (with fewer a line through them means nothing): else empty.
    """
    games = by_game(reps)
    if len(games) < 3:
        return []
    found = [
        _course(games, field, term, measure)
        for field, measure in wanted
        for term in _terms(reps, field, fewest)
    ]
    return _adjust(found)


def overall(reps: Sequence[GradedRep]) -> Course | None:
    """The course of the share of wins over all reps; None with fewer than three games."""
    games = by_game(reps)
    if len(games) < 3:
        return None
    hits, totals = zip(*(_won(found) for found in games.values()), strict=True)
    seen = trend(hits, totals)
    return Course("verdict", "win", "share won", tuple(games), hits, totals, seen, seen.p if seen else None)


def _terms(reps: Sequence[GradedRep], field: str, fewest: int) -> list[str]:
    counts: dict[str, int] = {}
    for rep in reps:
        for value in field_values(rep.row, field):
            counts[value] = counts.get(value, 0) + 1
    return sorted(term for term, count in counts.items() if count >= fewest)


def _course(games: dict[str, list[GradedRep]], field: str, term: str, measure: Measure) -> Course:
    hits: list[int] = []
    totals: list[int] = []
    for reps in games.values():
        having = [rep for rep in reps if term in field_values(rep.row, field)]
        hit, total = (len(having), len(reps)) if measure == "how often" else _won(having)
        hits.append(hit)
        totals.append(total)
    return Course(field, term, measure, tuple(games), tuple(hits), tuple(totals), trend(hits, totals))


def _won(reps: Sequence[GradedRep]) -> tuple[int, int]:
    wins = sum(rep.row.verdict == "win" for rep in reps)
    return wins, wins + sum(rep.row.verdict == "loss" for rep in reps)


def _adjust(found: list[Course]) -> list[Course]:
    tested = [course for course in found if course.found is not None]
    ps = adjusted([course.found.p for course in tested if course.found])
    sure = [replace(course, p=p) for course, p in zip(tested, ps, strict=True)]
    untested = [course for course in found if course.found is None]
    return sorted(sure, key=lambda c: (c.p or 0.0, -sum(c.totals))) + untested
