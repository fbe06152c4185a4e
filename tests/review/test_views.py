"""The panes as lines: they fit, say how each value came about, and never show a guess as said."""

from __future__ import annotations

import pytest

from reviewer import store
from reviewer.review import actions, menus, pick_view, views
from reviewer.review.canvas import Span as S
from reviewer.review.canvas import both_ends, cells, clipped, fitted, padded, tag_at, width_of, wrapped
from reviewer.review.offer import definitions, picker_for
from reviewer.review.progress import Progress, parting_words
from reviewer.review.session import Session
from reviewer.review.slots import BY_ID


def text(line: views.Line) -> str:
    return "".join(span.text for span in line)


def all_lines(session: Session, width: int) -> list[views.Line]:
    return [
        views.title_line(session, width),
        views.row_line(session, width),
        *views.field_lines(session, width),
        *views.detail_lines(session, width),
        *views.list_lines(session, width),
        *views.above_lines(session, 0.5, width),
        actions.bar_line(actions.ROOM, width),
    ]


@pytest.mark.parametrize("width", [20, 40, 80, 120])
def test_no_line_is_wider_than_its_pane(session: Session, width: int) -> None:
    session.comment("a long word of his own " * 10)
    for _ in range(3):
        session.step(1)
        assert all(width_of(line) <= width for line in all_lines(session, width))


def test_a_field_line_takes_exactly_the_width(session: Session) -> None:
    assert {width_of(line) for line in views.field_lines(session, 80)} == {80}


def test_signs_tell_doubtful_fixed_and_inferred_without_colour(session: Session) -> None:
    session.go(next(row.id for row in session.rows if row.current.rep == 4))
    session.cycle(BY_ID["finish"])
    lines = [text(line) for line in views.field_lines(session, 80)]
    assert any("?v verdict" in line for line in lines)
    assert any("*3 finish     + done" in line for line in lines)
    assert any("~i position   RT" in line for line in lines)


def test_the_detail_says_how_a_value_came_about(session: Session) -> None:
    session.slot_id = "games"
    lines = [text(line) for line in views.detail_lines(session, 100)]
    assert lines[1] == "said: heard “East on,”, read “T-E stunt,” 0:39"
    session.slot_id = "position"
    assert text(views.detail_lines(session, 100)[0]).endswith("inferred, not said")
    session.set_verdict("loss")
    assert "fixed by you, was + win" in text(views.detail_lines(session, 100)[0])


def test_certain_is_never_shown_as_a_hundred(session: Session) -> None:
    assert views.percent(0.999) == "99 %"
    assert views.percent(0.29) == "29 %"
    assert views.percent(1.0) == "100 %"


def test_unsure_bounds_are_told_in_the_row_line(session: Session) -> None:
    session.go(next(row.id for row in session.rows if row.current.rep == 7))
    assert "start or end unsure, 85 % sure" in text(views.row_line(session, 100))


def test_the_times_of_a_row_are_shown_whole_or_not_at_all(session: Session) -> None:
    session.go(next(row.id for row in session.rows if row.current.rep == 7))
    assert "1:49–2:02" in text(views.row_line(session, 100))
    for width in range(72, 100):
        line = text(views.row_line(session, width))
        assert ("1:49–2:02" in line) == ("1:4" in line)
        assert "71 Odell Marsk RT" in line
        assert line.endswith("start or end unsure, 85 % sure ")


def test_names_stand_beside_numbers_where_there_is_room(session: Session) -> None:
    assert views.slot_value(session, BY_ID["opponents"], 60) == "94 Silas Umber, 91 Grady Holt"
    assert views.slot_value(session, BY_ID["opponents"], 10) == "94, 91"


def test_marked_names_and_notes_cannot_act_on_the_terminal(session: Session, library: store.Library) -> None:
    store.rename_note(library, session.note_id, "half\x1b]0;x\x07[b]")
    session.comment("\x1b[31m[link=x]click[/link]")
    fresh = Session(library, session.note_id)
    shown = "".join(text(line) for line in all_lines(fresh, 200))
    assert "\x1b" not in shown
    assert "\x07" not in shown
    assert "[link=x]click[/link]" in shown


def test_the_key_bar_shows_whole_keys_only() -> None:
    for width in range(10, 130):
        line = actions.bar_line(actions.ROOM, width)
        assert width_of(line) <= width
        assert len(line) % 2 == 0
    assert "? keys" in text(actions.bar_line(actions.ROOM, 80))


@pytest.mark.parametrize("table", [actions.ROOM, actions.ON_WORDS, actions.ON_LESSON, actions.REP_MENU])
def test_the_help_lists_every_action_once(table: tuple[actions.Action, ...]) -> None:
    items = menus.help_items(table)
    acts = [item.act[1] for item in items if item.act]
    assert sorted(acts) == sorted(action.id for action in table)


def test_menus_fit_and_skip_headings(session: Session) -> None:
    items = menus.help_items(actions.ROOM, slots=True)
    first = menus.first_choice(items)
    assert first == 2
    assert all(width_of(line) <= 40 for line in menus.item_lines(items, first, 40))
    heading = next(i for i, item in enumerate(items) if i > first and item.act is None)
    assert menus.step(items, heading - 1, 1) == heading + 1
    assert menus.step(items, first, -1) == first


def test_the_first_reading_is_listed_beside_what_stands(session: Session) -> None:
    assert [item.label for item in menus.first_items(session)] == [
        "The row stands as the machine first read it."
    ]
    session.set_verdict("loss")
    labels = [(item.label, item.about) for item in menus.first_items(session)][1:]
    assert labels == [("verdict: + win", "now − loss"), ("Set the whole row back", "")]


def test_the_notes_list_says_what_is_left(session: Session, library: store.Library) -> None:
    session.confirm()
    (item,) = menus.note_items(library, session.note_id)
    assert (item.label, item.about[:29]) == ("Harrow Lake, first half", "9 of 10 rows left, open here ")


def test_the_list_of_a_slot_shows_the_definition_of_what_is_marked(session: Session) -> None:
    picker = picker_for(session, BY_ID["faults"])
    picker.type("lun")
    lines = [text(line) for line in pick_view.foot_lines(picker, 100)]
    term = session.vocabulary.find("lunge", "faults")
    assert term is not None
    assert lines[0].rstrip() in term.definition
    assert all(width_of(line) <= 78 for line in pick_view.choice_lines(picker, 78))


def test_definitions_of_the_row_begin_with_the_field_under_the_cursor(session: Session) -> None:
    session.slot_id = "games"
    assert definitions(session).startswith("games: T-E stunt\n")


def test_lines_are_cut_padded_and_wrapped_by_columns_not_letters() -> None:
    assert clipped("漢字漢字", 5) == "漢字…"
    assert cells(padded("漢字", 6)) == 6
    assert width_of(both_ends((S("left side"),), (S("right"),), 10)) == 10
    assert text(fitted((S("abc"), S("defgh")), 5)) == "abcd…"[:5]
    assert [text(line) for line in wrapped("one two three", 8)] == ["one two", "three"]
    assert tag_at((S("ab", tag=("x", 1)), S("cd", tag=("x", 2))), 2) == ("x", 2)
    assert tag_at((S("ab"),), 5) is None


def test_a_message_takes_at_most_three_lines() -> None:
    for width in (20, 40, 80):
        lines = views.message_lines("a word too many " * 40, True, width)
        assert len(lines) == 3
        assert all(width_of(line) <= width for line in lines)
        assert text(lines[0]).startswith(" ! a word")
    assert views.message_lines("", False, 80) == [()]
    assert [text(line) for line in views.message_lines("done", False, 80)] == [" done"]


@pytest.mark.parametrize("table", [actions.ROOM, actions.ON_WORDS, actions.ON_LESSON])
def test_the_key_bar_always_shows_the_help_and_the_way_out(table: tuple[actions.Action, ...]) -> None:
    ways = [action for action in table if action.id in actions.WAY_OUT]
    assert len(ways) == 2
    for width in (30, 80, 120):
        shown = text(actions.bar_line(table, width))
        assert all(f"{actions.shown_key(way.keys[0])} {way.short}" in shown for way in ways), width


def test_leaving_says_how_far_the_note_is_and_how_to_go_on() -> None:
    rest = {"fixed": 0, "wins": 0, "losses": 0, "neutral": 0}
    assert parting_words(Progress(rows=49, left=18, **rest), "evening") == (
        "evening: 18 of 49 rows left. Go on with: reviewer review evening"
    )
    assert parting_words(Progress(rows=1, left=0, **rest), "evening").startswith(
        "evening: all 1 row confirmed."
    )
    assert parting_words(Progress(rows=0, left=0, **rest), "evening") == "evening has no rows yet."
