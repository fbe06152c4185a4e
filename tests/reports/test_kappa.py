"""Cohen's kappa against published worked examples and statsmodels."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reviewer.reports.kappa import cross_table, kappa

# Cohen, Psychol. Bull. 70 (1968) 213-220, Table 1 (quoted).
COHEN = [[88, 14, 18], [10, 40, 10], [2, 6, 12]]
# Fleiss, Cohen & Everitt, Psychol. Bull. 72 (1969) 323-327 (quoted).
FLEISS = [[106, 10, 4], [22, 28, 10], [2, 12, 6]]


def test_cohen_1968_plain():
    found = kappa(COHEN)
    assert (found.n, round(found.observed, 2), round(found.expected, 2)) == (200, 0.70, 0.41)
    assert round(found.value, 3) == 0.492
    assert found.words == "moderate"


@pytest.mark.parametrize(
    ("weights", "value"),
    # The first as published; the second by formula (see the same paper's other weights).
    [([[0, 1, 3], [1, 0, 6], [3, 6, 0]], 0.348), ([[0, 1, 4], [1, 0, 6], [2, 2, 0]], 0.353)],
)
def test_cohen_1968_weighted(weights, value):
    assert round(kappa(COHEN, weights).value, 3) == value


def test_fleiss_1969():
    assert round(kappa(FLEISS).value, 3) == 0.429
    alike = [[1, 0, 0.4444], [0, 1, 0.6667], [0.4444, 0.6667, 1]]
    apart = [[1 - w for w in row] for row in alike]
    found = kappa(FLEISS, apart)
    assert round(found.value, 3) == 0.507
    # Standard errors computed with statsmodels 0.15.0 cohens_kappa.
    assert found.error == pytest.approx(0.05699388, abs=1e-7)
    assert kappa(FLEISS).error == pytest.approx(0.05371100, abs=1e-7)


@pytest.mark.parametrize(
    ("weights", "value", "error", "low", "high"),
    # Computed with statsmodels 0.15.0; the values agree with scikit-learn 1.9.1 cohen_kappa_score.
    [
        ("none", 0.49152542, 0.05100182, 0.39156370, 0.59148714),
        ("linear", 0.47368421, 0.05443231, 0.36699885, 0.58036958),
        ("quadratic", 0.45454545, 0.06645368, 0.32429863, 0.58479228),
    ],
)
def test_intervals_as_statsmodels_has_them(weights, value, error, low, high):
    found = kappa(COHEN, weights)
    got = (found.value, found.error, found.interval.low, found.interval.high)
    assert got == pytest.approx((value, error, low, high), abs=1e-7)


@pytest.mark.parametrize(
    ("table", "value"),  # computed with scikit-learn 1.9.1
    [([[20, 5], [10, 15]], 0.4), ([[45, 15], [25, 15]], 0.1304), ([[25, 35], [5, 35]], 0.2593)],
)
def test_two_by_two(table, value):
    assert round(kappa(table).value, 4) == value


def test_one_category_is_undefined():
    found = kappa([[7, 0], [0, 0]])
    assert found.value is None
    assert found.interval is None
    assert found.words == ""


def test_perfect_agreement_claims_no_certainty():
    found = kappa([[3, 0], [0, 2]])
    assert found.value == 1.0
    assert found.interval is None


def test_a_grader_who_always_says_the_same_has_no_interval():
    found = kappa([[21, 0], [1, 0]])
    assert found.value == pytest.approx(0.0)
    assert found.interval is None


def test_pairs_are_counted_by_category():
    pairs = [("win", "win"), ("win", "loss"), ("loss", "loss")]
    assert cross_table(pairs, ("loss", "neutral", "win")) == [[1, 0, 0], [0, 0, 0], [1, 0, 1]]


@settings(deadline=None)
@given(st.lists(st.lists(st.integers(0, 30), min_size=3, max_size=3), min_size=3, max_size=3))
def test_swapping_the_graders_changes_nothing(table):
    if not any(map(any, table)):
        return
    turned = [list(column) for column in zip(*table, strict=True)]
    one, two = kappa(table, "linear"), kappa(turned, "linear")
    assert (one.value is None) == (two.value is None)
    if one.value is not None:
        assert one.value == pytest.approx(two.value)
        assert one.error == pytest.approx(two.error)
