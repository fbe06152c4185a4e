"""Opening a grade book: made, migrated, refused, shared."""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from sqlite_utils import Database

from reviewer import paths, store
from reviewer.errors import InputError, LibraryError
from reviewer.store import schema
from tests.store.scene import new_note, picture, scene

DATA = Path(__file__).parent / "data"


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def old_library(path: Path, script: str = "0001_book.sql") -> Path:
    """A library as an older program left it."""
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript((DATA / script).read_text("utf-8"))
    return path


def one_sentence(error: pytest.ExceptionInfo[LibraryError]) -> bool:
    text = str(error.value)
    return text.endswith(".") and "\n" not in text


@pytest.fixture
def folder() -> Iterator[Path]:
    """A folder of somebody who is not root (root may write anywhere), outside pytest's private ones."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)
    made = Path(tempfile.mkdtemp())
    try:
        yield made
    finally:
        made.chmod(0o755)
        if root:
            os.seteuid(0)
        shutil.rmtree(made)


def test_a_new_library_is_private(home: Path) -> None:
    with store.Library.open() as library:
        store.add_note(library, new_note(), scene())
        assert library.path == paths.database()
        assert mode(home) == 0o700
        assert {mode(file) for file in home.iterdir()} == {0o600}
        assert [file.name for file in home.glob("*.bak")] == [], "nothing to keep a copy of"


def test_a_readable_file_is_made_private(home: Path) -> None:
    store.Library.open().close()
    paths.database().chmod(0o644)
    store.Library.open().close()
    assert mode(paths.database()) == 0o600


def test_settings_of_the_connection(home: Path) -> None:
    with store.Library.open() as library:
        values = [
            library.execute(f"PRAGMA {name}").fetchone()[0] for name in ("journal_mode", "foreign_keys")
        ]
        assert values == ["wal", 1]
        assert library.execute("PRAGMA application_id").fetchone()[0] == schema.APPLICATION_ID


def test_nothing_to_read_yet(home: Path) -> None:
    with pytest.raises(LibraryError, match=r"There is no grade book at .*; grade a note first\.") as error:
        store.Library.open(read_only=True)
    assert one_sentence(error)
    assert not home.exists(), "looking makes nothing"


def test_read_only(home: Path) -> None:
    with store.Library.open() as library:
        note = store.add_note(library, new_note(), scene())
        row = store.current_rows(library, note)[0].id
    with store.Library.open(read_only=True) as library:
        assert len(store.current_rows(library, note)) == 4
        assert store.search(library, store.SearchQuery("reaches"))[0].row == row
        assert store.known_values(library, "verdict") == [("win", 2), ("loss", 1), ("neutral", 1)]
        assert store.check(library) == []
        with pytest.raises(LibraryError, match="was opened for reading only; open it for writing"):
            store.set_fields(library, row, {"verdict": "loss"})


def test_reading_in_a_folder_that_cannot_be_written(folder: Path) -> None:
    """A library on a read-only stick."""
    with store.Library.open(folder / "book.db") as library:
        store.add_note(library, new_note(), scene())
    (folder / "book.db").chmod(0o444)
    folder.chmod(0o555)
    with store.Library.open(folder / "book.db", read_only=True) as library:
        assert len(store.notes(library)) == 1
    with pytest.raises(LibraryError, match="cannot be written") as error:
        store.Library.open(folder / "book.db")
    assert one_sentence(error)


def test_unwritable_folder(folder: Path) -> None:
    folder.chmod(0o555)
    with pytest.raises(
        LibraryError, match=r"The library folder .* cannot be made \(Permission denied\)"
    ) as error:
        store.Library.open(folder / "new" / "book.db")
    assert one_sentence(error)
    with pytest.raises(
        LibraryError, match=r"The grade book .* cannot be written \(Permission denied\)"
    ) as error:
        store.Library.open(folder / "book.db")
    assert one_sentence(error)
    assert list(folder.iterdir()) == []


def test_a_file_where_the_folder_should_be(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(LibraryError, match=r"The library folder .* cannot be made") as error:
        store.Library.open(tmp_path / "file" / "book.db")
    assert one_sentence(error)


def test_a_folder_where_the_file_should_be(tmp_path: Path) -> None:
    with pytest.raises(LibraryError, match="is a folder, not a grade book; choose another file"):
        store.Library.open(tmp_path)


@pytest.mark.parametrize(
    "content", [b"not a database, but long enough to look at\n" * 40, b"SQLite format 3\x00" + b"\xff" * 2000]
)
@pytest.mark.parametrize("read_only", [False, True])
def test_no_database(tmp_path: Path, content: bytes, read_only: bool) -> None:
    path = tmp_path / "book.db"
    path.write_bytes(content)
    with pytest.raises(
        LibraryError, match=r"The grade book .*book\.db is (not a grade book|damaged)"
    ) as error:
        store.Library.open(path, read_only=read_only)
    assert one_sentence(error)
    assert path.read_bytes() == content, "the file is left as it is"


def test_a_damaged_file(tmp_path: Path) -> None:
    path = tmp_path / "book.db"
    with store.Library.open(path) as library:
        for number in range(20):
            store.add_note(library, new_note(f"d{number}"), scene())
        library.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    content = bytearray(path.read_bytes())
    content[8192:] = b"\x5a" * (len(content) - 8192)
    path.write_bytes(content)
    with pytest.raises(LibraryError, match=r"is damaged: save what .* `reviewer rescue`") as error, \
            store.Library.open(path) as library:  # fmt: skip
        store.notes(library)
    assert one_sentence(error)


def test_the_database_of_another_program(tmp_path: Path) -> None:
    path = tmp_path / "other.db"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE recipe (name TEXT)")
    before = path.read_bytes()
    with pytest.raises(
        LibraryError, match="is the database of another program; choose another file"
    ) as error:
        store.Library.open(path)
    assert one_sentence(error)
    assert path.read_bytes() == before


def test_a_library_of_a_newer_program(home: Path) -> None:
    with store.Library.open() as library:
        library.execute("INSERT INTO _sqlite_migrations VALUES (99, 'gradebook', '0099_later', 'then')")
    for read_only in (False, True):
        with pytest.raises(
            LibraryError, match=r"written by a newer version of Reviewer \(it has step 0099_later\)"
        ) as error:
            store.Library.open(read_only=read_only)
        assert one_sentence(error)


def test_an_older_library_is_brought_up_to_date(tmp_path: Path) -> None:
    path = old_library(tmp_path / "book.db")
    with pytest.raises(LibraryError, match="older version of Reviewer; `reviewer review` brings"):
        store.Library.open(path, read_only=True)
    with store.Library.open(path) as library:
        assert library._applied() == [name for name, _ in schema.STEPS]
        assert store.check(library) == []
        shown = store.current_rows(library, 1)
        assert [(r.current.rep, r.current.player, r.current.verdict, r.confirmed) for r in shown] == [
            (1, "76", "loss", False), (2, "76", "loss", True), (3, "76", "neutral", False),
            (4, "64", "win", False), (4, "76", "neutral", False),
        ]  # fmt: skip
        assert shown[0].first is not None and shown[0].first.verdict == "win"
        assert shown[3].comment == "teach this"
        assert store.search(library, store.SearchQuery("oversets"))[0].rep == 3
        done = store.redo(library, 1)
        assert done is not None and store.current_rows(library, 1)[4].current.finish == "+"
        assert store.can_undo(library, 1) == ("correct", None)
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("SELECT count(*) FROM _sqlite_migrations").fetchone() == (
            len(schema.STEPS),
        )


def test_a_copy_is_kept_before_migrating(tmp_path: Path) -> None:
    path = old_library(tmp_path / "book.db")
    before = _dump(path)
    store.Library.open(path).close()
    [copy] = tmp_path.glob("book.db.before-0001_book-*.bak")
    assert _dump(copy) == before
    assert mode(copy) == 0o600
    store.Library.open(path).close()
    assert len(list(tmp_path.glob("*.bak"))) == 1, "no further copy once it is up to date"


def _dump(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as connection:
        return list(connection.iterdump())


def test_a_step_that_fails_leaves_the_library_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = old_library(tmp_path / "book.db")
    before = _dump(path)
    broken = (*schema.STEPS, ("0099_broken", ("CREATE TABLE half (x)", "CREATE TABLE note (x)")))
    monkeypatch.setattr(schema, "STEPS", broken)
    with pytest.raises(sqlite3.OperationalError, match="table note already exists"):
        store.Library.open(path)
    assert _dump(path) == before
    monkeypatch.undo()
    with store.Library.open(path) as library:
        assert store.check(library) == []


@pytest.mark.parametrize("done", range(len(schema.STEPS)))
def test_every_older_schema_can_be_opened(tmp_path: Path, done: int) -> None:
    path = tmp_path / "book.db"
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
        schema.migrations().apply(Database(connection), stop_before=schema.STEPS[done][0])
    with store.Library.open(path) as library:
        note = store.add_note(library, new_note(), scene())
        assert len(store.current_rows(library, note)) == 4
        assert store.check(library) == []


def test_old_steps_never_change(tmp_path: Path) -> None:
    """The schema that step 1 makes today is the one that libraries were made with."""
    path = tmp_path / "now.db"
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        schema.migrations().apply(Database(connection), stop_before="0002_teams")
    query = "SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY name"
    old = old_library(tmp_path / "old.db")
    found = []
    for file in (path, old):
        with closing(sqlite3.connect(file)) as connection:
            found.append(
                [(kind, name, "".join(sql.split())) for kind, name, sql in connection.execute(query)]
            )
    assert found[0] == found[1]


def test_derived_tables_are_built_again_when_stale(home: Path) -> None:
    with store.Library.open() as library:
        note = store.add_note(library, new_note(), scene())
        before = picture(library, note)
        library.execute("DELETE FROM segment")
        library.execute("DELETE FROM row_now")
        library.execute("UPDATE state SET value = 'stale'")
        assert len(store.check(library)) == 2
    seen: list[tuple[int, int]] = []
    with store.Library.open(progress=lambda done, total: seen.append((done, total))) as library:
        assert picture(library, note) == before
        assert store.check(library) == []
    assert seen == [(1, 1)]


def test_nested_transactions(library: store.Library, note: int) -> None:
    with pytest.raises(RuntimeError), library.writing():
        store.rename_note(library, note, "First")
        raise RuntimeError
    assert store.note(library, note).title == "Second half"
    with library.writing():
        store.rename_note(library, note, "First")
        with pytest.raises(InputError):
            store.rename_note(library, note, "")
        with pytest.raises(RuntimeError), library.writing():
            store.rename_note(library, note, "Second")
            raise RuntimeError
    assert store.note(library, note).title == "First"


def test_writing_inside_reading_is_a_bug(library: store.Library, note: int) -> None:
    with pytest.raises(RuntimeError, match="take the lock first"), library.reading():
        store.rename_note(library, note, "x")
    store.rename_note(library, note, "x")


def test_a_busy_library(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with store.Library.open() as one, store.Library.open() as other:
        note = store.add_note(one, new_note(), scene())
        other.execute("PRAGMA busy_timeout = 1")
        with one.writing():
            with pytest.raises(LibraryError, match="is busy: another window has been writing") as error:
                store.rename_note(other, note, "x")
            assert len(store.current_rows(other, note)) == 4, "reading goes on"
        assert one_sentence(error)
        store.rename_note(other, note, "x")


def test_a_full_disk(home: Path) -> None:
    with store.Library.open() as library:
        note = store.add_note(library, new_note(), scene())
        pages = library.execute("PRAGMA page_count").fetchone()[0]
        library.execute(f"PRAGMA max_page_count = {pages}")
        before = picture(library, note)
        with pytest.raises(LibraryError, match="the disk is full; free some space") as error:
            for number in range(200):
                store.add_note(library, new_note(f"more {number}"), scene())
        assert one_sentence(error)
        assert picture(library, note) == before
        assert store.check(library) == []


def test_a_bug_is_not_dressed_up(library: store.Library) -> None:
    with pytest.raises(sqlite3.OperationalError, match="no such table"), library.reading() as db:
        db.execute("SELECT * FROM nowhere")


def test_half_a_character_is_one_sentence(library: store.Library) -> None:
    with pytest.raises(InputError, match="holds half a character and cannot be stored"):
        store.learn(library, "form", "swim", "over \ud800")
    note = store.add_note(library, new_note(title="night \udcff", source="film/\udcff.wav"), scene())
    assert store.note(library, note).title == "night ?"


def test_a_killed_writer_leaves_whole_actions(home: Path) -> None:
    """A process that dies inside a transaction loses that one decision and nothing else."""
    with store.Library.open() as library:
        note = store.add_note(library, new_note(), scene())
        row = store.current_rows(library, note)[0].id
        store.set_fields(library, row, {"verdict": "loss"})
        before = picture(library, note)
    script = (
        "import os\nfrom reviewer import store\nlibrary = store.Library.open()\n"
        "with library.writing():\n"
        f"    store.set_fields(library, {row}, {{'verdict': 'neutral'}})\n    os._exit(9)\n"
    )
    assert subprocess.run([sys.executable, "-c", script], check=False).returncode == 9
    with store.Library.open() as library:
        assert picture(library, note) == before
        assert store.check(library) == []


def test_the_store_knows_neither_speech_nor_language() -> None:
    script = (
        "import sys, reviewer.store\n"
        "heavy = {'spacy', 'faster_whisper', 'textual', 'scipy', 'av', 'sqlite_utils', 'numpy'}\n"
        "print(sorted(heavy & sys.modules.keys()))\n"
        "layers = ('reviewer.speech', 'reviewer.language', 'reviewer.screens')\n"
        "print(sorted(m for m in sys.modules if m.startswith(layers)))\n"
    )
    run = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, text=True)
    assert run.stdout.split("\n")[:2] == ["[]", "[]"]


def test_opening_again_needs_no_sqlite_utils(home: Path) -> None:
    store.Library.open().close()
    script = (
        "import sys\nfrom reviewer import store\nstore.Library.open().close()\n"
        "print('sqlite_utils' in sys.modules)\n"
    )
    run = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, text=True)
    assert run.stdout == "False\n"


def test_who_decided(monkeypatch: pytest.MonkeyPatch) -> None:
    def nobody() -> str:
        raise KeyError

    monkeypatch.setattr("getpass.getuser", nobody)
    with store.Library.memory() as library:
        assert library.who == "coach"


def test_a_copied_library_opens_elsewhere(home: Path, tmp_path: Path) -> None:
    with store.Library.open() as library:
        note = store.add_note(library, new_note(), scene())
        expected = picture(library, note)
    shutil.copy(paths.database(), tmp_path / "copy.db")
    with store.Library.open(tmp_path / "copy.db") as library:
        assert picture(library, note) == expected
