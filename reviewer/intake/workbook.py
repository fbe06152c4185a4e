"""The rows of an XLSX workbook, read so that no file can take more than a list is worth.

A workbook is a zip archive of XML: it is refused before it is unpacked where it would swell, where its
XML declares entities, and while it is read where it holds more than a list does. Nothing in it is ever
written to the disk.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time
from pathlib import Path
from typing import IO, Any
from zipfile import ZipFile

from reviewer.errors import InputError

MOST_PARTS = 2_000
MOST_UNPACKED = 100_000_000
"""Bytes of all parts together, unpacked. The archive's own figures: no more than these is ever read."""

SWELLS = 200
LARGE_PART = 20_000_000
"""A part of so many bytes that is packed more than `SWELLS` to one is no list."""

MOST_COLUMNS = 300
LAST_ROW = 1_048_576
"""The last row that the format has."""

_HEAD = 1 << 20
"""The root element of a part begins within so many bytes."""


def workbook_rows(path: Path, most_lines: int) -> list[tuple[int, list[str]]]:
    """The rows of the first sheet that has any, each with its number.

    Raises InputError where the file is no workbook that can be read, or holds absurdly much.
    """
    try:
        _check(path)
        return _read(path, most_lines)
    except (InputError, OSError):
        raise
    except Exception as problem:
        # a spoilt workbook may fail anywhere inside zipfile, expat and openpyxl, with any error
        raise InputError(
            f"{path} is no workbook that can be read; save it again as XLSX or CSV."
        ) from problem


def _check(path: Path) -> None:
    with ZipFile(path) as archive:
        parts = archive.infolist()
        large = (p for p in parts if p.file_size > LARGE_PART and p.file_size > SWELLS * p.compress_size)
        unpacked = sum(part.file_size for part in parts)
        if len(parts) > MOST_PARTS or unpacked > MOST_UNPACKED or any(large):
            raise InputError(
                f"{path} would unpack to {unpacked // 1_000_000} MB in {len(parts)} parts, which is no such "
                "list; save only the list itself."
            )
        for part in parts:
            with archive.open(part) as file:
                if _declares(file):
                    raise InputError(f"{path} declares entities in its XML; save it again as XLSX or CSV.")


def _declares(file: IO[bytes]) -> bool:
    """Whether a part is XML with a document type before its root element (where entities are made)."""
    from xml.parsers import expat

    class _Seen(Exception):
        pass

    found: list[bool] = []

    def see(declares: bool) -> None:
        found.append(declares)
        raise _Seen

    parser = expat.ParserCreate()
    parser.StartDoctypeDeclHandler = lambda *_: see(True)
    parser.StartElementHandler = lambda *_: see(False)
    read = 0
    try:
        while (block := file.read(1 << 14)) and read < _HEAD:
            read += len(block)
            parser.Parse(block)
    except (_Seen, expat.ExpatError):
        # what is no XML is a picture or the like, or fails when it is read
        pass
    return found[0] if found else read >= _HEAD and file.name.lower().endswith((".xml", ".rels"))


def _read(path: Path, most_lines: int) -> list[tuple[int, list[str]]]:
    from openpyxl import load_workbook

    book = load_workbook(path, read_only=True, data_only=True, keep_links=False)
    try:
        for sheet in book.worksheets:
            if rows := list(_rows(path, sheet, most_lines)):
                return rows
        return []
    finally:
        book.close()


def _rows(path: Path, sheet: Any, most_lines: int) -> Iterator[tuple[int, list[str]]]:
    # a size that the sheet states wrongly would hide its last rows
    sheet.reset_dimensions()
    found = 0
    for number, values in enumerate(sheet.iter_rows(values_only=True), 1):
        if number > LAST_ROW:
            return
        if values.count(None) == len(values):
            continue
        cells = [cell_text(value) for value in values]
        if not any(cells):
            continue
        found += 1
        if found > most_lines:
            raise InputError(f"{path} has more than {most_lines} lines; this is no such list.")
        if any(cells[MOST_COLUMNS:]):
            raise InputError(
                f"{path}, line {number}, has more than {MOST_COLUMNS} columns; this is no such list."
            )
        yield number, cells


def cell_text(value: Any) -> str:
    """A workbook's cell as a person would read it: 76, not 76.0; a date as ISO."""
    if value is None:
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time(0) else value.isoformat(" ")
    if isinstance(value, date | time):
        return value.isoformat()
    return " ".join(str(value).split())
