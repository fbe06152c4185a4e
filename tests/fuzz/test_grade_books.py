"""Grade books from elsewhere: spoilt, foreign, and laid as traps."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from functools import lru_cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewer import paths, store
from reviewer.errors import LibraryError
from reviewer.keeping import restore
from reviewer.merging import bring_in
from reviewer.store import Library
from tests.fuzz.hostile import EVIL, check_sentence, fuzzed, left_in, result_or_sentence, spoilt
from tests.store.scene import new_note, scene


@lru_cache(maxsize=1)
def book() -> bytes:
    """A grade book with a note, as one file."""
    with tempfile.TemporaryDirectory() as folder:
        with Library.open(Path(folder) / "book.db") as library:
            store.add_note(library, new_note(), scene())
            store.backup(library, Path(folder) / "copy.db")
        return (Path(folder) / "copy.db").read_bytes()


@contextmanager
def home(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A library with two notes of its own; what happens to it is looked at."""
    with tempfile.TemporaryDirectory() as folder:
        monkeypatch.setenv(paths.HOME_VARIABLE, folder)
        with Library.open() as library:
            for digest in ("a", "b"):
                store.add_note(library, new_note(digest), scene())
        yield Path(folder)


def notes_now() -> int:
    with Library.open() as library:
        assert store.check(library) == []
        return len(store.notes(library))


def bring_back(path: Path, folder: Path) -> None:
    """The backup's notes are there, or the two that were there before, and nothing lies about."""
    done = result_or_sentence(lambda: restore(path) or True)
    assert notes_now() == (2 if done is None else 1)
    assert left_in(folder) == []


@fuzzed(20)
@given(data=st.data())
def test_spoilt_backups(data: st.DataObject) -> None:
    with pytest.MonkeyPatch.context() as patch, home(patch) as folder, tempfile.TemporaryDirectory() as away:
        path = Path(away) / "backup.db"
        path.write_bytes(data.draw(spoilt([book()])))
        bring_back(path, folder)


TRAPS = {
    "a table is missing": "DROP TABLE row_now",
    "the notes are missing": "DROP TABLE note",
    "a column is missing": "ALTER TABLE note RENAME COLUMN title TO name",
    "a row is no JSON": "UPDATE row_reading SET grade = '{'",
    "a row is no grade row": 'UPDATE row_reading SET grade = \'{"rep": "x"}\'',
    "words are no words": "UPDATE reading SET words = '[[1]]'",
    "words nested deep": "UPDATE reading SET words = printf('%.20000c', '[')",
    "a trigger that deletes": "CREATE TRIGGER t AFTER INSERT ON note BEGIN DELETE FROM note; END",
    "a trigger that fails": "CREATE TRIGGER t AFTER UPDATE ON note BEGIN SELECT RAISE(FAIL, 'no'); END",
    "a view with a table's name": "DROP TABLE row_now; CREATE VIEW row_now AS SELECT 1 AS x",
    "an endless view": "DROP TABLE tag; CREATE VIEW tag AS WITH RECURSIVE r(id) AS "
    "(SELECT 1 UNION ALL SELECT id + 1 FROM r) SELECT id, 'x' AS field, id AS value FROM r",
    "steps of nobody": "DELETE FROM _sqlite_migrations",
    "steps of the future": "UPDATE _sqlite_migrations SET name = 'z' || name",
    "another program": "PRAGMA application_id = 7",
    "titles that act on a terminal": f"UPDATE note SET title = '{EVIL}'",
    "bytes for text": "UPDATE note SET title = CAST(x'ff00fe' AS TEXT)",
    "a guard that does nothing": "CREATE TRIGGER harmless AFTER INSERT ON note BEGIN SELECT 1; END",
    "a note of absurd length": "UPDATE note SET duration_s = 9e999",
    "an absurd number": "UPDATE note SET revision = 9223372036854775807",
}


@pytest.mark.parametrize("sql", TRAPS.values(), ids=TRAPS.keys())
def test_backups_made_by_hand(sql: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = laid(tmp_path / "backup.db", sql)
    with home(monkeypatch) as folder:
        before = path.read_bytes()
        bring_back(path, folder)
        assert path.read_bytes() == before


@pytest.mark.parametrize("sql", TRAPS.values(), ids=TRAPS.keys())
def test_libraries_of_others_made_by_hand(sql: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Merged whole or not at all, and mine stays sound."""
    path = laid(tmp_path / "theirs.db", sql)
    with home(monkeypatch) as folder:
        done = result_or_sentence(lambda: bring_in(path))
        assert notes_now() == 2 + (done.added["notes"] if done else 0)
        assert left_in(folder) == []


def laid(path: Path, sql: str) -> Path:
    """A grade book that somebody changed by hand."""
    path.write_bytes(book())
    with closing(sqlite3.connect(path)) as connection:
        guards = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        guards = [guard for guard in guards if "final" in guard[0]]
        # who forges a file takes its guards off first and puts them on again
        for name, _ in guards:
            connection.execute(f"DROP TRIGGER {name}")
        connection.executescript(sql)
        for _, text in guards:
            connection.execute(text)
    return path


def test_an_empty_file_is_no_backup(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "backup.db").write_bytes(b"")
    sqlite3.connect(tmp_path / "other.db").execute("VACUUM")
    with home(monkeypatch):
        for name in ("backup.db", "other.db"):
            with pytest.raises(LibraryError, match="is empty, which is not a grade book"):
                restore(tmp_path / name)
        assert notes_now() == 2


def test_a_backup_with_a_path_for_a_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Links and dots lead to the file they name, and nothing is written there."""
    (tmp_path / "deep").mkdir()
    real = tmp_path / "real.db"
    real.write_bytes(book())
    link = tmp_path / "deep" / "link.db"
    link.symlink_to("../real.db")
    with home(monkeypatch) as folder:
        bring_back(link, folder)
        bring_back(tmp_path / "deep" / ".." / "real.db", folder)
        itself = tmp_path / "itself.db"
        itself.symlink_to(paths.database())
        with pytest.raises(Exception, match="is the grade book itself"):
            restore(itself)
        os.link(paths.database(), tmp_path / "twin.db")
        with pytest.raises(Exception, match="is the grade book itself"):
            restore(tmp_path / "twin.db")
    assert real.read_bytes() == book()


@pytest.mark.parametrize("name", [EVIL.replace("/", "_"), "x" * 240 + ".db", "-rf", "a\nb.db"])
def test_names_of_backups(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / name
    path.write_bytes(b"no book")
    with home(monkeypatch) as folder:
        with pytest.raises(LibraryError) as told:
            restore(path)
        from reviewer.cli import as_sentence

        check_sentence(as_sentence(str(told.value)))
        assert left_in(folder) == []
