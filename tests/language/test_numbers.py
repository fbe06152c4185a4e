"""Spoken numbers against outside references."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from reviewer.language.numbers import read_numbers
from reviewer.language.tokens import tokenize, words_from_text


def numbers(text: str) -> list[str]:
    return [n.digits for n in read_numbers(tokenize(words_from_text(text)).tokens)]


# Usage from grammar and teaching texts (digit by digit, 0 is "oh", "double five", "a hundred and two"):
# quoted. The readings in this table are ours, as word2number and text2num disagree on them.
@pytest.mark.parametrize(
    ("said", "digits"),
    [
        ("seventy four", "74"), ("seven four", "74"), ("oh seven", "07"), ("zero seven", "07"),
        ("double zero", "00"), ("double oh", "00"), ("double five", "55"), ("a hundred and two", "102"),
        ("one hundred two", "102"), ("one oh two", "102"), ("sixtieth", "60"), ("for four yards", "4"),
        ("9-4", "94"), ("90 four", "94"), ("number 94", "94"),
    ],
)  # fmt: skip
def test_usage(said: str, digits: str) -> None:
    assert numbers(said) == [digits]


@given(st.integers(min_value=0, max_value=999))
def test_plain_cardinals_read_back(n: int) -> None:
    """num2words 0.5.14 writes them; word2number 1.1 and text2num 3.1.0 read them alike (computed)."""
    found = read_numbers(tokenize(words_from_text(num2words(n))).tokens)
    assert [f.value for f in found] == [n]


@pytest.mark.parametrize(
    ("said", "digits"),
    [
        ("ninety-four, ninety-five", ["94", "95"]),
        ("second and eight, seventy-six", ["2", "8", "76"]),
        ("one on one with ninety", ["1", "1", "90"]),
        ("94 and 57", ["94", "57"]),
    ],
)
def test_neighbours_stay_apart(said: str, digits: list[str]) -> None:
    assert numbers(said) == digits


def test_a_decade_is_no_number_of_a_man() -> None:
    found = read_numbers(tokenize(words_from_text("a number in the eighties")).tokens)
    assert [f.plural for f in found] == [True]
