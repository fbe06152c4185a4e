"""Text from outside is harmless on a terminal."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewer.review.plain import clock, count, plain


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("\x1b[31mred", "␛[31mred"),
        ("bell\x07", "bell␇"),
        ("two\nlines\tand", "two lines and"),
        ("del\x7f", "del␡"),
        ("c1\x9b31m", "c1�31m"),
        ("\u202eleft", "�left"),
        ("half\ud800", "half�"),
        ("[bold]no markup[/bold]", "[bold]no markup[/bold]"),
        ("Zoë Ōkami", "Zoë Ōkami"),
    ],
)
def test_what_a_terminal_would_act_on_is_shown(text: str, shown: str) -> None:
    assert plain(text) == shown


@given(st.text(st.characters(), max_size=40))
def test_nothing_that_a_terminal_acts_on_is_left(text: str) -> None:
    left = {unicodedata.category(char) for char in plain(text)} - {"So"}
    assert not left & {"Cc", "Cs", "Co", "Cn", "Zl", "Zp"}
    # zero-width joiners are the only format characters that stay
    assert {char for char in plain(text) if unicodedata.category(char) == "Cf"} <= set("\u200c\u200d")


def test_times_and_counts_as_people_read_them() -> None:
    assert [clock(s) for s in (0, 59.9, 61, 3661)] == ["0:00", "0:59", "1:01", "1:01:01"]
    assert [count(n, "row") for n in (0, 1, 2)] == ["0 rows", "1 row", "2 rows"]
