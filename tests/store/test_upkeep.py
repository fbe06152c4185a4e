"""Backup copies are whole, and the check finds what is broken."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from reviewer import store
from reviewer.errors import InputError, LibraryError
from tests.store.scene import new_note, picture, scene


@pytest.fixture
def book(tmp_path: Path) -> store.Library:
    """A grade book on disk with two notes and some decisions."""
    library = store.Library.open(tmp_path / "book.db")
    for number in range(2):
        note = store.add_note(library, new_note(f"d{number}"), scene())
        row = store.current_rows(library, note)[0].id
        store.set_fields(library, row, {"verdict": "loss"})
    return library


def test_a_backup_holds_everything(book: store.Library, tmp_path: Path) -> None:
    seen: list[tuple[int, int]] = []
    target = store.backup(
        book, tmp_path / "far" / "copy.db", progress=lambda done, total: seen.append((done, total))
    )
    assert seen and seen[-1][0] == seen[-1][1]
    assert stat.S_IMODE(target.stat().st_mode) == 0o600
    with store.Library.open(target) as copy:
        assert [picture(copy, note) for note in (1, 2)] == [picture(book, note) for note in (1, 2)]
        assert store.undo(copy, 1) is not None
        assert store.check(copy) == []
    assert [file.name for file in (tmp_path / "far").iterdir()] == ["copy.db"], "one plain file, no leavings"


def test_a_backup_while_another_window_writes(book: store.Library, tmp_path: Path) -> None:
    with store.Library.open(tmp_path / "book.db") as other, other.writing():
        store.rename_note(other, 1, "not yet decided")
        store.backup(book, tmp_path / "copy.db")
    with store.Library.open(tmp_path / "copy.db") as copy:
        assert store.note(copy, 1).title == "Second half"


def test_a_backup_never_overwrites_by_itself(book: store.Library, tmp_path: Path) -> None:
    target = tmp_path / "copy.db"
    target.write_text("mine")
    with pytest.raises(InputError, match=r"There is a file .* already; choose another name"):
        store.backup(book, target)
    assert target.read_text() == "mine"
    store.backup(book, target, replace=True)
    with store.Library.open(target) as copy:
        assert len(store.notes(copy)) == 2
    with pytest.raises(InputError, match="over the grade book itself"):
        store.backup(book, tmp_path / "book.db", replace=True)
    assert store.check(book) == []


def test_a_backup_that_cannot_be_written(book: store.Library, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(
        LibraryError, match=r"The backup .* could not be written \(.*\); choose another place\."
    ):
        store.backup(book, tmp_path / "file" / "copy.db")


def test_a_damaged_book_makes_no_backup(book: store.Library, tmp_path: Path) -> None:
    (page,) = book.execute("SELECT rootpage FROM sqlite_master WHERE name = 'reading'").fetchone()
    (size,) = book.execute("PRAGMA page_size").fetchone()
    book.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    book.close()
    with (tmp_path / "book.db").open("r+b") as file:
        file.seek((page - 1) * size)
        file.write(b"\x5a" * size)
    with store.Library.open(tmp_path / "book.db") as library:
        assert any(text.startswith("The file: ") for text in store.check(library))
        with pytest.raises(LibraryError, match="The backup is not whole"):
            store.backup(library, tmp_path / "copy.db")
    assert not list(tmp_path.glob("*copy*"))


def test_check_of_a_sound_book(book: store.Library) -> None:
    seen: list[tuple[int, int]] = []
    assert store.check(book, progress=lambda done, total: seen.append((done, total))) == []
    assert seen == [(1, 2), (2, 2)]


@pytest.mark.parametrize(
    ("harm", "sentence"),
    [
        ("UPDATE row_now SET confirmed = 1 WHERE row_id = 1",
         "Note 1: the rows shown are not what its decisions add up to"),
        ("DELETE FROM row_now WHERE row_id = 2", "Note 1: the rows shown are not"),
        ("DELETE FROM segment WHERE row_id = 2", "Note 1: the rows that are searched are not its rows"),
        ("UPDATE note SET revision = 7 WHERE id = 2",
         "Note 2: its revision is 7, but its log has 1 events up to 1."),
        ("INSERT INTO segment_fts (rowid, words, terms, tags) VALUES (1, 'lost', '', '')",
         "The search index does not fit"),
        ("INSERT INTO action (note_id, kind, at, who) VALUES (99, 'x', '', '')", "The table action: record"),
        ("UPDATE action SET undone = 1 WHERE id = 1;"
         "INSERT INTO action (note_id, kind, at, who) VALUES (1, 'x', '', '')",
         "Note 1: an undone action is older than one in force."),
    ],
)  # fmt: skip
def test_check_finds(book: store.Library, harm: str, sentence: str) -> None:
    book.execute("PRAGMA foreign_keys = OFF")
    for statement in harm.split(";"):
        book.execute(statement)
    assert any(text.startswith(sentence) for text in store.check(book)), store.check(book)


def test_check_finds_shared_words(book: store.Library) -> None:
    from reviewer.store.fold import Cell
    from reviewer.store.journal import editing

    with editing(book, 1, "harm", None) as edit:
        edit.write(Cell("rep", 1, "stretches"), [[8, 20]])
    assert store.check(book) == ["Note 1: two of its reps share words."]
