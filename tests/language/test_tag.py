"""Of overlapping terms the longest: against the obvious way, and in a time that a long note can take."""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import given
from hypothesis import strategies as st

from reviewer.language.tag import TermSpan, keep_longest
from reviewer.language.vocabulary import Term

TERMS = [Term("swim", "moves"), Term("rip", "moves"), Term("punch", "techniques")]


def obvious(spans: Sequence[TermSpan]) -> list[TermSpan]:
    """Every span against every one kept."""
    kept: list[TermSpan] = []
    for span in sorted(set(spans), key=lambda s: (s.first - s.last, s.first, s.id)):
        rivals = [r for r in kept if r.group == span.group]
        inside = any(r.first <= span.first and span.last <= r.last for r in rivals)
        again = any(r.id == span.id and r.first < span.last and span.first < r.last for r in rivals)
        if not (inside or again):
            kept.append(span)
    return sorted(kept, key=lambda s: (s.first, s.last))


@st.composite
def spans(draw: st.DrawFn) -> TermSpan:
    first = draw(st.integers(0, 12))
    return TermSpan(draw(st.sampled_from(TERMS)), first, first + draw(st.integers(1, 5)), 0)


@given(st.lists(spans(), max_size=25))
def test_the_longest_of_a_group_stay(found: list[TermSpan]) -> None:
    assert keep_longest(found) == obvious(found)


def test_a_long_note_is_not_held_against_itself() -> None:
    """Some seconds at most; each against each would be ten thousand million looks."""
    found = [TermSpan(TERMS[0], 2 * n, 2 * n + 2, 0) for n in range(100_000)]
    assert len(keep_longest(found)) == 100_000
