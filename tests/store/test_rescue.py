"""A damaged grade book: one sentence that says what to do, and a rescue that saves what can be read."""

from __future__ import annotations

import random
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from reviewer import paths, store
from reviewer.errors import InputError, LibraryError
from reviewer.store.rescue import rescue
from reviewer.store.rescue_pages import INDEX_LEAF, TABLE_LEAF, Pages
from reviewer.store.rescue_tables import TABLES, read_all, tables
from tests.conftest import Cli
from tests.store.scene import BLOCKS, new_note, picture, scene
from tests.store.test_library import DATA, old_library
from tests.store.test_merge import full

NOTES = 25
PAGE = 4096


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A grade book of some two hundred pages with everything in it, closed; tests damage copies of it."""
    path = tmp_path_factory.mktemp("whole") / "gradebook.db"
    with store.Library.open(path) as library:
        library.who = "coach"
        full(library)
        long_talk = (None, "talk that goes on and on " * 250, ())
        for number in range(NOTES):
            blocks = (*BLOCKS, long_talk) if number % 5 == 0 else BLOCKS
            note = store.add_note(library, new_note(f"n{number}", title=f"Night {number}"), scene(blocks))
            rows = store.current_rows(library, note)
            store.set_fields(library, rows[0].id, {"verdict": "loss"})
            store.set_comment(library, rows[1].id, f"remark {number}")
            store.undo(library, note)
            store.set_confirmed(library, rows[2].id)
        doomed = store.add_note(library, new_note("gone", title="Deleted by the coach"), scene())
        store.delete_note(library, doomed)
    return path


@pytest.fixture
def damaged(whole: Path, tmp_path: Path) -> Path:
    return shutil.copy(whole, tmp_path / "gradebook.db")


def counts(path: Path) -> dict[str, int]:
    with closing(sqlite3.connect(path)) as db:
        return {name: db.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in TABLES}


def contents(path: Path) -> list[str]:
    """The statements that hold what is saved, in no order: derived tables, counters and times left out."""
    with closing(sqlite3.connect(path)) as db:
        return sorted(
            line
            for line in db.iterdump()
            if line.startswith(tuple(f'INSERT INTO "{name}" ' for name in TABLES))
        )


def spoil(path: Path, numbers: list[int], seed: int) -> None:
    """Random bytes in the place of pages."""
    chance = random.Random(seed)
    with path.open("r+b") as file:
        for number in numbers:
            file.seek((number - 1) * PAGE)
            file.write(chance.randbytes(PAGE))


def root_of(path: Path, table: str) -> int:
    with closing(sqlite3.connect(path)) as db:
        return int(db.execute("SELECT rootpage FROM sqlite_master WHERE name = ?", (table,)).fetchone()[0])


def sound(path: Path) -> store.Library:
    library = store.Library.open(path)
    assert store.check(library) == []
    for note in store.notes(library):
        picture(library, note.id)
    return library


def test_the_page_reader_reads_what_sqlite_reads(whole: Path) -> None:
    """Against SQLite itself: every record of every table, with texts over many pages."""
    found = read_all(Pages(whole.read_bytes(), PAGE))
    assert found.bad == {}
    with closing(sqlite3.connect(whole)) as db:
        for name, table in tables().items():
            columns = ", ".join(f'"{c.name}"' for c in table.stored)
            expected = sorted(db.execute(f"SELECT {columns} FROM {name}").fetchall(), key=repr)
            read = sorted((tuple(r[c.name] for c in table.stored) for r in found.records[name]), key=repr)
            assert read == expected, name


def test_a_sound_grade_book_is_saved_whole(damaged: Path, tmp_path: Path) -> None:
    before = damaged.read_bytes()
    done = rescue(damaged, tmp_path / "out.db")
    assert done.sound and done.lost == {} and done.rest == []
    assert damaged.read_bytes() == before
    assert contents(tmp_path / "out.db") == contents(damaged)
    assert (tmp_path / "out.db").stat().st_mode & 0o777 == 0o600
    with sound(tmp_path / "out.db") as library:
        assert "Deleted by the coach" not in [note.title for note in store.notes(library)]


@pytest.mark.parametrize("seed", range(12))
def test_pages_overwritten_with_random_bytes(damaged: Path, tmp_path: Path, seed: int) -> None:
    pages = damaged.stat().st_size // PAGE
    hit = random.Random(seed).sample(range(2, pages + 1), 6)
    spoil(damaged, hit, seed)
    before, had = damaged.read_bytes(), counts_or(damaged)
    done = rescue(damaged, tmp_path / "out.db")
    assert damaged.read_bytes() == before, "the damaged file is only read"
    assert done.rest == []
    saved = counts(tmp_path / "out.db")
    assert saved["note"] >= NOTES // 2 and saved["row_reading"] >= 2 * NOTES
    assert had is None or saved["note"] <= had + done.lost.get("note", 0)
    sound(tmp_path / "out.db").close()


def counts_or(path: Path) -> int | None:
    try:
        return counts(path)["note"]
    except sqlite3.DatabaseError:
        return None


@pytest.mark.parametrize("table", ["note", "reading", "row_reading", "grade_row", "action", "change", "rep"])
def test_the_first_page_of_a_table(damaged: Path, tmp_path: Path, table: str) -> None:
    """The page that leads to all others of the table: they are told by what they hold."""
    had = counts(damaged)
    spoil(damaged, [root_of(damaged, table)], 7)
    done = rescue(damaged, tmp_path / "out.db")
    assert done.bad.get(table) == 1 and done.rest == []
    with sound(tmp_path / "out.db") as library:
        assert len(store.notes(library)) == had["note"], "a note of which anything is left stays a note"
        rows = sum(len(store.current_rows(library, note.id)) for note in store.notes(library))
        assert rows == 4 * had["note"]
    saved = counts(tmp_path / "out.db")
    for other in TABLES:
        if other not in (table, "event", "question") and table not in ("action", "note"):
            assert saved[other] >= had[other] * 0.95, other


def test_decisions_outlive_their_action(damaged: Path, tmp_path: Path) -> None:
    with store.Library.open(damaged) as library:
        expected = {
            note.id: [row.current.verdict for row in store.current_rows(library, note.id)]
            for note in store.notes(library)
        }
        root = root_of(damaged, "action")
    spoil(damaged, [root], 3)
    done = rescue(damaged, tmp_path / "out.db")
    assert done.lost.get("action", 0) >= 0
    with sound(tmp_path / "out.db") as library:
        for note, verdicts in expected.items():
            assert [row.current.verdict for row in store.current_rows(library, note)] == verdicts


@pytest.mark.parametrize("share", [0.9, 0.6, 0.3])
def test_a_file_cut_off(damaged: Path, tmp_path: Path, share: float) -> None:
    with damaged.open("r+b") as file:
        file.truncate(int(damaged.stat().st_size * share))
    done = rescue(damaged, tmp_path / "out.db")
    assert not done.sound and done.rest == []
    assert counts(tmp_path / "out.db")["note"] >= 1
    sound(tmp_path / "out.db").close()


@pytest.mark.parametrize("size", [100, PAGE])
def test_a_beginning_of_zeros(damaged: Path, tmp_path: Path, size: int) -> None:
    """The header, and the whole first page with the list of tables."""
    had = contents(damaged)
    with damaged.open("r+b") as file:
        file.write(bytes(size))
    rescue(damaged, tmp_path / "out.db")
    saved = contents(tmp_path / "out.db")
    assert set(had) <= set(saved), "not a record is lost"
    sound(tmp_path / "out.db").close()


def test_a_write_ahead_log_of_garbage(damaged: Path, tmp_path: Path) -> None:
    had = contents(damaged)
    wal = damaged.with_name("gradebook.db-wal")
    wal.write_bytes(random.Random(5).randbytes(50_000))
    before = wal.read_bytes()
    rescue(damaged, tmp_path / "out.db")
    assert contents(tmp_path / "out.db") == had
    assert wal.read_bytes() == before


def test_what_is_still_in_the_write_ahead_log_is_saved(damaged: Path, tmp_path: Path) -> None:
    with store.Library.open(damaged) as library:
        store.rename_note(library, 1, "Just now")
        copy = tmp_path / "killed"
        copy.mkdir()
        for file in damaged.parent.glob("gradebook.db*"):
            shutil.copy(file, copy / file.name)
    spoil(copy / "gradebook.db", [root_of(damaged, "segment")], 2)
    rescue(copy / "gradebook.db", tmp_path / "out.db")
    with sound(tmp_path / "out.db") as library:
        assert store.note(library, 1).title == "Just now"


def test_an_older_grade_book(tmp_path: Path) -> None:
    path = old_library(tmp_path / "old.db")
    rescue(path, tmp_path / "out.db")
    with sound(tmp_path / "out.db") as library:
        assert [row.current.verdict for row in store.current_rows(library, 1)] == [
            "loss", "loss", "neutral", "win", "neutral",
        ]  # fmt: skip
    assert DATA.is_dir()


def test_nothing_to_read(tmp_path: Path) -> None:
    path = tmp_path / "gradebook.db"
    path.write_bytes(random.Random(1).randbytes(100_000))
    with pytest.raises(LibraryError, match=r"nothing can be read of .*; bring a backup back"):
        rescue(path, tmp_path / "out.db")
    assert not (tmp_path / "out.db").exists()
    path.write_bytes(b"")
    with pytest.raises(LibraryError, match="nothing can be read of"):
        rescue(path, tmp_path / "out.db")
    with pytest.raises(InputError, match="there is no grade book"):
        rescue(tmp_path / "nowhere.db", tmp_path / "out.db")


def test_nothing_is_written_over(damaged: Path, tmp_path: Path) -> None:
    (tmp_path / "out.db").write_text("mine")
    with pytest.raises(InputError, match=r"already; name another with --out"):
        rescue(damaged, tmp_path / "out.db")
    assert (tmp_path / "out.db").read_text() == "mine"


@pytest.mark.parametrize("harm", ["header", "page", "cut"])
def test_the_commands_say_what_to_do_and_bring_it_back(
    whole: Path, own_home: Path, cli: Cli, harm: str
) -> None:
    own_home.mkdir(exist_ok=True)
    book = Path(shutil.copy(whole, paths.database()))
    if harm == "header":
        with book.open("r+b") as file:
            file.write(bytes(100))
    elif harm == "page":
        spoil(book, [root_of(book, "note")], 1)
    else:
        with book.open("r+b") as file:
            file.truncate(book.stat().st_size // 2)
    before = book.read_bytes()
    ran = cli("notes")
    assert ran.code == 2 and ran.err.count("\n") == 1 and "`reviewer rescue`" in ran.err, ran.err
    ran = cli("rescue")
    assert ran.code == 0 and "saved" in ran.out and "reviewer restore" in ran.out, ran.err
    [saved] = own_home.glob("gradebook.rescued-*.db")
    assert book.read_bytes() == before
    ran = cli("restore", saved, "--yes")
    assert ran.code == 0, ran.err
    [kept] = own_home.glob("gradebook.damaged-*.db")
    assert kept.read_bytes() == before, "the damaged file stays, under another name"
    assert cli("notes").code == 0
    sound(book).close()


def test_every_table_is_saved_or_built_again() -> None:
    derived = {"row_now", "segment", "tag", "state", "_sqlite_migrations", "sqlite_sequence"}
    with store.Library.memory() as library:
        query = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'segment_fts%'"
        there = {name for (name,) in library.execute(query)}
    assert there - derived == set(TABLES), "a new table: rescue, merge and forget have to know it"


def test_kinds_of_pages(whole: Path) -> None:
    pages = Pages(whole.read_bytes(), PAGE)
    kinds = {pages.kind(number) for number in pages.tree(root_of(whole, "row_reading"))}
    assert INDEX_LEAF in kinds and TABLE_LEAF not in kinds
    assert pages.free(), "the deleted note left unused pages, whose records stay deleted"
