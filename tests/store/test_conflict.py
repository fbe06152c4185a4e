"""Two windows on one note: neither loses the other's work."""

from __future__ import annotations

import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from reviewer import store
from reviewer.errors import InputError, LibraryError
from tests.store.scene import new_note, picture, scene

Windows = tuple[store.Library, store.Library]


@pytest.fixture
def windows(tmp_path: Path) -> Iterator[Windows]:
    """Two open grade books on one file that holds one note."""
    path = tmp_path / "book.db"
    with store.Library.open(path) as left, store.Library.open(path) as right:
        left.who, right.who = "left", "right"
        store.add_note(left, new_note(), scene())
        yield left, right


@pytest.fixture
def rows(windows: Windows) -> list[int]:
    return [row.id for row in store.current_rows(windows[0], 1)]


@pytest.fixture
def reps(windows: Windows) -> list[int]:
    return [rep.id for rep in store.state_of(windows[0], 1).reps]


def test_other_fields_are_merged(windows: Windows, rows: list[int]) -> None:
    left, right = windows
    assert not store.set_fields(left, rows[0], {"verdict": "loss"}, seen=0).merged
    done = store.set_fields(right, rows[0], {"finish": "+"}, seen=0)
    assert (done.revision, done.merged) == (2, True)
    for library in windows:
        row = store.current_rows(library, 1)[0]
        assert (row.current.verdict, row.current.finish) == ("loss", "+")


def test_the_same_field_is_a_conflict(windows: Windows, rows: list[int]) -> None:
    left, right = windows
    store.set_fields(left, rows[0], {"verdict": "loss", "finish": "+"}, seen=0)
    before = picture(left, 1)
    with pytest.raises(store.Conflict) as caught:
        store.set_fields(right, rows[0], {"verdict": "neutral", "set": "jump"}, seen=0)
    conflict = caught.value
    assert (conflict.note, conflict.revision) == (1, 1)
    [clash] = conflict.clashes
    assert (clash.row, clash.field, clash.theirs, clash.yours, clash.who) == (
        rows[0],
        "verdict",
        "loss",
        "neutral",
        "left",
    )
    assert str(conflict).startswith("Another window changed this note: verdict of rep 1 (left, ")
    assert str(conflict).endswith("UTC); nothing of yours was written, look at it again and repeat.")
    assert isinstance(conflict, LibraryError)
    assert picture(right, 1) == before, "nothing of the second window was written"
    store.set_fields(right, rows[0], {"verdict": "neutral", "set": "jump"}, seen=conflict.revision)


def test_the_same_value_is_no_conflict(windows: Windows, rows: list[int]) -> None:
    left, right = windows
    store.set_fields(left, rows[0], {"verdict": "loss"}, seen=0)
    done = store.set_fields(right, rows[0], {"verdict": "loss"}, seen=0)
    assert (done.action, done.revision, done.merged) == (None, 1, True)


def test_confirming_what_was_changed_meanwhile(windows: Windows, rows: list[int]) -> None:
    left, right = windows
    store.set_fields(left, rows[0], {"verdict": "loss"}, seen=0)
    for confirm in (
        lambda: store.set_confirmed(right, rows[0], seen=0),
        lambda: store.confirm_above(right, 1, 0.9, seen=0),
    ):
        with pytest.raises(store.Conflict, match="verdict of rep 1"):
            confirm()
    assert store.set_confirmed(right, rows[1], seen=0).merged, "another row is free"


def test_work_on_a_row_deleted_meanwhile(windows: Windows, rows: list[int]) -> None:
    left, right = windows
    store.delete_row(left, rows[1], seen=0)
    with pytest.raises(store.Conflict, match="deleted of rep"):
        store.set_fields(right, rows[1], {"verdict": "win"}, seen=0)
    with pytest.raises(InputError, match="no longer in the note"):
        store.set_fields(right, rows[1], {"verdict": "win"})


def test_deleting_a_row_corrected_meanwhile(windows: Windows, rows: list[int]) -> None:
    left, right = windows
    store.set_comment(left, rows[1], "best rep of the night", seen=0)
    with pytest.raises(store.Conflict, match="comment of rep 2"):
        store.delete_row(right, rows[1], seen=0)


def test_cutting_the_same_rep_twice(windows: Windows, rows: list[int], reps: list[int]) -> None:
    left, right = windows
    store.split_rep(left, reps[1], 24, seen=0)
    with pytest.raises(store.Conflict):
        store.merge_reps(right, reps[0], reps[1], seen=0)
    with pytest.raises(store.Conflict):
        store.move_words(right, 20, 30, note=1, to=reps[0], seen=0)
    assert store.set_fields(right, rows[1], {"verdict": "win"}, seen=0).merged, "its grade is free"
    assert store.split_rep(right, reps[2], 40, seen=0)[1].merged, "another rep is free"
    assert store.check(left) == []


def test_undo_of_what_another_window_did_asks_first(windows: Windows, rows: list[int]) -> None:
    left, right = windows
    mine = store.set_fields(right, rows[1], {"verdict": "win"}, seen=0).revision
    theirs = store.set_fields(left, rows[0], {"verdict": "loss"}, seen=mine).revision
    with pytest.raises(store.Conflict, match="verdict of rep 1 \\(left, ") as caught:
        store.undo(right, 1, seen=mine)
    done = store.undo(right, 1, seen=caught.value.revision)
    assert done is not None and done.rows == (rows[0],)
    with pytest.raises(store.Conflict):
        store.redo(left, 1, seen=theirs)


def test_what_was_undone_elsewhere_clashes_too(windows: Windows, rows: list[int]) -> None:
    left, right = windows
    seen = store.set_fields(left, rows[0], {"verdict": "loss"}).revision
    store.undo(left, 1, seen=seen)
    with pytest.raises(store.Conflict, match="verdict of rep 1"):
        store.set_confirmed(right, rows[0], seen=seen)


def test_a_new_reading_stops_writers_that_have_not_seen_it(windows: Windows, rows: list[int]) -> None:
    left, right = windows
    store.add_reading(left, 1, scene(shift_s=0.2), model="larger")
    with pytest.raises(store.Conflict, match="reading of the note"):
        store.set_fields(right, rows[0], {"verdict": "loss"}, seen=0)


@pytest.mark.parametrize("seen", [-1, 1, 99])
def test_a_revision_that_never_was(windows: Windows, rows: list[int], seen: int) -> None:
    with pytest.raises(
        InputError, match=f"Revision {seen} of note 1 does not exist \\(it is at 0\\); load the note again"
    ):
        store.set_fields(windows[0], rows[0], {"verdict": "loss"}, seen=seen)


OPENER = """
import sys
from pathlib import Path
from reviewer import store
store.Library.open(Path(sys.argv[1])).close()
"""

WRITER = """
import sys
from pathlib import Path
from reviewer import store
with store.Library.open(Path(sys.argv[1])) as library:
    for turn in range(10):
        store.set_comment(library, int(sys.argv[2]), f"turn {turn} of {sys.argv[2]}")
"""


def test_two_processes_write_at_once(tmp_path: Path) -> None:
    """Each opens (and one makes) the file at the same time, then both write without losing a turn."""
    path = tmp_path / "book.db"
    starts = [subprocess.Popen([sys.executable, "-c", OPENER, str(path)]) for _ in range(2)]
    assert [process.wait() for process in starts] == [0, 0]
    with store.Library.open(path) as library:
        note = store.add_note(library, new_note(), scene())
        rows = [row.id for row in store.current_rows(library, note)][:2]
        writers = [subprocess.Popen([sys.executable, "-c", WRITER, str(path), str(row)]) for row in rows]
        assert [process.wait() for process in writers] == [0, 0]
        assert store.revision_of(library, note) == 20
        assert [row.comment for row in store.current_rows(library, note)][:2] == [
            f"turn 9 of {row}" for row in rows
        ]
        assert store.check(library) == []


def test_threads_share_a_library(library: store.Library, note: int, rows: list[int]) -> None:
    def work(row: int) -> None:
        for turn in range(10):
            store.set_comment(library, row, f"turn {turn}")

    threads = [threading.Thread(target=work, args=(row,)) for row in rows]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert store.revision_of(library, note) == 40
    assert {row.comment for row in store.current_rows(library, note)} == {"turn 9"}
