"""Alignment against counting every pairing one by one."""

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reviewer.alignment import align, probabilities


def every_pairing(rows, columns):
    """All sets of pairs in order."""
    for size in range(min(rows, columns) + 1):
        for ours in itertools.combinations(range(rows), size):
            for theirs in itertools.combinations(range(columns), size):
                yield tuple(zip(ours, theirs, strict=True))


def brute_force(scores, skip_first, skip_second):
    rows, columns = len(scores), len(scores[0])
    weights = {}
    for pairing in every_pairing(rows, columns):
        weight = sum(scores[i][j] for i, j in pairing)
        weight += skip_first * (rows - len(pairing)) + skip_second * (columns - len(pairing))
        weights[pairing] = math.exp(weight)
    total = sum(weights.values())
    return [
        [sum(w for pairing, w in weights.items() if (i, j) in pairing) / total for j in range(columns)]
        for i in range(rows)
    ]


score = st.floats(-4, 4)


@settings(deadline=None, max_examples=60)
@given(st.integers(1, 4), st.integers(1, 4), st.data())
def test_probabilities_are_those_of_all_pairings(rows, columns, data):
    scores = [[data.draw(score) for _ in range(columns)] for _ in range(rows)]
    skips = data.draw(score), data.draw(score)
    found, wanted = probabilities(scores, *skips), brute_force(scores, *skips)
    for ours, theirs in zip(found, wanted, strict=True):
        assert ours == pytest.approx(theirs, abs=1e-9)


def test_plain_matches_with_gaps_on_both_sides():
    said, listed = "abxd", "aabcd"
    scores = [[3.0 if one == two else -3.0 for two in listed] for one in said]
    pairs = [(p.first, p.second) for p in align(scores)]
    assert (1, 2) in pairs
    assert (3, 4) in pairs
    assert all(p != 2 for p, _ in pairs)


def test_what_could_be_either_is_neither():
    # one entry, two equally good partners: each has a probability below one half
    assert align([[3.0, 3.0]]) == []


def test_nothing_to_align():
    assert align([]) == []
    assert align([[]]) == []


@settings(deadline=None)
@given(st.integers(1, 6), st.integers(1, 6), st.data())
def test_pairs_are_in_order_and_used_once(rows, columns, data):
    scores = [[data.draw(score) for _ in range(columns)] for _ in range(rows)]
    pairs = align(scores, least=0.0)
    assert [p.first for p in pairs] == sorted({p.first for p in pairs})
    assert [p.second for p in pairs] == sorted({p.second for p in pairs})
