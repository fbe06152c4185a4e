"""The lines of the review hold every field that can be corrected, each once, with a key of its own."""

from __future__ import annotations

import pytest

from reviewer.errors import InputError
from reviewer.records import GRADE_FIELDS, GradeRow
from reviewer.review import actions
from reviewer.review.slots import BY_ID, SLOTS, empty_values, next_value, read_situation, words_for

ROW = GradeRow(rep=1, start=0, end=1)


def test_every_field_has_one_line() -> None:
    shown = [name for slot in SLOTS for name in slot.fields]
    assert sorted(shown) == sorted(GRADE_FIELDS)


def test_no_key_means_two_things() -> None:
    keys = [slot.key for slot in SLOTS] + [key for action in actions.ROOM for key in action.keys]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("table", [actions.ROOM, actions.REP_MENU, actions.ON_WORDS, actions.ON_LESSON])
def test_no_screen_has_a_key_twice(table: tuple[actions.Action, ...]) -> None:
    keys = [key for action in table for key in action.keys]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize(
    ("typed", "shown"),
    [("38", "3rd and 8"), ("3 8", "3rd and 8"), ("1 10", "1st and 10"), ("110", "1st and 10"),
     ("2g", "2nd and goal"), ("2 goal", "2nd and goal"), ("4", "4th"), ("", "")],
)  # fmt: skip
def test_a_situation_is_typed_short(typed: str, shown: str) -> None:
    assert words_for(BY_ID["situation"], ROW.model_copy(update=read_situation(typed))) == shown


@pytest.mark.parametrize("typed", ["5 3", "x", "0", "38x", "3 123", "-3"])
def test_what_is_no_situation_is_said_in_one_sentence(typed: str) -> None:
    with pytest.raises(InputError, match="no down and distance; type 38 for 3rd and 8"):
        read_situation(typed)


def test_keys_go_round_through_values() -> None:
    mark = BY_ID["finish"]
    assert [next_value(mark, now) for now in (None, "+", "-")] == ["+", "-", None]
    assert next_value(BY_ID["verdict"], "neutral") == "win"


def test_every_line_can_be_emptied() -> None:
    for slot in SLOTS:
        row = GradeRow.model_validate({**ROW.model_dump(), **empty_values(slot)})
        assert words_for(slot, row) in ("", "= neutral")
