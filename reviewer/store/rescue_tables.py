"""Which of a damaged grade book's records belong to which table, and whether a record is whole."""

from __future__ import annotations

import json
import struct
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from reviewer.store.codec import load_row
from reviewer.store.library import Library
from reviewer.store.rescue_pages import INDEX_INSIDE, INDEX_LEAF, TABLE_LEAF, Damaged, Pages, Record

TABLES = (
    "team", "player", "game", "roster_spot", "note", "reading", "rep", "grade_row", "rep_reading",
    "row_reading", "action", "change", "event", "question", "clash", "learned", "play", "rep_play", "film",
    "saved_search",
)  # fmt: skip
"""What is saved, parents first. Everything else is built again."""

_JSON = {
    "reading": ("settings", "words", "mends", "remarks"), "rep_reading": ("stretches",),
    "change": ("old", "new"), "question": ("kept", "read"), "clash": ("mine", "theirs", "cells"),
    "play": ("data",), "film": ("marks",),
}  # fmt: skip
_ADDED = {"note": 1}
"""How many columns of a table were added to older ones."""

_GRADES = {"row_reading": "grade", "grade_row": "made"}
_KINDS: Mapping[str, tuple[type, ...]] = {"INTEGER": (int,), "REAL": (int, float), "TEXT": (str,)}


@dataclass(frozen=True)
class Column:
    """A column. key: place in the primary key, 0 for none."""

    name: str
    kind: str
    needed: bool
    key: int


@dataclass(frozen=True)
class Table:
    """A table of this version's schema. stored: its columns in the order of its records."""

    name: str
    stored: tuple[Column, ...]
    rowid: bool

    @property
    def alias(self) -> str | None:
        """The column that is the rowid."""
        keys = [c for c in self.stored if c.key]
        return keys[0].name if self.rowid and len(keys) == 1 and keys[0].kind == "INTEGER" else None

    def values(self, record: Record) -> dict[str, Any] | None:
        """The record's values by column; None when it is no whole record of this table."""
        if (record.rowid is not None) != self.rowid or not self._long_enough(len(record.values)):
            return None
        found = dict(zip((c.name for c in self.stored), record.values, strict=False))
        if self.alias is not None:
            if found[self.alias] is not None:
                return None
            found[self.alias] = record.rowid
        for column in self.stored[: len(record.values)]:
            value = found[column.name]
            if value is None and (column.needed or column.key):
                return None
            if value is not None and not isinstance(value, _KINDS[column.kind]):
                return None
        return found if self._reads(found) else None

    def _long_enough(self, count: int) -> bool:
        # a record written before a column was added is shorter
        return len(self.stored) - _ADDED.get(self.name, 0) <= count <= len(self.stored)

    def _reads(self, found: Mapping[str, Any]) -> bool:
        try:
            for name in _JSON.get(self.name, ()):
                if found.get(name) is not None:
                    json.loads(found[name])
            if self.name == "play":
                return "place" in json.loads(found["data"])
            if self.name == "rep_reading":
                return isinstance(json.loads(found["stretches"]), list)
            grade = found.get(_GRADES.get(self.name, ""))
            if grade is not None:
                load_row(grade)
        except ValueError:
            return False
        return True


def tables() -> dict[str, Table]:
    """The tables that are saved, as this version has them."""
    with Library.memory() as library:
        found = {}
        for name in TABLES:
            columns = [
                Column(column, kind, bool(needed), key)
                for _, column, kind, needed, _, key in library.execute(f"PRAGMA table_info({name})")
            ]
            (sql,) = library.execute("SELECT sql FROM sqlite_master WHERE name = ?", (name,)).fetchone()
            rowid = "WITHOUT ROWID" not in sql
            if not rowid:
                keys = sorted((c for c in columns if c.key), key=lambda c: c.key)
                columns = [*keys, *(c for c in columns if not c.key)]
            found[name] = Table(name, tuple(columns), rowid)
    return found


@dataclass
class Found:
    """What was read: values by table. bad: numbers of unreadable pages by table, "" where unknown."""

    records: dict[str, list[dict[str, Any]]]
    bad: dict[str, set[int]]


def read_all(pages: Pages) -> Found:
    """Every whole record of every table that is saved."""
    known = tables()
    found = Found({name: [] for name in TABLES}, {})
    free = _free(pages)
    reached: set[int] = set(free)
    roots = _roots(pages)
    for name, root in roots.items():
        before = set(pages.bad)
        numbers = [n for n in pages.tree(root) if n not in free]
        if name in known:
            reads = _in_tree(pages, known[name], numbers, found, before)
            reached |= reads
        else:
            reached |= set(numbers)
    for number in range(1, pages.count + 1):
        if number not in reached:
            _orphan(pages, number, known.values(), found)
    return found


def _in_tree(pages: Pages, table: Table, numbers: list[int], found: Found, before: set[int]) -> set[int]:
    """Read the pages of a table's tree; returns those that were its own."""
    own: set[int] = set()
    for number in numbers:
        records = pages.records(number)
        values = [table.values(record) for record in records]
        if records and not any(values):
            pages.bad.add(number)
            continue
        if any(value is None for value in values):
            pages.bad.add(number)
        found.records[table.name] += [value for value in values if value is not None]
        own.add(number)
    if bad := pages.bad - before:
        found.bad.setdefault(table.name, set()).update(bad)
    return own


def _orphan(pages: Pages, number: int, known: Iterable[Table], found: Found) -> None:
    """A page that no tree leads to any more: its records tell whose it is."""
    try:
        kind = pages.kind(number)
    except Damaged:
        return
    if kind not in (TABLE_LEAF, INDEX_LEAF, INDEX_INSIDE):
        return
    before = set(pages.bad)
    records = pages.records(number)
    for table in known:
        values = [value for record in records if (value := table.values(record)) is not None]
        if values and 2 * len(values) > len(records):
            found.records[table.name] += values
            return
    # most such pages belong to indexes and to long texts
    pages.bad = before


def _free(pages: Pages) -> set[int]:
    try:
        return pages.free()
    except (Damaged, struct.error):
        return set()


def _roots(pages: Pages) -> dict[str, int]:
    """Table name -> first page, as far as the file's own list of tables can be read."""
    roots: dict[str, int] = {}
    for number in list(pages.tree(1)):
        for record in pages.records(number):
            if len(record.values) == 5 and record.values[0] in ("table", "index"):
                _, name, _, root, _ = record.values
                if isinstance(root, int) and root > 1:
                    roots[str(name)] = root
    return roots
