"""Everything by mouse."""

from __future__ import annotations

from textual.pilot import Pilot

from reviewer.screens.lines import Lines
from reviewer.screens.menu import MenuScreen
from reviewer.screens.pick import PickScreen
from reviewer.screens.review import ReviewApp
from reviewer.screens.words import WordsScreen
from tests.screens.test_room import row_of, shown

WIDE = (120, 40)


async def click(pilot: Pilot[None], pane: str, tag: tuple[str, object], times: int = 1) -> None:
    """Click what carries a tag in a pane of the screen on top."""
    lines = pilot.app.screen.query_one(f"#{pane}", Lines)
    for y, line in enumerate(lines.drawn):
        x = 0
        for span in line:
            if span.tag == tag and span.text.strip():
                # a pane's padding stands before its first column
                left = lines.content_region.x - lines.region.x
                at = (x + left, y - lines.scroll_offset.y)
                await pilot.click(lines, offset=at, times=times)
                return
            x += len(span.text)
    raise AssertionError(f"nothing carries {tag} in #{pane}")


async def test_a_click_puts_the_cursor_on_a_field_a_second_one_fixes_it(app: ReviewApp) -> None:
    async with app.run_test(size=WIDE) as pilot:
        await click(pilot, "fields", ("slot", "finish"))
        assert app.session.slot_id == "finish"
        await click(pilot, "fields", ("slot", "finish"))
        assert row_of(app).current.finish == "+"


async def test_a_click_on_a_word_shows_its_field_two_go_to_the_words(app: ReviewApp) -> None:
    async with app.run_test(size=WIDE) as pilot:
        at = next(i for i, w in enumerate(app.session.words) if w.text == "Third")
        await click(pilot, "words", ("word", at))
        assert app.session.slot_id == "situation"
        await click(pilot, "words", ("word", at), times=2)
        assert isinstance(app.screen, WordsScreen)
        await click(pilot, "words", ("word", at + 2))
        assert app.screen.cursor.at == at + 2
        await click(pilot, "bar", ("act", "split"))
        assert "Split in two" in app.screen.said


async def test_rows_are_clicked_in_the_list_beside(app: ReviewApp) -> None:
    async with app.run_test(size=WIDE) as pilot:
        await click(pilot, "rows", ("row", app.session.rows[7].id))
        assert app.session.number(row_of(app).id) == 8


async def test_the_key_bar_is_clicked(app: ReviewApp) -> None:
    async with app.run_test(size=WIDE) as pilot:
        await click(pilot, "bar", ("act", "confirm"))
        assert app.session.progress.left == 9
        await click(pilot, "bar", ("act", "undo"))
        assert app.session.progress.left == 10


async def test_every_action_can_be_clicked_in_the_help(app: ReviewApp) -> None:
    async with app.run_test(size=WIDE) as pilot:
        await click(pilot, "bar", ("act", "help"))
        assert isinstance(app.screen, MenuScreen)
        place = next(i for i, item in enumerate(app.screen.items) if item.act == ("act", "loss"))
        await click(pilot, "items", ("item", place))
        assert row_of(app).current.verdict == "loss"


async def test_a_pick_list_is_clicked(app: ReviewApp) -> None:
    async with app.run_test(size=WIDE) as pilot:
        await pilot.press("f", "l", "u")
        await click(pilot, "choices", ("choice", 0))
        assert row_of(app).current.faults == ["lunge"]
        await pilot.press("f")
        assert isinstance(app.screen, PickScreen)
        await click(pilot, "foot", ("act", "leave"))
        assert app.screen is app.room


async def test_the_confidence_is_set_by_clicks(app: ReviewApp) -> None:
    async with app.run_test(size=WIDE) as pilot:
        await pilot.press("A")
        await click(pilot, "foot", ("act", "less"))
        assert "84 %" in shown(app, "head")
        await click(pilot, "foot", ("act", "take"))
        assert app.session.progress.left == 4


async def test_search_is_clicked(app: ReviewApp) -> None:
    async with app.run_test(size=WIDE) as pilot:
        await click(pilot, "bar", ("act", "find"))
        await click(pilot, "filters", ("filter", "verdict"))
        assert "verdict: + win" in shown(app, "filters")
        await click(pilot, "hits", ("hit", 0))
        assert app.screen is app.room
