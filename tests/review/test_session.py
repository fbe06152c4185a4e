"""Decisions are saved at once, can be taken back without limit, and two windows keep each other's work."""

from __future__ import annotations

from pathlib import Path

import pytest

from reviewer import store
from reviewer.errors import InputError
from reviewer.review.session import Session
from reviewer.review.slots import BY_ID
from tests.screens.conftest import Clock
from tests.screens.evening import add_evening


def stored(session: Session, row: int | None) -> store.StoredRow:
    return next(r for r in store.current_rows(session.library, session.note_id) if r.id == row)


def test_a_fix_is_in_the_grade_book_at_once(session: Session) -> None:
    said = session.set_slot(BY_ID["faults"], {"faults": ["lunge"]})
    assert said == "faults: nothing → lunge"
    assert stored(session, session.row_id).current.faults == ["lunge"]


def test_the_same_value_again_changes_nothing(session: Session) -> None:
    revision = session.revision
    assert session.set_verdict("win") == ""
    assert session.revision == revision


def test_the_position_goes_with_the_number(session: Session) -> None:
    session.set_slot(BY_ID["player"], {"player": "64"})
    assert stored(session, session.row_id).current.position == "RG"


def test_a_position_that_the_coach_gave_stays(session: Session) -> None:
    session.set_slot(BY_ID["position"], {"position": "TE"})
    session.set_slot(BY_ID["player"], {"player": "64"})
    assert stored(session, session.row_id).current.position == "TE"


def test_one_key_confirms_each_row_until_all_are_done(session: Session) -> None:
    for left in range(9, -1, -1):
        said = session.confirm()
        assert session.progress.left == left
    assert said.endswith("It was the last one: every row is confirmed.")
    assert session.confirm() == "Every row is confirmed."


def test_all_above_a_confidence_and_back_by_one_undo(session: Session) -> None:
    sure = [row.id for row in session.above(0.85)]
    assert 0 < len(sure) < len(session.rows)
    assert session.confirm_above(0.85) == f"{len(sure)} rows confirmed; u takes it back."
    assert {row.id for row in session.rows if row.confirmed} == set(sure)
    assert session.undo() == "Taken back: confirming many rows."
    assert not any(row.confirmed for row in session.rows)


def test_undo_reaches_back_over_a_restart(library: store.Library, session: Session) -> None:
    row = session.row_id
    assert row is not None
    session.set_verdict("loss")
    session.cycle(BY_ID["finish"])
    session.comment("watch his eyes")
    again = Session(library, session.note_id)
    assert again.undo() == "Taken back: your note."
    again.undo()
    again.undo()
    assert stored(again, row).corrected == frozenset()
    assert again.undo() == "Nothing to undo."
    for _ in range(3):
        again.redo()
    assert stored(again, row).comment == "watch his eyes"
    assert again.redo() == "Nothing to redo."


def test_undo_goes_to_the_row_it_was_about(session: Session) -> None:
    row = session.row_id
    session.set_verdict("loss")
    session.step(3)
    session.undo()
    assert session.row_id == row


def test_the_first_reading_can_be_restored_whole_or_by_field(session: Session) -> None:
    session.set_verdict("loss")
    session.set_slot(BY_ID["opponents"], {"opponents": ["57"]})
    session.restore_slot(BY_ID["opponents"])
    assert session.row is not None
    assert session.row.corrected == {"verdict"}
    session.restore_first()
    assert session.row.corrected == frozenset()


def test_leaving_and_coming_back_lands_on_the_same_row(library: store.Library, session: Session) -> None:
    session.go(session.rows[0].id)
    session.leave()
    assert Session(library, session.note_id).row_id == session.rows[0].id


def test_coming_back_to_a_removed_row_lands_beside_it(library: store.Library, session: Session) -> None:
    session.go(session.rows[5].id)
    session.leave()
    store.delete_row(library, session.rows[5].id)
    assert Session(library, session.note_id).row_id in {session.rows[4].id, session.rows[6].id}


def test_progress_counts_rows_left_fixed_and_the_tally(session: Session) -> None:
    session.set_verdict("loss")
    session.confirm()
    session.confirm()
    found = session.progress
    assert (found.rows, found.left, found.fixed) == (10, 8, 1)
    assert (found.wins, found.losses) == (1, 1)


def test_a_row_without_number_has_no_sheet_and_a_note_without_rows_no_dead_end(
    library: store.Library, session: Session
) -> None:
    for row in session.rows:
        store.delete_row(library, row.id)
    session.reload()
    assert session.row is None
    with pytest.raises(InputError, match="There is no row here yet"):
        session.confirm()
    session.undo()
    assert session.row is not None


# --- two windows on one note -------------------------------------------------


@pytest.fixture
def windows(tmp_path: Path) -> tuple[Session, Session]:
    """Two reviews of one note through two connections."""
    one, two = (store.Library.open(tmp_path / "book.db") for _ in range(2))
    one.clock = two.clock = Clock()
    note = add_evening(one)
    return Session(one, note), Session(two, note)


def test_work_on_other_fields_is_kept_from_both(windows: tuple[Session, Session]) -> None:
    first, second = windows
    first.set_verdict("loss")
    second.set_slot(BY_ID["faults"], {"faults": ["lunge"]})
    row = stored(second, second.row_id).current
    assert (row.verdict, row.faults) == ("loss", ["lunge"])


def test_the_later_one_is_told_when_both_change_one_field(windows: tuple[Session, Session]) -> None:
    first, second = windows
    first.set_verdict("loss")
    with pytest.raises(store.Conflict, match="Another window changed this note: verdict"):
        second.set_verdict("neutral")
    assert second.row is not None
    assert second.row.current.verdict == "loss"
    second.set_verdict("neutral")
    assert stored(first, first.row_id).current.verdict == "neutral"


def test_a_row_changed_elsewhere_is_not_confirmed_unseen(windows: tuple[Session, Session]) -> None:
    first, second = windows
    first.set_verdict("loss")
    with pytest.raises(store.Conflict):
        second.confirm()
    second.confirm()
    assert second.progress.left == 9


def test_the_other_window_sees_what_was_done(windows: tuple[Session, Session]) -> None:
    first, second = windows
    assert second.look_round() == ""
    first.set_verdict("loss")
    first.confirm()
    assert second.look_round() == "Another window changed row 3; you see it as it is now."
    assert second.look_round() == ""


def test_a_row_removed_elsewhere_is_left_for_its_neighbour(windows: tuple[Session, Session]) -> None:
    first, second = windows
    row = second.row_id
    assert row is not None
    store.delete_row(first.library, row)
    assert second.look_round() == "Another window removed 1 row; you see it as it is now."
    assert second.row_id is not None
    assert second.row_id != row


def test_undo_of_what_another_window_did_is_told_first(windows: tuple[Session, Session]) -> None:
    first, second = windows
    first.set_verdict("loss")
    with pytest.raises(store.Conflict):
        second.undo()
    assert second.undo() == "Taken back: a correction."
