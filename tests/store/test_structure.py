"""Reps split, merged, moved and made by hand."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewer import store
from reviewer.errors import InputError
from reviewer.records import Evidence, GradeRow, Reading
from reviewer.store.structure import joined, without
from tests.store.scene import BLOCKS, PACE_S, new_note, picture, scene

spans = st.lists(
    st.tuples(st.integers(0, 30), st.integers(0, 30)).map(lambda s: (min(s), max(s))), max_size=6
)


def words_in(stretches: tuple[tuple[int, int], ...]) -> set[int]:
    return {index for first, last in stretches for index in range(first, last)}


@given(spans)
def test_joined_keeps_the_words_and_nothing_touches(stretches: list[tuple[int, int]]) -> None:
    result = joined(stretches)
    assert words_in(result) == words_in(tuple(stretches))
    assert all(a[1] < b[0] for a, b in pairwise(result))


@given(spans, spans)
def test_without_takes_exactly_the_others(
    stretches: list[tuple[int, int]], taken: list[tuple[int, int]]
) -> None:
    result = without(joined(stretches), tuple(taken))
    assert words_in(result) == words_in(tuple(stretches)) - words_in(tuple(taken))


def cuts(library: store.Library, note: int) -> list[tuple[tuple[int, int], ...]]:
    return [rep.stretches for rep in store.state_of(library, note).reps if rep.number]


def times(library: store.Library, note: int) -> list[tuple[int, float, float]]:
    return [(row.current.rep, row.start, row.end) for row in store.current_rows(library, note)]


def test_split(library: store.Library, note: int, rows: list[int], reps: list[int]) -> None:
    assert cuts(library, note) == [((8, 17),), ((17, 28),), ((36, 47),)]
    new, done = store.split_rep(library, reps[1], 24)
    assert cuts(library, note) == [((8, 17),), ((17, 24),), ((24, 28),), ((36, 47),)]
    shown = store.current_rows(library, note)
    assert [row.current.rep for row in shown] == [1, 2, 3, 4, 4]
    assert (shown[1].start, shown[1].end) == (17 * PACE_S, 23 * PACE_S + 0.4)
    assert (shown[2].start, shown[2].end) == (24 * PACE_S, 27 * PACE_S + 0.4)
    assert shown[2].rep_id == new and shown[2].by_hand
    assert (shown[2].current.player, shown[2].current.verdict) == ("76", "neutral")
    assert set(done.rows) == {rows[1], shown[2].id}


def test_split_with_the_rows_of_both_parts(
    library: store.Library, note: int, rows: list[int], reps: list[int]
) -> None:
    store.split_rep(
        library, reps[1], 24,
        rows=[{"player": "76", "faults": ["overset"], "verdict": "loss"}],
        keep={rows[1]: {"faults": [], "verdict": "neutral"}},
    )  # fmt: skip
    shown = store.current_rows(library, note)[1:3]
    assert [(r.current.faults, r.current.moves, r.current.verdict) for r in shown] == [
        ([], ["swim"], "neutral"),
        (["overset"], [], "loss"),
    ]


def test_split_takes_along_a_player_spoken_of_behind_the_cut(library: store.Library) -> None:
    late = Evidence(start=21.5, end=23, heard="climbs", read="climbs")
    reading = scene()
    rows = [*reading.rows[:3], reading.rows[3].model_copy(update={"evidence": {"techniques": [late]}})]
    note = store.add_note(library, new_note(), Reading(reading.words, (), reading.reps, rows))
    third = store.state_of(library, note).reps[2].id
    store.split_rep(library, third, 43)
    shown = store.current_rows(library, note)
    assert [(r.current.rep, r.current.player, r.start) for r in shown[2:]] == [
        (3, "64", 18.0),
        (4, "76", 21.5),
    ]
    assert len(shown) == 4, "no blank row is made where a row came along"


@pytest.mark.parametrize("at_word", [0, 17, 28, 99])
def test_no_split_outside_the_words(library: store.Library, note: int, reps: list[int], at_word: int) -> None:
    before = picture(library, note)
    with pytest.raises(InputError, match="can only be split between two of its own words"):
        store.split_rep(library, reps[1], at_word)
    assert picture(library, note) == before


def test_merge_joins_rows_of_the_same_player(
    library: store.Library, note: int, rows: list[int], reps: list[int]
) -> None:
    store.set_confirmed(library, rows[0])
    store.set_comment(library, rows[1], "watch the inside foot")
    store.merge_reps(library, reps[0], reps[1])
    assert cuts(library, note) == [((8, 28),), ((36, 47),)]
    row = store.current_rows(library, note)[0]
    assert (row.id, row.start, row.end) == (rows[0], 4.0, 27 * PACE_S + 0.4)
    assert row.current.techniques == ["reach", "seal"] and row.current.moves == ["swim"]
    assert row.current.verdict == "loss", "the speaker's last word decides"
    assert row.comment == "watch the inside foot"
    assert not row.confirmed, "nobody has looked at the merged row yet"
    assert [r.id for r in store.deleted_rows(library, note)] == [rows[1]]


def test_merge_the_other_way_keeps_the_last_word_last(
    library: store.Library, note: int, rows: list[int], reps: list[int]
) -> None:
    store.merge_reps(library, reps[1], reps[0])
    row = store.current_rows(library, note)[0]
    assert (row.id, row.current.verdict, row.current.rep) == (rows[1], "loss", 1)


def test_merge_moves_other_players(
    library: store.Library, note: int, rows: list[int], reps: list[int]
) -> None:
    store.merge_reps(library, reps[1], reps[2])
    shown = store.current_rows(library, note)
    assert [(r.id, r.current.rep, r.current.player) for r in shown] == [
        (rows[0], 1, "76"), (rows[1], 2, "76"), (rows[2], 2, "64"),
    ]  # fmt: skip
    assert shown[1].current.down == 3, "what was empty is filled"
    assert cuts(library, note)[1] == ((17, 28), (36, 47)), "a later remark is a stretch of its own"
    assert (shown[2].start, shown[2].end) == (shown[1].start, shown[1].end)


def test_merge_needs_two_reps_of_one_note(library: store.Library, note: int, reps: list[int]) -> None:
    other = store.add_note(library, new_note("d2"), scene(BLOCKS[:2]))
    strange = store.state_of(library, other).reps[0].id
    for second in (reps[0], strange):
        with pytest.raises(InputError, match="Only two different reps of the same note"):
            store.merge_reps(library, reps[0], second)


def test_move_words(library: store.Library, note: int, reps: list[int]) -> None:
    store.move_words(library, 17, 19, note=note, to=reps[0])
    assert cuts(library, note)[:2] == [((8, 19),), ((19, 28),)]
    assert times(library, note)[:2] == [(1, 4.0, 9.4), (2, 9.5, 13.9)]
    store.move_words(library, 36, 38, note=note, to=None)
    assert cuts(library, note)[2] == ((38, 47),)
    store.move_words(library, 28, 36, note=note, to=reps[0])
    assert cuts(library, note)[0] == ((8, 19), (28, 36)), "a remark back about an earlier snap"
    assert times(library, note)[0] == (1, 4.0, 9.4), "its times stay those of the snap's own talk"


def test_a_rep_cannot_lose_all_its_words(library: store.Library, note: int, reps: list[int]) -> None:
    with pytest.raises(
        InputError, match="Rep 2 would have no words left; merge it or delete its rows instead"
    ):
        store.move_words(library, 10, 30, note=note, to=reps[0])
    with pytest.raises(InputError, match="The note has words 0 to 46"):
        store.move_words(library, 40, 48, note=note, to=None)


def test_a_rep_made_of_talk(library: store.Library, note: int, rows: list[int]) -> None:
    row, _ = store.add_rep(library, note, 28, 36, {"player": "76", "verdict": "neutral"})
    shown = store.current_rows(library, note)
    assert [(r.id, r.current.rep) for r in shown] == [
        (rows[0], 1), (rows[1], 2), (row, 3), (rows[2], 4), (rows[3], 4),
    ]  # fmt: skip
    assert (shown[2].start, shown[2].end) == (14.0, 17.9)


def test_a_rep_made_by_hand_can_be_the_first(library: store.Library) -> None:
    note = store.add_note(library, new_note(), scene(((None, "he wins that one", ()),)))
    row, _ = store.add_rep(library, note, 0, 4, {"player": "76", "verdict": "win"})
    assert [(r.id, r.current.rep) for r in store.current_rows(library, note)] == [(row, 1)]


def test_reorder(library: store.Library, note: int, reps: list[int]) -> None:
    def order() -> list[int]:
        return [rep.id for rep in store.state_of(library, note).reps]

    one, two, three = reps
    store.reorder_rep(library, three, one)
    assert order() == [three, one, two]
    assert [row.current.rep for row in store.current_rows(library, note)] == [1, 1, 2, 3]
    assert [row.current.player for row in store.current_rows(library, note)] == ["64", "76", "76", "76"]
    store.reorder_rep(library, three, None)
    assert order() == [one, two, three]
    for still in ((one, one), (one, two), (three, None)):
        assert store.reorder_rep(library, *still).action is None


def test_reorder_without_end(library: store.Library, note: int, reps: list[int]) -> None:
    """Putting two reps between the same two again and again uses up the numbers between."""
    one, two, three = reps
    for _ in range(60):
        store.reorder_rep(library, three, two)
        store.reorder_rep(library, two, three)
    assert [rep.id for rep in store.state_of(library, note).reps] == [one, two, three]
    store.split_rep(library, one, 12)
    assert [row.current.rep for row in store.current_rows(library, note)] == [1, 2, 3, 4, 4]
    assert store.check(library) == []


def test_a_restored_row_leaves_words_to_the_rep_that_has_them_now(
    library: store.Library, note: int, rows: list[int]
) -> None:
    store.delete_row(library, rows[1])
    store.add_rep(library, note, 24, 28, {"player": "71"})
    store.restore_row(library, rows[1])
    assert cuts(library, note)[1:3] == [((17, 24),), ((24, 28),)]
    assert store.check(library) == []


def test_an_emptied_rep_takes_no_row(library: store.Library, note: int, reps: list[int]) -> None:
    store.merge_reps(library, reps[0], reps[1])
    for call in (
        lambda: store.add_row(library, reps[1], {}),
        lambda: store.split_rep(library, reps[1], 20),
        lambda: store.reorder_rep(library, reps[1], None),
        lambda: store.merge_reps(library, reps[0], reps[1]),
        lambda: store.move_words(library, 0, 3, note=note, to=reps[1]),
    ):
        with pytest.raises(InputError, match=f"Rep {reps[1]} is no longer in the note"):
            call()


def test_rows_read_without_words(library: store.Library) -> None:
    reading = Reading((), rows=(GradeRow(rep=1, start=0, end=2), GradeRow(rep=2, start=2, end=4)))
    note = store.add_note(library, new_note(kind="text"), reading)
    one, two = (rep.id for rep in store.state_of(library, note).reps)
    with pytest.raises(InputError, match="can only be split"):
        store.split_rep(library, one, 0)
    store.merge_reps(library, one, two)
    assert len(store.current_rows(library, note)) == 1
