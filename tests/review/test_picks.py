"""Pick lists: narrowed by typing, by any spoken form, the most used first; numbers take themselves."""

from __future__ import annotations

import pytest

from reviewer.language.vocabulary import load_vocabulary
from reviewer.records import RosterEntry
from reviewer.review.picking import Picker
from reviewer.review.picks import (
    definition_lines,
    gives_way,
    man_entries,
    narrowed,
    put,
    spelled,
    term_entries,
    whole_number,
)
from reviewer.review.slots import BY_ID

VOCABULARY = load_vocabulary()


def faults(uses: dict[str, int] | None = None, said: list[str] | None = None):  # type: ignore[no-untyped-def]
    return term_entries(VOCABULARY.group("faults"), uses or {}, said or [])


@pytest.mark.parametrize(
    ("group", "typed", "first"),
    [
        ("faults", "lun", "lunge"),
        ("faults", "wb", "waist bend"),  # initials
        ("faults", "bend", "waist bend"),  # a later word of the name
        ("events", "panc", "knockdown"),  # a spoken form
        ("moves", "arm over", "swim"),
        ("techniques", "double team", "combo"),
        ("faults", "lungge", "lunge"),  # a slip of the finger
        ("games", "te", "T-E stunt"),
    ],
)
def test_typing_finds_a_term_by_any_way_to_say_it(group: str, typed: str, first: str) -> None:
    entries = term_entries(VOCABULARY.group(group), {})
    assert narrowed(entries, typed)[0].value == first


def test_nothing_typed_shows_what_is_held_then_said_then_most_used() -> None:
    entries = faults({"lunge": 9, "whiff": 4}, ["he", "overset", "him"])
    assert [c.value for c in narrowed(entries, "", ["narrow base"])][:3] == [
        "narrow base",
        "overset",
        "lunge",
    ]
    assert narrowed(entries, "", ["narrow base"])[0].chosen


def test_of_equal_fits_the_more_used_comes_first() -> None:
    assert narrowed(faults({"late off the ball": 3}), "la")[0].value == "late off the ball"
    assert narrowed(faults({"late hands": 3}), "la")[0].value == "late hands"


def test_what_does_not_fit_is_left_out() -> None:
    assert narrowed(faults(), "zzzz") == []


ROSTER = [
    RosterEntry("9", "Art Quill", "DE", "opp"),
    RosterEntry("94", "Silas Umber", "DT", "opp"),
    RosterEntry("95", "Corbin Ashe", "DT", "opp"),
    RosterEntry("7", "Wim Sorrel", "OLB", "opp"),
    RosterEntry("71", "Odell Marsk", "RT", "own"),
]
MEN = man_entries(ROSTER, "opp", {})


def test_a_man_is_found_by_number_and_by_name() -> None:
    assert [c.value for c in narrowed(MEN, "9")] == ["9", "94", "95"]
    assert [c.value for c in narrowed(MEN, "umb")] == ["94"]
    assert "71" not in [c.value for c in narrowed(MEN, "")]


@pytest.mark.parametrize(
    ("typed", "whole"),
    [("94", "94"), ("99", "99"), ("7", "7"), ("9", None), ("5", None), ("00", "00"), ("a", None)],
)
def test_a_number_is_whole_when_no_figure_can_follow(typed: str, whole: str | None) -> None:
    assert whole_number(typed, MEN) == whole


def test_a_number_off_the_roster_gives_way_first_then_the_one_that_sounds_alike() -> None:
    known = ["94", "95", "57"]
    assert gives_way("94", ["57", "90"], known) == "90"
    assert gives_way("57", ["94", "95", "54"], []) == "54"
    assert gives_way("50", ["94", "15"], []) == "15"
    assert gives_way("94", [], known) is None


def test_numbers_in_spoken_words() -> None:
    assert [spelled(n) for n in ("0", "00", "07", "12", "40", "94", "x")] == [
        "zero", "zero zero", "zero seven", "twelve", "forty", "ninety four", "x",
    ]  # fmt: skip


def test_a_value_is_added_taken_out_or_replaced() -> None:
    assert put(["94"], "95") == ["94", "95"]
    assert put(["94", "95"], "95") == ["94"]
    assert put(["94", "57"], "95", instead_of="94") == ["95", "57"]


def men(held: tuple[str, ...], replacing: bool = False) -> Picker:
    return Picker(BY_ID["opponents"], MEN, held, numbers=True, replacing=replacing)


def test_two_figures_are_taken_at_once() -> None:
    picker = men(("95",))
    assert picker.type("9") is None
    taken = picker.type("94")
    assert taken is not None
    assert taken.close
    assert taken.values == {"opponents": ["95", "94"]}


def test_a_number_on_no_roster_can_be_given_and_is_told() -> None:
    picker = men(())
    picker.type("5")
    assert picker.marked is not None
    assert picker.marked.about == "not on the roster"
    assert picker.take().values == {"opponents": ["5"]}


def test_tab_goes_through_whose_place_is_taken() -> None:
    picker = men(("94", "57"))
    seen = []
    for _ in range(4):
        seen.append(picker.instead_of)
        picker.flip()
    assert seen[0] is None
    assert {"94", "57"} <= set(seen[1:])
    assert picker.instead_of is None


def terms(held: tuple[str, ...]) -> Picker:
    return Picker(BY_ID["faults"], faults(), held)


def test_terms_are_added_and_taken_out_by_the_same_key() -> None:
    picker = terms(("lunge",))
    picker.type("whi")
    assert picker.take().values == {"faults": ["lunge", "whiff"]}
    picker = terms(("lunge", "whiff"))
    assert picker.take().values == {"faults": ["whiff"]}


def test_the_list_can_stay_open_over_several() -> None:
    picker = terms(())
    picker.type("lun")
    assert not picker.take(stay=True).close
    assert picker.typed == ""
    picker.type("whi")
    assert picker.take().values == {"faults": ["lunge", "whiff"]}


def test_one_value_slots_take_one_and_can_be_emptied() -> None:
    picker = Picker(BY_ID["set"], term_entries(VOCABULARY.group("set"), {}), ("quick",))
    picker.type("ver")
    assert picker.take().values == {"set": "vertical"}
    assert picker.remove().values == {"set": None}


def test_nothing_fits_and_nothing_happens() -> None:
    picker = terms(())
    picker.type("zzzz")
    assert picker.take().values == {}
    picker.move(5)
    assert picker.marked is None


def test_a_definition_says_what_it_is_and_how_it_is_said() -> None:
    term = VOCABULARY.find("knockdown", "events")
    assert term is not None
    lines = definition_lines(term)
    assert lines[0] == term.definition
    assert "pancake" in lines[1]
