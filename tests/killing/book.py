"""A grade book after a kill: does it open, is it sound, and all that it holds as plain values."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from reviewer import paths, store

MOMENTS = {"created", "at", "applied_at"}
"""Columns that hold the time of day, which differs from run to run."""

_LEFT_OUT = ("sqlite_", "segment_fts_", "_sqlite_migrations")
# re-importing a roster writes its lines anew under other numbers
_NUMBERED = {"roster_spot"}


def faults(path: Path | None = None) -> list[str]:
    """What is wrong with the grade book: as SQLite sees the file, and as the program sees its content."""
    where = path or paths.database()
    if not where.exists():
        return []
    found = raw_faults(where)
    with store.Library.open(where) as library:
        return found + store.check(library)


def raw_faults(where: Path) -> list[str]:
    """SQLite's own checks of the file, before the program touches it."""
    with closing(sqlite3.connect(where)) as db:
        whole = [line for (line,) in db.execute("PRAGMA integrity_check") if line != "ok"]
        links = [str(line) for line in db.execute("PRAGMA foreign_key_check")]
    return whole + links


def contents(path: Path | None = None, *, without: str = "") -> dict[str, list[str]]:
    """Every record of every table, but for times of day. without: text to leave out, as a folder's name."""
    where = path or paths.database()
    if not where.exists():
        return {}
    with closing(sqlite3.connect(f"{where.absolute().as_uri()}?mode=ro", uri=True)) as db:
        query = "SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name"
        tables = [name for (name,) in db.execute(query) if not name.startswith(_LEFT_OUT)]
        return {table: _records(db, table, without) for table in tables}


def _records(db: sqlite3.Connection, table: str, without: str) -> list[str]:
    names = [name for _, name, *_ in db.execute(f"PRAGMA table_info({table})")]
    left = MOMENTS | ({"id"} if table in _NUMBERED else set())
    kept = [name for name in names if name not in left]
    listed = ", ".join(f'"{name}"' for name in kept)
    lines = [str(record) for record in db.execute(f"SELECT {listed} FROM {table}")]
    return sorted(line.replace(without, "") if without else line for line in lines)


def differences(found: dict[str, list[str]], wanted: dict[str, list[str]]) -> list[str]:
    """A sentence for each table that is not as it should be."""
    return [
        f"{table}: {len(set(wanted.get(table, ())) - set(found.get(table, ())))} records missing, "
        f"{len(set(found.get(table, ())) - set(wanted.get(table, ())))} too many"
        for table in sorted(found.keys() | wanted.keys())
        if found.get(table, []) != wanted.get(table, [])
    ]


def notes_by_name(path: Path | None = None) -> dict[str, Any]:
    """Every note's rows as plain values, by the note's name."""
    where = path or paths.database()
    if not where.exists():
        return {}
    with store.Library.open(where) as library:
        return {
            note.slug: [
                (row.current.model_dump(mode="json"), row.confirmed, row.comment)
                for row in store.current_rows(library, note.id)
            ]
            for note in store.notes(library)
        }
