"""Trends over games against R's documented example, brute force and scipy."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reviewer.reports.trend import adjusted, trend


def test_smokers_as_in_rs_prop_trend_test():
    # R, ?prop.trend.test: smokers 83 90 129 70 of 86 93 136 82, from Fleiss (1981) p. 139:
    # X-squared 8.2249, p 0.004132 (from memory; statsmodels 0.15.0, which divides by n - 1, has
    # 8.204205 = 8.2249 * 396/397).
    found = trend([83, 90, 129, 70], [86, 93, 136, 82])
    assert round(found.z**2, 4) == 8.2249
    assert found.z**2 * 396 / 397 == pytest.approx(8.204204597, abs=1e-8)
    assert found.direction == "down"


def test_many_hits_take_the_normal_curve():
    doubled = trend([830, 900, 1290, 700], [1660, 1800, 2720, 1640])
    assert not doubled.exact
    assert 0 < doubled.p < 1


def brute_force_p(hits, totals):
    """Every way to choose which trials hit, counted one by one."""
    trials = [game for game, total in enumerate(totals) for _ in range(total)]
    made = sum(hits)
    expected = made * sum(trials) / len(trials)
    gap = abs(sum(i * h for i, h in enumerate(hits)) - expected)
    sums = [sum(chosen) for chosen in itertools.combinations(trials, made)]
    return sum(abs(s - expected) >= gap - 1e-9 for s in sums) / len(sums)


@settings(deadline=None)
@given(st.lists(st.integers(0, 3), min_size=2, max_size=5), st.data())
def test_exact_p_is_brute_force(totals, data):
    hits = [data.draw(st.integers(0, total)) for total in totals]
    found = trend(hits, totals)
    if found is None:
        assert sum(hits) in (0, sum(totals)) or sum(t > 0 for t in totals) < 2
    else:
        assert found.exact
        assert found.p == pytest.approx(brute_force_p(hits, totals))


def test_a_plain_rise_is_seen_and_halved():
    found = trend([0, 1, 1, 4, 5, 5], [6, 6, 6, 6, 6, 6])
    assert found.direction == "up"
    assert found.p < 0.01
    assert (found.early, found.late) == ((2, 18), (14, 18))


def test_level_is_level():
    found = trend([2, 2, 2], [5, 5, 5])
    assert found.direction == "level"
    assert found.p == pytest.approx(1.0)


def test_nothing_to_tell():
    assert trend([0, 0], [3, 4]) is None
    assert trend([3, 4], [3, 4]) is None
    assert trend([1, 0], [3, 0]) is None


def test_counts_must_fit():
    with pytest.raises(ValueError, match="between 0 and its total"):
        trend([4], [3])


@settings(deadline=None)
@given(st.lists(st.floats(0, 1), min_size=1, max_size=20))
def test_adjusting_is_scipys(ps):
    from scipy.stats import false_discovery_control

    assert adjusted(ps) == pytest.approx(list(false_discovery_control(ps)))


def test_adjusting_none():
    assert adjusted([]) == []
