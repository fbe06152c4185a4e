"""What a spoken number counts (common practice, no source, unless named)."""

from __future__ import annotations

import pytest

from reviewer.language.situation import Figures, read_figures
from reviewer.language.tokens import tokenize, words_from_text
from reviewer.records import NoteContext, RosterEntry

ROSTER = (
    RosterEntry("76", "Teo Brandvold", "RT", "own"),
    RosterEntry("94", "Ansel Roke", "DE", "opp"),
    RosterEntry("45", "Ruel Tamm", "ILB", "opp"),
)


def figures(text: str) -> Figures:
    return read_figures(tokenize(words_from_text(text)), NoteContext(roster=ROSTER))


@pytest.mark.parametrize(
    ("said", "down", "distance", "goal"),
    [
        ("Second and eight.", 2, 8, False),
        ("third and long", 3, None, False),
        ("third and six", 3, 6, False),
        ("first and goal at the three", 1, None, True),
        ("First in goal", 1, None, True),
        ("first in ten", 1, 10, False),
        ("fourth and a yard", 4, 1, False),
        ("third down and a long six", 3, 6, False),
        ("3rd and 12", 3, 12, False),
        ("it's third down", 3, None, False),
        ("fourth and inches", 4, None, False),
        ("first and ten, no, second and seven", 2, 7, False),
        ("Third and ten. No, third and fifteen.", 3, 15, False),
    ],
)
def test_down_and_distance(said: str, down: int, distance: int | None, goal: bool) -> None:
    found = figures(said).situations
    assert [(s.down, s.distance, s.goal_to_go) for s in found] == [(down, distance, goal)]


@pytest.mark.parametrize(
    "said", ["he picks up the first down", "third quarter", "the second level", "his first step"]
)
def test_no_situation(said: str) -> None:
    assert not figures(said).situations


@pytest.mark.parametrize(
    ("said", "uses"),
    [
        ("number fifty-seven", ["jersey"]),
        ("ninety-four over him in a three technique", ["jersey", "alignment"]),
        ("play twelve", ["play"]),
        ("a gain of four yards", ["yards"]),
        ("he takes a forty-five degree set", ["degrees"]),
        ("an angle set, forty-five", ["degrees"]),
        ("two minutes left", ["clock"]),
        ("a wide nine", ["alignment"]),
        ("five reps", ["count"]),
        ("fifty fifty", ["other", "other"]),
    ],
)
def test_uses(said: str, uses: list[str]) -> None:
    assert [u.use for u in figures(said).numbers] == uses


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("ninety-four, no, ninety-five over him", ["95"]),
        ("number fifty-seven, no wait, seventy-five", ["75"]),
        ("ninety-four, not ninety-five, ninety-four", ["94", "95", "94"]),
        ("fifty-seven in a wide nine. No, hang on. Fifty-two.", ["52"]),
        ("on fifty-nine, no, let me see that number, fifty-five", ["55"]),
    ],
)
def test_corrections(said: str, kept: list[str]) -> None:
    found = [u for u in figures(said).numbers if u.use == "jersey" and not u.withdrawn]
    assert [u.number.digits for u in found] == kept
