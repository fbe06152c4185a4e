"""A note read again keeps every decision of the coach."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reviewer import store
from reviewer.store.reread import match_rows
from tests.store.scene import BLOCKS, Block, new_note, picture, scene


def changed(rep: int, **fields: Any) -> tuple[Block, ...]:
    """The blocks with the first row of a rep read otherwise."""
    return tuple(
        (number, text, ({**rows[0], **fields}, *rows[1:]) if number == rep else rows)
        for number, text, rows in BLOCKS
    )


def read_again(
    library: store.Library, note: int, blocks: tuple[Block, ...], shift_s: float = 0.1
) -> store.Done:
    return store.add_reading(library, note, scene(blocks, shift_s=shift_s), model="larger")


def test_untouched_rows_follow_the_new_reading(library: store.Library, note: int, rows: list[int]) -> None:
    done = read_again(library, note, changed(1, verdict="neutral", techniques=["reach"]))
    shown = store.current_rows(library, note)
    assert [row.id for row in shown] == rows
    assert (shown[0].current.verdict, shown[0].current.techniques) == ("neutral", ["reach"])
    assert shown[0].first is not None and shown[0].first.verdict == "win", "the first reading is still there"
    assert shown[0].machine is not None and shown[0].machine.verdict == "neutral"
    assert shown[0].corrected == frozenset()
    assert shown[0].start == 4.1
    assert store.open_questions(library, note) == []
    assert store.note(library, note).model == "larger"
    assert done.kind == "read again"
    assert len(store.readings_of(library, note)) == 2


def test_the_same_reading_changes_nothing(library: store.Library, note: int) -> None:
    assert store.add_reading(library, note, scene()).action is None
    assert len(store.readings_of(library, note)) == 1


def test_grading_a_file_again_keeps_corrections(library: store.Library, note: int, rows: list[int]) -> None:
    store.set_fields(library, rows[0], {"verdict": "loss"})
    assert store.add_note(library, new_note(model="larger"), scene(changed(1, finish="+"))) == note
    row = store.current_rows(library, note)[0]
    assert (row.current.verdict, row.current.finish) == ("loss", "+")
    assert row.corrected == {"verdict"}


def test_a_correction_the_machine_still_does_not_see_raises_no_question(
    library: store.Library, note: int, rows: list[int]
) -> None:
    store.set_fields(library, rows[0], {"verdict": "loss"})
    read_again(library, note, BLOCKS)
    assert store.current_rows(library, note)[0].current.verdict == "loss"
    assert store.open_questions(library, note) == []


def test_a_correction_that_the_machine_now_reads_is_no_correction(
    library: store.Library, note: int, rows: list[int]
) -> None:
    store.set_fields(library, rows[0], {"verdict": "loss"})
    read_again(library, note, changed(1, verdict="loss"))
    row = store.current_rows(library, note)[0]
    assert (row.current.verdict, row.corrected) == ("loss", frozenset())
    assert store.open_questions(library, note) == []


@pytest.mark.parametrize("decide", ["correct", "confirm"])
def test_where_both_say_something_else_the_coach_stands_and_is_asked(
    library: store.Library, note: int, rows: list[int], decide: str
) -> None:
    if decide == "correct":
        store.set_fields(library, rows[0], {"verdict": "loss"})
    else:
        store.set_confirmed(library, rows[0])
    kept = "loss" if decide == "correct" else "win"
    read_again(library, note, changed(1, verdict="neutral"))
    row = store.current_rows(library, note)[0]
    assert row.current.verdict == kept
    assert row.confirmed == (decide == "confirm")
    [question] = store.open_questions(library, note)
    assert (question.row, question.field, question.kept, question.read) == (
        rows[0],
        "verdict",
        kept,
        "neutral",
    )
    store.settle(library, question.id, "mine")
    assert store.open_questions(library, note) == []
    store.undo(library, note)
    assert len(store.open_questions(library, note)) == 1
    store.settle(library, question.id, "machine")
    assert store.current_rows(library, note)[0].current.verdict == "neutral"
    assert store.open_questions(library, note) == []


def test_a_touched_row_that_is_read_no_more_stays_with_its_words(
    library: store.Library, note: int, rows: list[int]
) -> None:
    store.set_comment(library, rows[1], "teach this one")
    gone = (BLOCKS[0], BLOCKS[1], (None, BLOCKS[2][1], ()), *BLOCKS[3:])
    read_again(library, note, gone)
    shown = store.current_rows(library, note)
    assert [row.id for row in shown] == rows
    assert (shown[1].comment, shown[1].current.moves) == ("teach this one", ["swim"])
    [question] = store.open_questions(library, note)
    assert (question.row, question.field) == (rows[1], "missing")
    assert store.search(library, store.SearchQuery("oversets"))[0].row == rows[1]
    store.settle(library, question.id, "machine")
    assert [row.id for row in store.current_rows(library, note)] == [rows[0], *rows[2:]]


def test_an_untouched_row_that_is_read_no_more_goes(
    library: store.Library, note: int, rows: list[int]
) -> None:
    read_again(library, note, (*BLOCKS[:2], (None, BLOCKS[2][1], ()), *BLOCKS[3:]))
    assert [row.id for row in store.current_rows(library, note)] == [rows[0], *rows[2:]]
    store.undo(library, note)
    assert [row.id for row in store.current_rows(library, note)] == rows


def test_a_deleted_row_is_not_brought_back_by_reading_again(
    library: store.Library, note: int, rows: list[int]
) -> None:
    store.delete_row(library, rows[1])
    read_again(library, note, BLOCKS)
    assert [row.id for row in store.current_rows(library, note)] == [rows[0], *rows[2:]]
    assert [row.id for row in store.deleted_rows(library, note)] == [rows[1]]


def test_a_new_rep_is_found_between(library: store.Library, note: int, rows: list[int]) -> None:
    found = (*BLOCKS[:3], (4, BLOCKS[3][1], ({"player": "76", "verdict": "neutral"},)), (5, *BLOCKS[4][1:]))
    read_again(library, note, found)
    shown = store.current_rows(library, note)
    assert [row.current.rep for row in shown] == [1, 2, 3, 4, 4]
    assert [row.id for row in shown][:2] + [row.id for row in shown][3:] == rows


def test_a_rep_cut_by_hand_stays_cut(
    library: store.Library, note: int, rows: list[int], reps: list[int]
) -> None:
    store.merge_reps(library, reps[0], reps[1])
    before = picture(library, note)
    read_again(library, note, changed(2, faults=["overset", "lunge"]))
    after = picture(library, note)
    assert after["reps"] == before["reps"]
    assert [row.id for row in store.current_rows(library, note)] == [rows[0], *rows[2:]]
    assert store.check(library) == []


def test_a_split_survives_new_word_numbers(library: store.Library, note: int, reps: list[int]) -> None:
    """The new reading has a word more at the beginning, so every index moves by one."""
    store.split_rep(library, reps[1], 24)
    longer = ((None, "Well, " + BLOCKS[0][1], ()), *BLOCKS[1:])
    store.add_reading(library, note, scene(longer, shift_s=-0.5), model="larger")
    cuts = [rep.stretches for rep in store.state_of(library, note).reps if rep.number]
    assert cuts == [((9, 18),), ((18, 25),), ((25, 29),), ((37, 48),)]
    texts = [hit.text for hit in reversed(store.search(library, store.SearchQuery(note=note)))]
    assert "Next rep, the end brings an arm" in texts and "over and he oversets." in texts


def test_a_new_row_inside_a_rep_cut_by_hand_is_asked_about(
    library: store.Library, note: int, rows: list[int], reps: list[int]
) -> None:
    store.split_rep(library, reps[1], 24)
    more = tuple(
        (n, text, (*given, {"player": "71", "verdict": "win"}) if n == 2 else given)
        for n, text, given in BLOCKS
    )
    read_again(library, note, more)
    [question] = store.open_questions(library, note)
    assert question.field == "row" and question.read["player"] == "71"
    assert "71" not in [row.current.player for row in store.current_rows(library, note)]
    store.settle(library, question.id, "machine")
    added = next(row for row in store.current_rows(library, note) if row.current.player == "71")
    assert added.current.rep == 2 and added.first is not None
    assert store.check(library) == []


def test_a_row_added_by_hand_keeps_what_was_given(library: store.Library, note: int, reps: list[int]) -> None:
    row, _ = store.add_row(library, reps[0], {"player": "64", "verdict": "win"})
    more = changed(1)
    more = tuple(
        (n, text, (*given, {"player": "64", "verdict": "loss", "techniques": ["punch"]}) if n == 1 else given)
        for n, text, given in more
    )
    read_again(library, note, more)
    mine = next(r for r in store.current_rows(library, note) if r.id == row)
    assert (mine.current.verdict, mine.current.techniques) == ("win", ["punch"])
    assert [(q.row, q.field, q.kept, q.read) for q in store.open_questions(library, note)] == [
        (row, "verdict", "win", "loss")
    ]
    read_again(library, note, BLOCKS, shift_s=0.2)
    assert row in [r.id for r in store.current_rows(library, note)], (
        "a row added by hand never goes by itself"
    )


def test_a_coach_order_survives(library: store.Library, note: int, reps: list[int]) -> None:
    store.reorder_rep(library, reps[2], reps[0])
    read_again(library, note, BLOCKS)
    assert [rep.id for rep in store.state_of(library, note).reps if rep.number] == [reps[2], reps[0], reps[1]]


def test_rows_are_matched_by_time_and_player(library: store.Library, note: int, rows: list[int]) -> None:
    stored = store.current_rows(library, note)
    live = frozenset(rows)
    assert match_rows(stored, scene(shift_s=0.3).rows, live) == {rows[i]: i for i in range(4)}
    assert match_rows(stored, scene(shift_s=60).rows, live) == {}
    swapped = tuple((n, text, given[::-1] if n == 3 else given) for n, text, given in BLOCKS)
    assert match_rows(stored, scene(swapped).rows, live) == {rows[0]: 0, rows[1]: 1, rows[2]: 3, rows[3]: 2}
    other = scene(changed(2, player="67")).rows
    assert match_rows(stored, other, live)[rows[1]] == 1, "the same stretch with the jersey heard otherwise"


texts = st.lists(st.sampled_from([block[1] for block in BLOCKS]), min_size=1, max_size=5)
players = st.lists(st.sampled_from(["76", "64", "71", None]), max_size=2)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(st.tuples(st.sampled_from([b[1] for b in BLOCKS]), players), min_size=1, max_size=5),
    st.floats(-3, 3),
    st.sets(st.integers(0, 3)),
)
def test_no_decision_is_lost_whatever_is_read(
    drafts: list[tuple[str, list[str | None]]], shift_s: float, touched: set[int]
) -> None:
    with store.Library.memory() as library:
        note = store.add_note(library, new_note(), scene(shift_s=3.0))
        rows = [row.id for row in store.current_rows(library, note)]
        for index in touched:
            store.set_fields(library, rows[index], {"alignment": "wide 9"})
        blocks = tuple(
            (number, text, tuple({"player": player} for player in men))
            for number, (text, men) in enumerate(drafts, 1)
        )
        store.add_reading(library, note, scene(blocks, shift_s=3.0 + shift_s), model="other")
        shown = {row.id: row for row in store.current_rows(library, note)}
        for index in touched:
            assert shown[rows[index]].current.alignment == "wide 9"
        settled = {q.row for q in store.open_questions(library, note) if q.field == "row"}
        assert not settled & shown.keys()
        read = [row for row in shown.values() if row.rep_id and row.machine is not None]
        assert len(read) + len(settled) >= sum(len(men) for _, men in drafts)
        assert store.check(library) == []
