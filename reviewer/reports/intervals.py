"""How sure a share of wins is: Wilson intervals and Newcombe's interval for a difference.

A share is a fraction, 0..1, never a percentage. No interval exists for no trials: such a share
has None everywhere, and nobody downstream may print a number for it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

LEVEL = 0.95
"""The level of every interval shown unless another is asked for."""


@dataclass(frozen=True, slots=True)
class Interval:
    """A closed interval of shares or differences of shares."""

    low: float
    high: float

    def __contains__(self, value: float) -> bool:
        return self.low <= value <= self.high


@dataclass(frozen=True, slots=True)
class Share:
    """`hits` of `total`, with its Wilson interval. `value` and `interval` are None for no trials."""

    hits: int
    total: int
    value: float | None
    interval: Interval | None


@dataclass(frozen=True, slots=True)
class Difference:
    """A difference of two shares, first minus second, with Newcombe's interval.

    `chance` is True when the interval holds zero: the two may well be the same.
    """

    value: float
    interval: Interval

    @property
    def chance(self) -> bool:
        return 0.0 in self.interval


@lru_cache(maxsize=8)
def normal_quantile(level: float) -> float:
    """The two-sided standard normal quantile z of a level, 1.959964 for 0.95."""
    if not 0 < level < 1:
        raise ValueError(f"a confidence level lies between 0 and 1, not at {level}")
    # the same to 1e-15 as scipy's, whose import takes as long as half a sheet
    return NormalDist().inv_cdf(0.5 + level / 2)


@lru_cache(maxsize=4096)
def wilson(hits: int, total: int, level: float = LEVEL) -> Interval | None:
    """Wilson's score interval (without continuity correction) of `hits` out of `total`.

    None when total is 0. Wilson 1927; Newcombe, Statist. Med. 17 (1998) 857-872, method 3.
    Raises ValueError when hits are not between 0 and total.
    """
    if not 0 <= hits <= total:
        raise ValueError(f"{hits} hits out of {total} is no share")
    return wilson_of_mean(hits / total, total, level) if total else None


def wilson_of_mean(mean: float, total: int, level: float = LEVEL) -> Interval:
    """Wilson's interval for the mean of `total` scores that each lie between 0 and 1.

    For scores of only 0 and 1 it is Wilson's interval of their share. For others it errs on the
    wide side: no scores between 0 and 1 spread more than mean * (1 - mean).
    """
    if not 0 <= mean <= 1 or total < 1:
        raise ValueError(f"a mean of {mean} over {total} scores is not one of scores between 0 and 1")
    z = normal_quantile(level)
    spread = 1 + z * z / total
    middle = (mean + z * z / (2 * total)) / spread
    half = z * math.sqrt(mean * (1 - mean) / total + z * z / (4 * total * total)) / spread
    # At the ends the formula is exactly 0 or 1; rounding must not say 1e-17.
    low = 0.0 if mean == 0 else middle - half
    high = 1.0 if mean == 1 else middle + half
    return Interval(low, high)


def share(hits: int, total: int, level: float = LEVEL) -> Share:
    """The share of hits with its Wilson interval; see `wilson`."""
    interval = wilson(hits, total, level)
    return Share(hits, total, hits / total if total else None, interval)


def difference(first: tuple[int, int], second: tuple[int, int], level: float = LEVEL) -> Difference | None:
    """The difference of two independent shares, each given as (hits, total).

    Newcombe, Statist. Med. 17 (1998) 873-890, method 10: square-and-add of Wilson's limits.
    None when either has no trials.
    """
    one, two = wilson(*first, level), wilson(*second, level)
    if one is None or two is None:
        return None
    p1, p2 = first[0] / first[1], second[0] / second[1]
    gap = p1 - p2
    low = gap - math.hypot(p1 - one.low, two.high - p2)
    high = gap + math.hypot(one.high - p1, p2 - two.low)
    return Difference(gap, Interval(low, high))
