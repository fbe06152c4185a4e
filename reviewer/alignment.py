"""Lay two ordered lists of the same events beside each other, gaps allowed on both sides.

Every way to pair them in order is weighed by the sum of its scores, and a pair's probability is the
weight of all ways that have it: the forward-backward reading of a pair hidden Markov model (Durbin
et al., Biological Sequence Analysis, 1998, chapter 4). Scores are logarithms of likelihood ratios:
how much more likely two entries look as they do when they are the same event than when they are not.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

NEVER = -math.inf

Matrix = list[list[float]]


@dataclass(frozen=True, slots=True)
class Pair:
    """Entry `first` of the one list is entry `second` of the other, with that probability."""

    first: int
    second: int
    probability: float


def align(
    scores: Sequence[Sequence[float]],
    skip_first: float = -3.0,
    skip_second: float = 0.0,
    least: float = 0.5,
) -> list[Pair]:
    """The pairs of the best pairing in order, those with a probability of at least `least`.

    scores[i][j]: of pairing i with j. skip_first, skip_second: score of leaving an entry of the first
    or the second list without a partner. Time and memory grow with the product of the lengths.
    """
    if not scores or not scores[0]:
        return []
    found = probabilities(scores, skip_first, skip_second)
    return [Pair(i, j, found[i][j]) for i, j in _best(found) if found[i][j] >= least]


def probabilities(scores: Sequence[Sequence[float]], skip_first: float, skip_second: float) -> Matrix:
    """For each pair the probability that the two are one event, over all pairings in order."""
    rows, columns = len(scores), len(scores[0])
    forward = _weights(scores, skip_first, skip_second)
    turned = [list(reversed(row)) for row in reversed(scores)]
    # Backwards the order of skips inside a gap turns too; the sums over a whole gap are the same.
    backward = _weights(turned, skip_first, skip_second)
    total = forward[rows][columns]
    return [
        [
            math.exp(min(0.0, forward[i][j] + scores[i][j] + backward[rows - 1 - i][columns - 1 - j] - total))
            for j in range(columns)
        ]
        for i in range(rows)
    ]


def _weights(scores: Sequence[Sequence[float]], skip_first: float, skip_second: float) -> Matrix:
    """Log weight of all pairings of the first i with the first j entries.

    Inside a gap the entries of the first list are skipped before those of the second, so that one
    pairing is counted once: `open_` holds pairings that may still skip an entry of the first list.
    """
    rows, columns = len(scores), len(scores[0])
    open_ = [[NEVER] * (columns + 1) for _ in range(rows + 1)]
    whole = [[NEVER] * (columns + 1) for _ in range(rows + 1)]
    for i in range(rows + 1):
        for j in range(columns + 1):
            here = 0.0 if i == j == 0 else NEVER
            if i and j:
                here = whole[i - 1][j - 1] + scores[i - 1][j - 1]
            if i:
                here = _add(here, open_[i - 1][j] + skip_first)
            open_[i][j] = here
            whole[i][j] = _add(here, whole[i][j - 1] + skip_second) if j else here
    return whole


def _add(one: float, two: float) -> float:
    """log(exp(one) + exp(two))."""
    high, low = (one, two) if one >= two else (two, one)
    return high if low == NEVER else high + math.log1p(math.exp(low - high))


def _best(found: Matrix) -> list[tuple[int, int]]:
    """The pairing in order whose probabilities add up to most."""
    rows, columns = len(found), len(found[0])
    best = [[0.0] * (columns + 1) for _ in range(rows + 1)]
    for i in range(1, rows + 1):
        for j in range(1, columns + 1):
            together = best[i - 1][j - 1] + found[i - 1][j - 1]
            best[i][j] = max(together, best[i - 1][j], best[i][j - 1])
    pairs: list[tuple[int, int]] = []
    i, j = rows, columns
    while i and j:
        if best[i][j] == best[i - 1][j]:
            i -= 1
        elif best[i][j] == best[i][j - 1]:
            j -= 1
        else:
            i, j = i - 1, j - 1
            pairs.append((i, j))
    return pairs[::-1]
