"""The records in an SQLite file, read page by page, whatever the rest of the file is like.

SQLite itself stops at the first damaged page of a table; here every page is read by itself. Format:
https://www.sqlite.org/fileformat2.html (sections 1.5 b-tree pages, 1.6 overflow, 2.1 records).
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

TABLE_LEAF, TABLE_INSIDE, INDEX_LEAF, INDEX_INSIDE = 0x0D, 0x05, 0x0A, 0x02
PAGE_SIZES = tuple(2**n for n in range(9, 17))
HEADER = 100
MAGIC = b"SQLite format 3\x00"


class Damaged(Exception):
    """A page, or a record on it, is not what it should be."""


@dataclass(frozen=True)
class Record:
    """One record. rowid: None in an index and in tables without rowid."""

    rowid: int | None
    values: tuple[Any, ...]


@dataclass
class Pages:
    """A file's pages. bad: numbers of pages that could not be read."""

    data: bytes
    size: int
    bad: set[int] = field(default_factory=set)

    @property
    def count(self) -> int:
        """Whole pages in the file."""
        return len(self.data) // self.size

    def page(self, number: int) -> bytes:
        """The bytes of a page, from 1. Raises Damaged."""
        if not 1 <= number <= self.count:
            raise Damaged(f"page {number} is not in the file")
        return self.data[(number - 1) * self.size : number * self.size]

    def kind(self, number: int) -> int:
        """The type byte of a b-tree page."""
        return self.page(number)[HEADER if number == 1 else 0]

    def free(self) -> set[int]:
        """Pages on the list of unused ones: what is on them was deleted."""
        found: set[int] = set()
        (trunk,) = struct.unpack_from(">I", self.data, 32)
        while trunk and trunk not in found and trunk <= self.count:
            found.add(trunk)
            page = self.page(trunk)
            following, leaves = struct.unpack_from(">II", page)
            if leaves > self.size // 4 - 2:
                break
            found.update(struct.unpack_from(f">{leaves}I", page, 8))
            trunk = following
        return found

    def tree(self, root: int) -> Iterator[int]:
        """The pages of a b-tree from its root on, as far as they can be followed."""
        waiting, seen = [root], set()
        while waiting:
            number = waiting.pop()
            if number in seen:
                continue
            seen.add(number)
            try:
                kind = self.kind(number)
                if kind not in (TABLE_LEAF, TABLE_INSIDE, INDEX_LEAF, INDEX_INSIDE):
                    raise Damaged(f"page {number} is of no known kind")
                children = list(self._children(number)) if kind in (TABLE_INSIDE, INDEX_INSIDE) else []
            except (Damaged, struct.error, IndexError):
                self.bad.add(number)
                continue
            yield number
            waiting += children

    def _children(self, number: int) -> Iterator[int]:
        page, start = self.page(number), HEADER if number == 1 else 0
        for at in self._cells(number, 12):
            yield struct.unpack_from(">I", page, at)[0]
        yield struct.unpack_from(">I", page, start + 8)[0]

    def _cells(self, number: int, head: int) -> Iterator[int]:
        page, start = self.page(number), HEADER if number == 1 else 0
        (count,) = struct.unpack_from(">H", page, start + 3)
        if start + head + 2 * count > self.size:
            raise Damaged(f"page {number} has too many cells")
        for at in struct.unpack_from(f">{count}H", page, start + head):
            if not start + head <= at < self.size:
                raise Damaged(f"a cell of page {number} lies outside it")
            yield at

    def records(self, number: int) -> list[Record]:
        """The records of a page that can be read; the page counts as bad when one cannot."""
        found: list[Record] = []
        try:
            kind = self.kind(number)
            cells = list(self._cells(number, 12 if kind in (TABLE_INSIDE, INDEX_INSIDE) else 8))
        except (Damaged, struct.error, IndexError):
            self.bad.add(number)
            return []
        if kind == TABLE_INSIDE:
            return []
        for at in cells:
            try:
                found.append(self._record(number, at, kind))
            except (Damaged, struct.error, IndexError, UnicodeDecodeError):
                self.bad.add(number)
        return found

    def _record(self, number: int, at: int, kind: int) -> Record:
        page = self.page(number)
        at += 4 if kind == INDEX_INSIDE else 0
        length, at = _varint(page, at)
        rowid = None
        if kind == TABLE_LEAF:
            rowid, at = _varint(page, at)
        if length > len(self.data):
            raise Damaged("a record is longer than the file")
        most = self.size - 35 if kind == TABLE_LEAF else (self.size - 12) * 64 // 255 - 23
        if length <= most:
            payload = page[at : at + length]
        else:
            least = (self.size - 12) * 32 // 255 - 23
            here = least + (length - least) % (self.size - 4)
            here = here if here <= most else least
            (following,) = struct.unpack_from(">I", page, at + here)
            payload = page[at : at + here] + self._overflow(following, length - here)
        if len(payload) != length:
            raise Damaged("a record is cut off")
        return Record(rowid, tuple(_values(payload)))

    def _overflow(self, number: int, length: int) -> bytes:
        parts: list[bytes] = []
        seen: set[int] = set()
        while length > 0:
            if number in seen:
                raise Damaged("a chain of pages runs in a circle")
            seen.add(number)
            page = self.page(number)
            (number,) = struct.unpack_from(">I", page)
            parts.append(page[4 : 4 + length])
            length -= self.size - 4
        return b"".join(parts)


def _varint(data: bytes, at: int) -> tuple[int, int]:
    value = 0
    for n in range(8):
        byte = data[at + n]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, at + n + 1
    value = value << 8 | data[at + 8]
    return (value - (1 << 64) if value >= 1 << 63 else value), at + 9


_INTEGERS = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}
"""Serial type of an integer -> its bytes."""


def _values(payload: bytes) -> Iterator[Any]:
    head, at = _varint(payload, 0)
    types = []
    while at < head:
        kind, at = _varint(payload, at)
        types.append(kind)
    if at != head:
        raise Damaged("a record's head is wrong")
    for kind in types:
        if kind in _INTEGERS:
            size = _INTEGERS[kind]
            yield int.from_bytes(payload[at : at + size], "big", signed=True)
        elif kind == 7:
            size = 8
            yield struct.unpack_from(">d", payload, at)[0]
        elif kind in (0, 8, 9):
            size = 0
            yield None if kind == 0 else kind - 8
        elif kind >= 12:
            size = (kind - 12) // 2
            raw = payload[at : at + size]
            if len(raw) != size:
                raise Damaged("a value is cut off")
            yield raw.decode("utf-8") if kind % 2 else raw
        else:
            raise Damaged("a value of no known kind")
        at += size
    if at != len(payload):
        raise Damaged("a record has something left over")


def page_size(data: bytes, default: int) -> int:
    """The size of a file's pages: as its header says, else `default`."""
    (size,) = struct.unpack_from(">H", data, 16)
    size = 65_536 if size == 1 else size
    return size if data.startswith(MAGIC) and size in PAGE_SIZES else default
