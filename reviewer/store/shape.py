"""Whether a grade book's tables, views and triggers are those that this program makes.

A file from elsewhere may have the right mark and sound pages and still lack a column, or carry a
trigger that changes what is stored. Data alone are never judged here.
"""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from pathlib import Path

from reviewer.errors import LibraryError
from reviewer.store import schema
from reviewer.store.library import Library

UNREADABLE = (sqlite3.Error, ValueError, KeyError, TypeError, IndexError, AttributeError, OverflowError,
              RecursionError)  # fmt: skip
"""What reading a record may raise that was not written by this program."""

Shape = dict[tuple[str, str], tuple[str, ...]]
"""Kind and name of an object to its column names (tables, views) or its text (triggers)."""


def shape_faults(db: sqlite3.Connection) -> list[str]:
    """What is missing, different or too much, a sentence each. Indexes and further tables of the
    user's own do no harm and are left alone."""
    wanted, there = _shape(_fresh()), _shape(db)
    faults = [f"The {kind} {name} is missing." for kind, name in wanted.keys() - there.keys()]
    for (kind, name), found in there.items():
        expected = wanted.get((kind, name))
        if expected is None:
            if kind == "trigger":
                faults.append(f"The trigger {name} is none of this program.")
        elif kind == "trigger" and found != expected:
            faults.append(f"The trigger {name} is not as this program makes it.")
        elif missing := [column for column in expected if column not in found]:
            faults.append(f"The {kind} {name} has no column {missing[0]}.")
    return sorted(faults)


def text_faults(db: sqlite3.Connection) -> list[str]:
    """Tables with a text that is none (no UTF-8), which would fail whatever reads it."""
    faults = []
    for kind, name in _shape(db):
        if kind != "table" or name.startswith(("segment_fts", "_")):
            continue
        try:
            for _ in db.execute(f"SELECT * FROM {_quoted(name)}"):
                pass
        except sqlite3.Error as problem:
            faults.append(f"The table {name} cannot be read ({problem}).")
    return faults


def open_foreign(copy: Path, source: Path) -> Library:
    """Open a copy of a grade book from elsewhere, bringing it up to this version.

    Raises LibraryError, naming `source`, where it is no grade book, is damaged, or would run what this
    program never made.
    """
    where = f"The grade book {source}"
    try:
        with closing(sqlite3.connect(f"{copy.absolute().as_uri()}?mode=ro", uri=True)) as db:
            if not db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
                raise LibraryError(f"{where} is empty, which is not a grade book; choose another file.")
            if strange := _strange(db):
                raise LibraryError(f"{where} is damaged ({strange}); choose another one.")
    except sqlite3.Error:
        pass  # what it is instead of a grade book is said when it is opened
    try:
        return Library.open(copy)
    except LibraryError as problem:
        raise LibraryError(str(problem).replace(str(copy), str(source))) from problem
    except UNREADABLE as problem:
        raise LibraryError(f"{where} is damaged ({problem}); choose another one.") from problem


def _strange(db: sqlite3.Connection) -> str:
    """The first view or trigger of a name that this program never used."""
    made = " ".join(statement for _, statements in schema.STEPS for statement in statements)
    known = set(re.findall(r"CREATE (?:VIEW|TRIGGER) (\w+)", made))
    kinds = "SELECT type, name FROM sqlite_master WHERE type IN ('view', 'trigger') ORDER BY name"
    strange = [
        f"the {kind} {name} is none of this program" for kind, name in db.execute(kinds) if name not in known
    ]
    return strange[0] if strange else ""


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _fresh() -> sqlite3.Connection:
    from sqlite_utils import Database

    connection = sqlite3.connect(":memory:", isolation_level=None)
    schema.migrations().apply(Database(connection))
    return connection


def _shape(db: sqlite3.Connection) -> Shape:
    found: Shape = {}
    objects = db.execute(
        "SELECT type, name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%'"
    ).fetchall()
    for kind, name, sql in objects:
        if kind == "trigger":
            found[kind, name] = (" ".join(str(sql).split()),)
        elif kind in ("table", "view"):
            columns = db.execute("SELECT name FROM pragma_table_xinfo(?)", (name,))
            found[kind, name] = tuple(str(column) for (column,) in columns)
    return found
