"""Search over the room: words, terms, filters; the answer's place."""

from __future__ import annotations

import pytest

from reviewer import store
from reviewer.review.finding import Finder, filter_line, hit_lines
from reviewer.review.session import Session


@pytest.fixture
def finder(session: Session) -> Finder:
    return Finder(session.library, session.vocabulary)


def reps_found(finder: Finder, typed: str) -> set[int | None]:
    finder.look(typed)
    return {hit.rep for hit in finder.hits}


def test_words_terms_and_filters_find_their_reps(finder: Finder) -> None:
    assert reps_found(finder, "touchdown") == {9}
    assert reps_found(finder, "stunt") == {3}
    assert reps_found(finder, "double team") == {9}
    assert reps_found(finder, "combo") == {9}
    assert reps_found(finder, "opponent:94") == {3, 6, 9}
    assert reps_found(finder, "verdict:loss down:3") == {7}
    assert reps_found(finder, "player:64") == {6}


def test_talk_outside_reps_is_found_too(finder: Finder) -> None:
    finder.look("coffee")
    assert [hit.row for hit in finder.hits] == [None]


def test_nothing_typed_asks_for_something(finder: Finder) -> None:
    finder.look("")
    assert finder.hits == []
    assert finder.remark.startswith("Type words, a term, or a filter")


def test_what_cannot_be_understood_is_said(finder: Finder) -> None:
    finder.look("colour:red")
    assert finder.remark.startswith("There is no filter 'colour'")
    finder.look('"open quote')
    finder.look("zzzz")
    assert finder.remark.startswith("Nothing found")


def test_keys_go_through_the_values_that_occur(finder: Finder) -> None:
    finder.cycle("verdict")
    assert finder.chosen == {"verdict": "win"}
    assert {hit.verdict for hit in finder.hits} == {"win"}
    finder.cycle("verdict")
    assert {hit.verdict for hit in finder.hits} == {"loss"}
    while finder.chosen:
        finder.cycle("verdict")
    assert finder.hits == []
    finder.cycle("down")
    assert finder.chosen == {"down": "1"}


def test_filters_and_words_hold_together(finder: Finder) -> None:
    finder.look("drop back")
    before = len(finder.hits)
    finder.cycle("verdict")
    finder.cycle("verdict")
    assert len(finder.hits) < before


def test_the_match_is_marked_and_the_place_named(finder: Finder) -> None:
    finder.look("touchdown")
    head, words = hit_lines(finder, 100)
    assert "Harrow Lake, first half" in "".join(span.text for span in head)
    assert "rep 9" in "".join(span.text for span in head)
    assert [span.text for span in words if span.style == "match"] == ["Touchdown"]


def test_titles_and_words_cannot_act_on_the_terminal(session: Session, finder: Finder) -> None:
    store.rename_note(session.library, session.note_id, "\x1b[2J[red]half")
    finder.look("touchdown")
    text = "".join(span.text for line in hit_lines(finder, 100) for span in line)
    assert "\x1b" not in text
    assert "␛[2J[red]half" in text


def test_the_filters_fit_a_small_screen(finder: Finder) -> None:
    text = "".join(span.text for span in filter_line(finder, 80))
    assert "F6 team: any" in text
