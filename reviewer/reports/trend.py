"""Does a share change over the games, or could chance have done it?

The Cochran-Armitage trend over games in order, with an exact p where the counts are small, and
the Benjamini-Hochberg adjustment for looking at many terms at once.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

EXACT_HITS = 40
"""With at most this many hits (or misses) the p is exact; above, the normal curve serves."""

LIKELY_CHANCE = 0.05
"""An (adjusted) p at or above this is shown as "could be chance"."""


@dataclass(frozen=True, slots=True)
class P:
    """A p value, as a cell of a table: shown as ".034" or "< .001"."""

    value: float


@dataclass(frozen=True, slots=True)
class Trend:
    """The trend of a share over ordered games.

    z: Cochran-Armitage statistic, positive when the share rises. p: two-sided. exact: how p came.
    early, late: (hits, total) of the first and the second half of the games, for people to read.
    """

    z: float
    p: float
    exact: bool
    early: tuple[int, int]
    late: tuple[int, int]

    @property
    def direction(self) -> Literal["up", "down", "level"]:
        if abs(self.z) < 1e-12:
            return "level"
        return "up" if self.z > 0 else "down"


def trend(hits: Sequence[int], totals: Sequence[int]) -> Trend | None:
    """The trend of hits[i] out of totals[i] over games i, equally spaced.

    Games without trials keep their place in time and give no evidence. None when there is
    nothing to tell: fewer than two games with trials, or all hits, or none. Cochran, Biometrics
    10 (1954) 417-451; Armitage, Biometrics 11 (1955) 375-386. Raises ValueError when the counts
    do not fit together.
    """
    if len(hits) != len(totals) or any(not 0 <= h <= t for h, t in zip(hits, totals, strict=True)):
        raise ValueError("each game needs hits between 0 and its total")
    played, made = sum(totals), sum(hits)
    if made in (0, played) or sum(t > 0 for t in totals) < 2:
        return None
    z = _statistic(hits, totals)
    exact = min(made, played - made) <= EXACT_HITS
    p = _exact_p(hits, totals) if exact else math.erfc(abs(z) / math.sqrt(2))
    middle = len(hits) // 2
    early = (sum(hits[:middle]), sum(totals[:middle]))
    late = (sum(hits[middle:]), sum(totals[middle:]))
    return Trend(z, p, exact, early, late)


def _statistic(hits: Sequence[int], totals: Sequence[int]) -> float:
    played, made = sum(totals), sum(hits)
    share = made / played
    mean = sum(i * t for i, t in enumerate(totals)) / played
    drift = sum((i - mean) * h for i, h in enumerate(hits))
    spread = sum(t * (i - mean) ** 2 for i, t in enumerate(totals))
    return drift / math.sqrt(share * (1 - share) * spread)


def _exact_p(hits: Sequence[int], totals: Sequence[int]) -> float:
    """Two-sided p over all ways to deal the same number of hits among the games' trials."""
    import numpy as np

    made, played = sum(hits), sum(totals)
    if made > played - made:
        hits = [t - h for h, t in zip(hits, totals, strict=True)]
        made = sum(hits)
    top = made * (len(totals) - 1)
    ways = np.zeros((made + 1, top + 1))
    ways[0, 0] = 1.0
    for place, total in enumerate(totals):
        dealt = np.zeros_like(ways)
        for k in range(min(total, made) + 1):
            shift = place * k
            dealt[k:, shift:] += math.comb(total, k) * ways[: made + 1 - k, : top + 1 - shift]
        ways = dealt
    weights = ways[made] / ways[made].sum()
    expected = made * sum(i * t for i, t in enumerate(totals)) / played
    gap = abs(sum(i * h for i, h in enumerate(hits)) - expected)
    as_far = np.abs(np.arange(top + 1) - expected) >= gap - 1e-9
    return min(1.0, float(weights[as_far].sum()))


def adjusted(ps: Sequence[float]) -> list[float]:
    """The p values adjusted for being many, in the order given.

    Benjamini & Hochberg, J. R. Statist. Soc. B 57 (1995) 289-300.
    """
    order = sorted(range(len(ps)), key=lambda i: ps[i], reverse=True)
    result = [1.0] * len(ps)
    least = 1.0
    for rank, i in zip(range(len(ps), 0, -1), order, strict=True):
        least = min(least, ps[i] * len(ps) / rank)
        result[i] = least
    return result
