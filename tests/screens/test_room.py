"""The room: each key and click does what it says, saved at once."""

from __future__ import annotations

from reviewer import store
from reviewer.screens.review import ReviewApp


def row_of(app: ReviewApp) -> store.StoredRow:
    row = app.session.row
    assert row is not None
    return row


async def test_space_confirms_and_goes_to_the_next_row(app: ReviewApp, library: store.Library) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        first = row_of(app).id
        await pilot.press("space")
        assert row_of(app).id != first
        stored = next(r for r in store.current_rows(library, app.session.note_id) if r.id == first)
        assert stored.confirmed


async def test_single_keys_fix_verdict_and_marks(app: ReviewApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("l", "2", "2")
        assert row_of(app).current.verdict == "loss"
        assert row_of(app).current.technique == "-"
        await pilot.press("u", "u", "u")
        assert row_of(app).corrected == frozenset()


async def test_a_term_is_added_by_typing(app: ReviewApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("f", "l", "u", "enter")
        assert row_of(app).current.faults == ["lunge"]


async def test_a_number_takes_itself_in_the_place_of_another(app: ReviewApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("O", "tab", "9", "5")
        assert row_of(app).current.opponents == ["95", "91"]
        await pilot.press("o", "9", "7", "o", "9", "5")
        assert row_of(app).current.opponents == ["91", "97"]
