"""Search from the room, opening the answer at its row; other notes."""

from __future__ import annotations

from reviewer import store
from reviewer.screens.review import ReviewApp
from reviewer.screens.search import SearchScreen
from reviewer.screens.words import WordsScreen
from tests.screens.evening import add_evening
from tests.screens.test_room import SIZE, message, row_of, shown


async def test_an_answer_opens_at_its_row(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("slash", *"touchdown")
        assert "rep 9" in shown(app, "hits")
        await pilot.press("enter")
        assert app.screen is app.room
        assert row_of(app).current.rep == 9


async def test_an_answer_outside_reps_opens_on_its_words(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("slash", *"coffee", "enter")
        assert isinstance(app.screen, WordsScreen)
        assert app.session.words[app.screen.cursor.at].text == "Okay,"


async def test_filters_by_function_keys(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("slash", "f2", "f2", "f3", "f3", "f3")
        assert "verdict: − loss" in shown(app, "filters")
        assert "down: 3" in shown(app, "filters")
        await pilot.press("enter")
        assert row_of(app).current.rep == 7


async def test_the_last_search_is_there_again(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("slash", *"punch", "escape", "slash")
        assert isinstance(app.screen, SearchScreen)
        assert app.screen.finder.typed == "punch"
        assert "rep 8" in shown(app, "hits")


async def test_nothing_found_is_no_dead_end(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("slash", *"zzzz", "enter")
        assert app.screen is app.room


async def test_an_answer_in_another_note_opens_that_note(app: ReviewApp, library: store.Library) -> None:
    other = add_evening(library, digest="other", title="Other evening")
    async with app.run_test(size=SIZE) as pilot:
        before = app.session.note_id
        await pilot.press("pagedown", "slash", *"touchdown", "enter")
        assert app.session.note_id == other
        assert row_of(app).current.rep == 9
        assert message(app) == ""
        await pilot.press("N", "down", "enter")
        assert app.session.note_id == before
        # the place in it was remembered
        assert row_of(app).current.rep == 4
