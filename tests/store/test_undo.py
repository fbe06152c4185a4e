"""Undo and redo without end: any decisions, taken back in turn, leave what was there before each."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reviewer import store
from reviewer.errors import InputError
from reviewer.records import Mend
from tests.store.scene import BLOCKS, Block, new_note, picture, scene

MENDS = (
    Mend(9, 11, 4.5, 5.4, "one hear", "one he", 0.7),
    Mend(40, 41, 20, 20.4, "punched", "punch", 0.9, "punch"),
)

OTHER_BLOCKS: tuple[Block, ...] = (
    BLOCKS[0],
    (1, BLOCKS[1][1], ({"player": "76", "techniques": ["reach"], "verdict": "neutral", "confidence": 0.7},)),
    (2, BLOCKS[2][1] + " " + BLOCKS[3][1], ({"player": "71", "moves": ["club"], "confidence": 0.5},)),
    BLOCKS[4],
    (4, "One more, a good anchor.", ({"player": "76", "techniques": ["anchor"], "verdict": "win"},)),
)

Act = Callable[[store.Library, int], Any]


def _row(library: store.Library, note: int, pick: int) -> int:
    rows = store.current_rows(library, note)
    return rows[pick % len(rows)].id if rows else 0


def _rep(library: store.Library, note: int, pick: int) -> int:
    reps = [rep.id for rep in store.state_of(library, note).reps if rep.number]
    return reps[pick % len(reps)] if reps else 0


def _settle(library: store.Library, note: int, pick: int, take: Any) -> None:
    if questions := store.open_questions(library, note):
        store.settle(library, questions[pick % len(questions)].id, take)


def _restore(library: store.Library, note: int, pick: int) -> None:
    if gone := store.deleted_rows(library, note):
        store.restore_row(library, gone[pick % len(gone)].id)


picks = st.integers(0, 7)
places = st.integers(0, 60)
fields = st.fixed_dictionaries(
    {},
    optional={
        "verdict": st.sampled_from(["win", "loss", "neutral"]),
        "player": st.sampled_from(["76", "64", "71", None]),
        "techniques": st.lists(st.sampled_from(["reach", "punch", "anchor"]), max_size=2),
        "down": st.integers(1, 4) | st.none(),
        "assignment": st.sampled_from(["+", "-", None]),
    },
)
acts: st.SearchStrategy[Act] = st.one_of(
    st.builds(lambda p, v: lambda b, n: store.set_fields(b, _row(b, n, p), v), picks, fields),
    st.builds(lambda p, t: lambda b, n: store.set_comment(b, _row(b, n, p), t), picks, st.text(max_size=5)),
    st.builds(lambda p, c: lambda b, n: store.set_confirmed(b, _row(b, n, p), c), picks, st.booleans()),
    st.builds(lambda c: lambda b, n: store.confirm_above(b, n, c), st.floats(0, 1)),
    st.builds(lambda p: lambda b, n: store.delete_row(b, _row(b, n, p)), picks),
    st.builds(lambda p: lambda b, n: _restore(b, n, p), picks),
    st.builds(lambda p: lambda b, n: store.restore_first(b, _row(b, n, p)), picks),
    st.builds(lambda p, v: lambda b, n: store.add_row(b, _rep(b, n, p), v), picks, fields),
    st.builds(lambda p, w: lambda b, n: store.split_rep(b, _rep(b, n, p), w), picks, places),
    st.builds(lambda p, q: lambda b, n: store.merge_reps(b, _rep(b, n, p), _rep(b, n, q)), picks, picks),
    st.builds(lambda p, q: lambda b, n: store.reorder_rep(b, _rep(b, n, p), _rep(b, n, q)), picks, picks),
    st.builds(
        lambda f, k, p: lambda b, n: store.move_words(b, f, f + k, note=n, to=_rep(b, n, p)),
        places,
        picks,
        picks,
    ),
    st.builds(lambda f, k: lambda b, n: store.move_words(b, f, f + k, note=n, to=None), places, picks),
    st.builds(lambda f, k, v: lambda b, n: store.add_rep(b, n, f, f + k, v), places, picks, fields),
    st.builds(lambda m: lambda b, n: store.refuse_mend(b, n, m.heard, m.read), st.sampled_from(MENDS)),
    st.builds(lambda p, t: lambda b, n: _settle(b, n, p, t), picks, st.sampled_from(["mine", "machine"])),
    st.builds(
        lambda blocks, shift: (
            lambda b, n: store.add_reading(b, n, scene(blocks, shift_s=shift, mends=MENDS[:1]))
        ),
        st.sampled_from([BLOCKS, OTHER_BLOCKS, BLOCKS[:3]]),
        st.sampled_from([0.0, 0.15]),
    ),
)

quick = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def _book() -> tuple[store.Library, int]:
    library = store.Library.memory()
    return library, store.add_note(library, new_note(), scene(mends=MENDS))


def _act(library: store.Library, note: int, act: Act) -> bool:
    """True when a decision was made (a refused one must leave no trace)."""
    before = store.revision_of(library, note)
    with contextlib.suppress(InputError):
        act(library, note)
    return store.revision_of(library, note) > before


@quick
@given(st.lists(acts, min_size=1, max_size=12))
def test_undo_all_then_redo_all(sequence: list[Act]) -> None:
    library, note = _book()
    with library:
        pictures = [picture(library, note)]
        for act in sequence:
            if _act(library, note, act):
                pictures.append(picture(library, note))
            else:
                assert picture(library, note) == pictures[-1]
        assert store.check(library) == []
        for expected in reversed(pictures[:-1]):
            assert store.undo(library, note) is not None
            assert picture(library, note) == expected
        assert store.undo(library, note) is None
        for expected in pictures[1:]:
            assert store.redo(library, note) is not None
            assert picture(library, note) == expected
        assert store.redo(library, note) is None
        assert store.check(library) == []


@quick
@given(st.lists(st.one_of(acts, st.sampled_from(["undo", "redo"])), max_size=14))
def test_undo_and_redo_among_decisions(sequence: list[Act | str]) -> None:
    """The plain model: a line of pictures and a place in it; a decision cuts off what is ahead."""
    library, note = _book()
    with library:
        line, place = [picture(library, note)], 0
        for act in sequence:
            if act == "undo":
                assert (store.undo(library, note) is None) == (place == 0)
                place = max(0, place - 1)
            elif act == "redo":
                assert (store.redo(library, note) is None) == (place == len(line) - 1)
                place = min(len(line) - 1, place + 1)
            elif _act(library, note, act):  # type: ignore[arg-type]
                line = [*line[: place + 1], picture(library, note)]
                place += 1
            assert picture(library, note) == line[place]
        assert store.check(library) == []


def test_undo_names_what_it_took_back(library: store.Library, note: int, rows: list[int]) -> None:
    store.set_fields(library, rows[0], {"verdict": "loss"})
    store.set_confirmed(library, rows[2])
    assert store.can_undo(library, note) == ("confirm", None)
    done = store.undo(library, note)
    assert done is not None and (done.kind, done.rows, done.revision) == ("confirm", (rows[2],), 3)
    assert store.can_undo(library, note) == ("correct", "confirm")


def test_undo_goes_on_after_a_restart(tmp_path: Path) -> None:
    path = tmp_path / "book.db"
    with store.Library.open(path) as library:
        note = store.add_note(library, new_note(), scene())
        row = store.current_rows(library, note)[0].id
        before = picture(library, note)
        store.set_fields(library, row, {"verdict": "loss"})
        after = picture(library, note)
    with store.Library.open(path) as library:
        assert picture(library, note) == after
        assert store.undo(library, note) is not None
        assert picture(library, note) == before
    with store.Library.open(path) as library:
        assert store.redo(library, note) is not None
        assert picture(library, note) == after
        assert [change.undone for change in store.history(library, row)] == [False]


def test_notes_have_their_own_undo(library: store.Library, note: int, rows: list[int]) -> None:
    other = store.add_note(library, new_note("d2"), scene())
    theirs = store.current_rows(library, other)[0].id
    store.set_fields(library, rows[0], {"verdict": "loss"})
    store.set_fields(library, theirs, {"verdict": "loss"})
    store.undo(library, note)
    assert store.current_rows(library, note)[0].current.verdict == "win"
    assert store.current_rows(library, other)[0].current.verdict == "loss"
