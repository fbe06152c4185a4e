"""Shares and differences against published tables and scipy."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reviewer.reports.intervals import difference, normal_quantile, share, wilson

# Newcombe, Statist. Med. 17 (1998) 857-872, Table I, method 3 (quoted); the rest computed with
# statsmodels 0.15.0.
WILSON = [
    (81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718),
    (0, 1, 0.0, 0.7935), (1, 1, 0.2065, 1.0), (0, 10, 0.0, 0.2775), (5, 10, 0.2366, 0.7634),
    (7, 10, 0.3968, 0.8922), (10, 10, 0.7225, 1.0), (45, 50, 0.7864, 0.9565),
]  # fmt: skip

# Newcombe, Statist. Med. 17 (1998) 873-890, Table II, method 10 (quoted).
DIFFERENCES = [
    ((56, 70), (48, 80), 0.0524, 0.3339),
    ((9, 10), (3, 10), 0.1705, 0.8090),
    ((6, 7), (2, 7), 0.0582, 0.8062),
    ((5, 56), (0, 29), -0.0381, 0.1926),
    ((0, 10), (0, 10), -0.2775, 0.2775),
    ((10, 10), (0, 20), 0.6791, 1.0),
]


@pytest.mark.parametrize(("hits", "total", "low", "high"), WILSON)
def test_wilson_as_published(hits, total, low, high):
    interval = wilson(hits, total)
    assert (round(interval.low, 4), round(interval.high, 4)) == (low, high)


@settings(deadline=None)
@given(st.integers(1, 400), st.data())
def test_wilson_as_scipy_has_it(total, data):
    from scipy.stats import binomtest

    hits = data.draw(st.integers(0, total))
    theirs = binomtest(hits, total).proportion_ci(method="wilson")
    ours = wilson(hits, total)
    assert ours.low == pytest.approx(theirs.low, abs=1e-12)
    assert ours.high == pytest.approx(theirs.high, abs=1e-12)
    assert hits / total in ours


def test_no_trials_have_no_share():
    empty = share(0, 0)
    assert empty.value is None
    assert empty.interval is None


@pytest.mark.parametrize(("hits", "total"), [(-1, 3), (4, 3)])
def test_impossible_counts_are_refused(hits, total):
    with pytest.raises(ValueError, match="no share"):
        wilson(hits, total)


@pytest.mark.parametrize(("first", "second", "low", "high"), DIFFERENCES)
def test_difference_as_published(first, second, low, high):
    found = difference(first, second)
    assert (round(found.interval.low, 4), round(found.interval.high, 4)) == (low, high)
    assert found.chance is (low <= 0 <= high)


def test_difference_needs_both():
    assert difference((0, 0), (1, 2)) is None


@settings(deadline=None)
@given(st.floats(0.5, 0.9999))
def test_the_normal_quantile_is_scipys(level):
    from scipy.special import ndtri

    assert normal_quantile(level) == pytest.approx(float(ndtri(0.5 + level / 2)), abs=1e-13)
