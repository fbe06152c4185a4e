"""Agreement beyond chance between two gradings of the same things: Cohen's kappa.

Tables are square lists of counts: row = first grader's category, column = second's, the same
categories in the same order; for weighted kappa that order is the scale's.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Literal

from reviewer.reports.intervals import LEVEL, Interval, normal_quantile

Weights = Literal["none", "linear", "quadratic"]
Table = Sequence[Sequence[float]]

LANDIS_KOCH: tuple[tuple[float, str], ...] = (
    (0.0, "poor"), (0.20, "slight"), (0.40, "fair"), (0.60, "moderate"), (0.80, "substantial"),
    (1.0, "almost perfect"),
)  # fmt: skip
"""Upper ends of the customary words for a kappa. Landis & Koch, Biometrics 33 (1977) 159-174."""


NO_ERROR = 1e-6
"""A standard error below this is none but for rounding; a real one is far larger for any count of pairs
that a person grades."""


@dataclass(frozen=True, slots=True)
class Kappa:
    """Cohen's kappa over n pairs.

    observed, expected: (weighted) shares of agreement, as seen and by chance.
    value: None where chance alone agrees wholly (one category in use): kappa is undefined there.
    interval: None too where the spread is zero (perfect agreement, or one grader with one category):
        the formula would claim certainty from any handful of pairs.
    """

    n: int
    observed: float
    expected: float
    value: float | None
    error: float | None
    interval: Interval | None

    @property
    def words(self) -> str:
        """The customary word for the value; "" when undefined."""
        if self.value is None:
            return ""
        if self.value < 0:
            return "poor"
        return next(word for top, word in LANDIS_KOCH[1:] if self.value <= top + 1e-12)


def cross_table(pairs: Sequence[tuple[Hashable, Hashable]], order: Sequence[Hashable]) -> list[list[int]]:
    """Counts of pairs by the categories of `order`. Raises KeyError for a category not in it."""
    index = {category: i for i, category in enumerate(order)}
    table = [[0] * len(order) for _ in order]
    for first, second in pairs:
        table[index[first]][index[second]] += 1
    return table


def disagreement_weights(size: int, weights: Weights) -> list[list[float]]:
    """Weights of disagreement between categories i and j, 0 on the diagonal."""
    power = {"none": 0, "linear": 1, "quadratic": 2}[weights]
    return [
        [float(i != j) if power == 0 else float(abs(i - j) ** power) for j in range(size)]
        for i in range(size)
    ]


def kappa(table: Table, weights: Weights | Table = "none", level: float = LEVEL) -> Kappa:
    """Cohen's kappa of a table of counts, weighted where the categories are ordered.

    `weights` may also be a table of disagreement weights (0 on the diagonal, >= 0 elsewhere).
    Value: Cohen, Psychol. Bull. 70 (1968) 213-220. Standard error for a kappa that is not zero:
    Fleiss, Cohen & Everitt, Psychol. Bull. 72 (1969) 323-327. Raises ValueError for a table that
    is empty or not square.
    """
    size = len(table)
    if size == 0 or any(len(row) != size for row in table):
        raise ValueError("a table of agreement is square")
    apart = (
        disagreement_weights(size, weights) if isinstance(weights, str) else [list(row) for row in weights]
    )
    n = sum(map(sum, table))
    if n == 0:
        raise ValueError("a table of agreement needs at least one pair")
    cells = [[count / n for count in row] for row in table]
    alike = _similarities(apart)
    rows = [sum(row) for row in cells]
    columns = [sum(row[j] for row in cells) for j in range(size)]
    spots = [(i, j) for i in range(size) for j in range(size)]
    observed = sum(alike[i][j] * cells[i][j] for i, j in spots)
    expected = sum(alike[i][j] * rows[i] * columns[j] for i, j in spots)
    if math.isclose(expected, 1.0, abs_tol=1e-12):
        return Kappa(round(n), observed, expected, None, None, None)
    value = (observed - expected) / (1 - expected)
    error = _standard_error(cells, alike, rows, columns, observed, expected, n)
    return Kappa(round(n), observed, expected, value, error, _interval(value, error, level))


def _similarities(apart: Table) -> list[list[float]]:
    largest = max(max(row) for row in apart) or 1.0
    return [[1 - weight / largest for weight in row] for row in apart]


def _standard_error(
    cells: Table, alike: Table, rows: Sequence[float], columns: Sequence[float],
    observed: float, expected: float, n: float,
) -> float:  # fmt: skip
    size = len(cells)
    row_mean = [sum(alike[i][j] * columns[j] for j in range(size)) for i in range(size)]
    column_mean = [sum(alike[i][j] * rows[i] for i in range(size)) for j in range(size)]
    total = sum(
        cells[i][j] * (alike[i][j] * (1 - expected) - (row_mean[i] + column_mean[j]) * (1 - observed)) ** 2
        for i in range(size)
        for j in range(size)
    )
    variance = (total - (observed * expected - 2 * expected + observed) ** 2) / (n * (1 - expected) ** 4)
    return math.sqrt(max(variance, 0.0))


def _interval(value: float, error: float, level: float) -> Interval | None:
    if math.isclose(value, 1.0, abs_tol=1e-12) or error < NO_ERROR:
        return None
    half = normal_quantile(level) * error
    return Interval(max(-1.0, value - half), min(1.0, value + half))
