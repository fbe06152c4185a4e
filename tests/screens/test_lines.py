"""The widget that draws: nothing is cut off by its scrollbar."""

from __future__ import annotations

import pytest

from reviewer.review.canvas import width_of
from reviewer.screens.lines import Lines
from reviewer.screens.review import ReviewApp


@pytest.mark.parametrize("size", [(80, 24), (80, 12), (120, 40), (40, 10), (20, 6)])
async def test_no_line_is_wider_than_what_is_left_beside_the_scrollbar(
    app: ReviewApp, size: tuple[int, int]
) -> None:
    async with app.run_test(size=size) as pilot:
        for key in ("down", "pagedown", "pagedown", "tab", "right", "escape"):
            await pilot.press(key)
            for lines in app.screen.query(Lines):
                if lines.display and lines.region.height:
                    room = lines.scrollable_content_region.width
                    assert all(width_of(line) <= room for line in lines.drawn), lines.id


async def test_the_last_line_can_be_brought_into_view(app: ReviewApp) -> None:
    async with app.run_test(size=(80, 20)) as pilot:
        await pilot.press("tab")
        words = app.screen.query_one("#words", Lines)
        last = app.screen.cursor.shown[-1].index  # type: ignore[attr-defined]
        app.screen.cursor.put(last)  # type: ignore[attr-defined]
        app.screen.draw()  # type: ignore[attr-defined]
        await pilot.pause()
        place = next(y for y, line in enumerate(words.drawn) if any(s.tag == ("word", last) for s in line))
        assert words.scroll_offset.y <= place < words.scroll_offset.y + words.scrollable_content_region.height
