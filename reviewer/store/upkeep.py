"""Keeping a grade book safe: backup copies and checks."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from glob import escape
from itertools import pairwise
from pathlib import Path

from reviewer import paths
from reviewer.errors import InputError, LibraryError
from reviewer.leavings import sweep
from reviewer.store.codec import dump_row, load, load_mends, load_words
from reviewer.store.derive import segment_range
from reviewer.store.fold import NoteState
from reviewer.store.journal import load_fold
from reviewer.store.library import Library
from reviewer.store.shape import UNREADABLE, shape_faults, text_faults

PAGES_A_STEP = 500
"""Pages copied between two calls of a backup's progress callback."""


def backup(
    library: Library,
    target: Path,
    *,
    replace: bool = False,
    progress: Callable[[int, int], None] | None = None,
) -> Path:
    """Copy the whole grade book to a file while it stays in use, and check the copy.

    The file appears only when it is whole. progress: called with pages done and total. Raises
    InputError when the file exists (unless `replace`), LibraryError when it cannot be written.
    """
    if target.exists() and not replace:
        raise InputError(f"There is a file {target} already; choose another name for the backup.")
    if library.path is not None and target.absolute() == library.path.absolute():
        raise InputError("A backup cannot be written over the grade book itself; choose another file.")
    _copy(library.connection, target, progress)
    return target


def copy_file(source: Path, target: Path) -> None:
    """Copy a grade book that another connection holds, as `backup` does."""
    with closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True)) as connection:
        _copy(connection, target, None)


def _copy(source: sqlite3.Connection, target: Path, progress: Callable[[int, int], None] | None) -> None:
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        paths.private_folder(target.parent)
        sweep(target.parent, f".{escape(target.name)}.*.part*")
        os.close(os.open(part, os.O_RDWR | os.O_CREAT | os.O_TRUNC, 0o600))
        with closing(sqlite3.connect(part)) as copy:
            source.backup(copy, pages=PAGES_A_STEP, progress=_pages(progress))
            verdict = _integrity(copy)
            # one plain file: a copy must not need a -wal file beside it
            copy.execute("PRAGMA journal_mode = DELETE")
        if verdict != "ok":
            raise LibraryError(
                f"The backup is not whole ({verdict}): check the grade book, then the disk of {target}."
            )
        part.replace(target)
    except (OSError, sqlite3.OperationalError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise LibraryError(
            f"The backup {target} could not be written ({reason}); choose another place."
        ) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _integrity(connection: sqlite3.Connection) -> str:
    """ "ok", or what is wrong first. A badly damaged file fails the check itself."""
    try:
        return str(connection.execute("PRAGMA integrity_check(1)").fetchone()[0])
    except sqlite3.DatabaseError as error:
        return str(error)


def file_fault(path: Path) -> str:
    """What is wrong with a grade book's file as a file; "" when it is sound or not there.

    A file that cannot be opened for other reasons (permissions, another program's lock) is not damaged.
    """
    if not path.is_file():
        return ""
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as connection:
            found = str(connection.execute("PRAGMA integrity_check(1)").fetchone()[0])
            return "" if found == "ok" else found
    except sqlite3.DatabaseError as error:
        damaged = getattr(error, "sqlite_errorcode", 0) & 0xFF in (
            sqlite3.SQLITE_CORRUPT,
            sqlite3.SQLITE_NOTADB,
        )
        return str(error) if damaged else ""


def _pages(progress: Callable[[int, int], None] | None) -> Callable[[int, int, int], None] | None:
    if progress is None:
        return None
    return lambda _status, remaining, total: progress(total - remaining, total)


def check(library: Library, progress: Callable[[int, int], None] | None = None) -> list[str]:
    """What is wrong with the grade book, a sentence each; [] when it is sound.

    Looks at the file, the links between tables, the search index, and for every note whether what
    is shown is what the log of decisions adds up to. progress: called with notes done and total.
    """
    with library.reading() as db:
        if (verdict := _integrity(db)) != "ok":
            return [f"The file: {verdict}."]
        if faults := shape_faults(db) or text_faults(db):
            return faults
        found = [
            f"The table {table}: record {row} points to a {parent} that is not there."
            for table, row, parent, _ in db.execute("PRAGMA foreign_key_check")
        ]
        notes = [note for (note,) in db.execute("SELECT id FROM note ORDER BY id")]
        for done, note in enumerate(notes, 1):
            try:
                _read_talk(library, note)
                found += _note_faults(library, note)
            except UNREADABLE as problem:
                found.append(f"Note {note}: what is stored of it cannot be read ({problem}).")
            if progress is not None:
                progress(done, len(notes))
    return found + _index_faults(library)


def _index_faults(library: Library) -> list[str]:
    if library.read_only:
        return []
    try:
        with library.writing() as db:
            db.execute("INSERT INTO segment_fts (segment_fts, rank) VALUES ('integrity-check', 1)")
    except LibraryError:
        return ["The search index does not fit what was said; build it again."]
    return []


def _read_talk(library: Library, note: int) -> None:
    """Raise one of UNREADABLE where the words or mends of a reading are none."""
    readings = "SELECT words, mends FROM reading WHERE note_id = ?"
    for words, mends in library.connection.execute(readings, (note,)).fetchall():
        for word in load_words(words):
            if not (isinstance(word.text, str) and float(word.start) >= 0 and float(word.end) >= 0):
                raise ValueError(f"{word} is no word")
        load_mends(mends)


def _note_faults(library: Library, note: int) -> Iterator[str]:
    db = library.connection
    state = load_fold(library, note).state()
    shown = {
        row: (rep, seq, bool(confirmed), tuple(load(corrected)), comment, grade)
        for row, rep, seq, confirmed, corrected, comment, grade in db.execute(
            "SELECT row_id, rep, seq, confirmed, corrected, comment, grade FROM row_now WHERE note_id = ?",
            (note,),
        )
    }
    folded = {
        r.id: (r.current.rep, r.seq, r.confirmed, tuple(sorted(r.corrected)), r.comment, dump_row(r.current))
        for r in state.rows
    }
    if shown != folded:
        yield f"Note {note}: the rows shown are not what its decisions add up to; build the tables again."
    rows = {
        row
        for (row,) in db.execute("SELECT row_id FROM segment WHERE id BETWEEN ? AND ?", segment_range(note))
    }
    if rows - {None} != set(folded):
        yield f"Note {note}: the rows that are searched are not its rows; build the tables again."
    last, count, revision = db.execute(
        "SELECT coalesce(max(event.revision), 0), count(event.revision), note.revision FROM note "
        "LEFT JOIN event ON event.note_id = note.id WHERE note.id = ?",
        (note,),
    ).fetchone()
    if not last == count == revision:
        yield f"Note {note}: its revision is {revision}, but its log has {count} events up to {last}."
    done, undone = db.execute(
        "SELECT max(id) FILTER (WHERE undone = 0), min(id) FILTER (WHERE undone = 1) FROM action "
        "WHERE note_id = ?",
        (note,),
    ).fetchone()
    if done is not None and undone is not None and done > undone:
        yield f"Note {note}: an undone action is older than one in force."
    if shared_words(state):
        yield f"Note {note}: two of its reps share words."


def shared_words(state: NoteState) -> bool:
    """Whether two live reps of a note share a word, which may never be."""
    spans = sorted(stretch for rep in state.reps if rep.number for stretch in rep.stretches)
    return any(last > first for (_, last), (first, _) in pairwise(spans))
