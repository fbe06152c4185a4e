"""What a coach does to rows, and what stays of it."""

from __future__ import annotations

import sqlite3
from typing import Any

import pytest

from reviewer import store
from reviewer.errors import InputError
from reviewer.records import GradeRow, Mend
from reviewer.store.fold import mend_key
from tests.store.scene import new_note, picture, scene


def row_of(library: store.Library, note: int, row: int) -> store.StoredRow:
    return next(r for r in store.current_rows(library, note) if r.id == row)


def test_a_correction_lies_over_the_first_reading(library: store.Library, note: int, rows: list[int]) -> None:
    first = row_of(library, note, rows[0]).current
    done = store.set_fields(
        library, rows[0], {"verdict": "loss", "opponents": ["94", "94", " 57 "], "position": ""}
    )
    row = row_of(library, note, rows[0])
    assert (row.current.verdict, row.current.opponents, row.current.position) == ("loss", ["94", "57"], None)
    assert row.corrected == {"verdict", "opponents"}
    assert row.first == row.machine == first == store.first_reading(library, rows[0])
    assert (done.revision, done.rows, done.kind, done.merged) == (1, (rows[0],), "correct", False)
    assert not row.confirmed


def test_evidence_is_not_claimed_for_a_corrected_value(
    library: store.Library, note: int, rows: list[int]
) -> None:
    assert set(row_of(library, note, rows[0]).current.evidence) == {"techniques", "verdict"}
    store.set_fields(library, rows[0], {"verdict": "loss"})
    row = row_of(library, note, rows[0])
    assert set(row.current.evidence) == {"techniques"}
    assert row.first is not None
    assert set(row.first.evidence) == {"techniques", "verdict"}


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"down": 5}, "5 cannot stand in down: "),
        ({"verdict": "great"}, "'great' cannot stand in verdict: "),
        ({"techniques": "reach"}, "'reach' cannot stand in techniques: "),
        ({"verdict": None}, "None cannot stand in verdict: "),
        ({"rep": 4}, "A grade row has no field 'rep' to correct; the fields are player, position, "),
        ({"start": 0.0}, "A grade row has no field 'start' to correct"),
    ],
)
def test_a_value_that_cannot_stand(
    library: store.Library, note: int, rows: list[int], values: dict[str, Any], sentence: str
) -> None:
    before = picture(library, note)
    with pytest.raises(InputError, match=sentence) as caught:
        store.set_fields(library, rows[0], {"set": "jump", **values})
    assert str(caught.value).endswith(".") and "\n" not in str(caught.value)
    assert picture(library, note) == before
    assert store.revision_of(library, note) == 0


def test_half_characters_are_replaced(library: store.Library, note: int, rows: list[int]) -> None:
    store.set_fields(library, rows[0], {"alignment": "3\ud800"})
    store.set_comment(library, rows[0], "caf\udcff")
    row = row_of(library, note, rows[0])
    assert (row.current.alignment, row.comment) == ("3?", "caf?")


def test_setting_what_stands_already_is_no_action(library: store.Library, note: int, rows: list[int]) -> None:
    done = store.set_fields(library, rows[0], {"verdict": "win"})
    assert (done.action, done.revision) == (None, 0)
    assert store.undo(library, note) is None


def test_corrections_add_up_to_the_last_one(library: store.Library, note: int, rows: list[int]) -> None:
    for verdict in ("loss", "neutral", "loss"):
        store.set_fields(library, rows[0], {"verdict": verdict})
    assert row_of(library, note, rows[0]).current.verdict == "loss"
    history = store.history(library, rows[0])
    assert [(c.old, c.new) for c in history] == [("win", "loss"), ("loss", "neutral"), ("neutral", "loss")]
    assert [c.who for c in history] == ["coach"] * 3
    assert [c.at for c in history] == sorted({c.at for c in history}), "each with its own time"


def test_history_keeps_what_was_undone(library: store.Library, note: int, rows: list[int]) -> None:
    store.set_fields(library, rows[0], {"verdict": "loss"})
    store.undo(library, note)
    store.set_fields(library, rows[0], {"verdict": "neutral"})
    assert store.redo(library, note) is None, "a new decision passes over the undone one"
    assert [(c.new, c.undone) for c in store.history(library, rows[0])] == [
        ("loss", True),
        ("neutral", False),
    ]
    assert [c.row for c in store.note_history(library, note)] == [rows[0]] * 2
    assert store.history(library, rows[1]) == []


def test_confirm_and_take_it_back(library: store.Library, note: int, rows: list[int]) -> None:
    store.set_confirmed(library, rows[1])
    assert row_of(library, note, rows[1]).confirmed
    assert store.note(library, note).confirmed == 1
    store.set_confirmed(library, rows[1], False)
    assert not row_of(library, note, rows[1]).confirmed


def test_confirm_above_counts_first_and_is_one_action(
    library: store.Library, note: int, rows: list[int]
) -> None:
    store.set_confirmed(library, rows[0])
    sure = store.above(library, note, 0.6)
    assert [row.id for row in sure] == [rows[2], rows[3]]
    done = store.confirm_above(library, note, 0.6)
    assert done.rows == (rows[2], rows[3])
    assert [r.confirmed for r in store.current_rows(library, note)] == [True, False, True, True]
    store.undo(library, note)
    assert [r.confirmed for r in store.current_rows(library, note)] == [True, False, False, False]


def test_confirm_above_leaves_rows_made_by_hand(library: store.Library, note: int, reps: list[int]) -> None:
    row, _ = store.add_row(library, reps[0], {"player": "71"})
    assert row not in [r.id for r in store.above(library, note, 0.0)]


def test_a_second_player(library: store.Library, note: int, rows: list[int], reps: list[int]) -> None:
    row, _ = store.add_row(library, reps[0], {"player": "64", "position": "RG", "verdict": "win"})
    shown = store.current_rows(library, note)
    assert [r.id for r in shown] == [rows[0], row, *rows[1:]]
    added = shown[1]
    assert (added.current.rep, added.start, added.end) == (1, shown[0].start, shown[0].end)
    assert (added.first, added.machine, added.by_hand) == (None, None, True)
    assert added.corrected == {"player", "position", "verdict"}
    assert store.first_reading(library, row) is None
    with pytest.raises(InputError, match="added by hand, so there is no first reading"):
        store.restore_first(library, row)
    store.undo(library, note)
    assert [r.id for r in store.current_rows(library, note)] == rows
    store.redo(library, note)
    assert [r.id for r in store.current_rows(library, note)] == [rows[0], row, *rows[1:]]


def test_delete_and_restore(library: store.Library, note: int, rows: list[int]) -> None:
    store.set_comment(library, rows[1], "show him")
    before = picture(library, note)
    store.delete_row(library, rows[1])
    shown = store.current_rows(library, note)
    assert [(r.id, r.current.rep) for r in shown] == [(rows[0], 1), (rows[2], 2), (rows[3], 2)]
    assert [r.id for r in store.deleted_rows(library, note)] == [rows[1]]
    with pytest.raises(InputError, match="is no longer in the note; undo its deletion first"):
        store.set_fields(library, rows[1], {"verdict": "win"})
    talk = [hit for hit in store.search(library, store.SearchQuery("oversets")) if hit.row is None]
    assert len(talk) == 1, "the words of a deleted row can still be found"
    store.restore_row(library, rows[1])
    assert picture(library, note) == before
    with pytest.raises(InputError, match="is not among the deleted rows"):
        store.restore_row(library, rows[1])


def test_restore_first(library: store.Library, note: int, rows: list[int]) -> None:
    store.set_fields(library, rows[0], {"verdict": "loss", "techniques": [], "player": "64"})
    store.restore_first(library, rows[0])
    row = row_of(library, note, rows[0])
    assert row.current == row.first
    assert row.corrected == frozenset()
    assert [c.as_read for c in store.history(library, rows[0])] == [False] * 3 + [True] * 3
    store.undo(library, note)
    assert row_of(library, note, rows[0]).corrected == {"verdict", "techniques", "player"}


def test_a_refused_mend_stays_refused(library: store.Library) -> None:
    mends = (Mend(9, 12, 4.5, 6.0, "richest a no", "he reaches the", 0.8, "reach"),)
    note = store.add_note(library, new_note(), scene(mends=mends))
    assert [refused for _, refused in store.mends_of(library, note)] == [False]
    store.refuse_mend(library, note, "Richest a  no", "he reaches the")
    words = store.words_of(library, note)
    assert (words[9].text, words[10].text, words[11].text) == ("richest a no", "", "")
    assert len(words) == len(scene().words)
    assert store.refused_mends(library, note) == {("richest a no", "he reaches the")}
    assert store.search(library, store.SearchQuery("richest"))[0].rep == 1
    store.add_reading(library, note, scene(mends=mends, shift_s=0.1), model="other")
    assert [refused for _, refused in store.mends_of(library, note)] == [True], "in later readings too"
    store.allow_mend(library, note, "richest a no", "he reaches the")
    assert store.refused_mends(library, note) == frozenset()


def test_mend_wording_is_compared_without_case_and_spacing() -> None:
    assert mend_key("The  End", "T-E") == mend_key("the end", "t-e")


@pytest.mark.parametrize("table", ["row_reading", "reading", "rep_reading", "grade_row", "change"])
def test_what_was_read_or_decided_cannot_be_overwritten(
    library: store.Library, rows: list[int], table: str
) -> None:
    store.set_fields(library, rows[0], {"verdict": "loss"})
    column = {
        "row_reading": "grade",
        "reading": "words",
        "rep_reading": "stretches",
        "grade_row": "seq",
        "change": "old",
    }
    with pytest.raises(sqlite3.IntegrityError, match="is never overwritten"):
        library.execute(f"UPDATE {table} SET {column[table]} = 1")


def test_no_such_row(library: store.Library, note: int) -> None:
    for call in (
        store.set_confirmed,
        store.delete_row,
        store.restore_first,
        store.history,
        store.first_reading,
    ):
        with pytest.raises(InputError, match="There is no row 99 in the grade book"):
            call(library, 99)
    with pytest.raises(InputError, match="There is no rep 99 in the grade book"):
        store.add_row(library, 99, {})
    with pytest.raises(InputError, match="There is no note 99 in the grade book"):
        store.undo(library, 99)


def test_current_rows_can_be_changed_without_changing_the_first(library: store.Library, note: int) -> None:
    row = store.state_of(library, note).rows[0]
    row.current.techniques.append("pull")
    assert row.first is not None and "pull" not in row.first.techniques


def test_checked_leaves_other_fields_alone() -> None:
    row = GradeRow(rep=1, start=0, end=1)
    assert store.checked(row, {"moves": ["swim", "swim", ""], "set": " jump "}) == {
        "moves": ["swim"],
        "set": "jump",
    }
