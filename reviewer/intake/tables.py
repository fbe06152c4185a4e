"""Tables as people keep them: CSV of any common kind or a workbook, with headings that need not be
exact. Reading never guesses a value: what is not understood is named with its line."""

from __future__ import annotations

import csv
import io
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from reviewer.errors import InputError
from reviewer.intake.workbook import workbook_rows

HEADER_LINES = 20
"""The headings stand within the first so many lines; titles and empty lines may come before."""

CLOSE = 84
"""From this likeness (0..100) a heading with a typing error is taken for the known one."""

DELIMITERS = (",", ";", "\t", "|")
MOST_BYTES = 50_000_000
MOST_LINES = 50_000
MOST_LETTERS = 2_000
"""Letters of a cell."""


@dataclass(frozen=True, slots=True)
class Problem:
    """Something in a file that was not understood, or that breaks a rule.

    line: as an editor counts, from 1; 0 for the file as a whole. text: what stands there.
    """

    line: int
    text: str
    says: str

    def __str__(self) -> str:
        where = f"Line {self.line}" if self.line else "The file"
        shown = f" ({self.text})" if self.text else ""
        return f"{where}{shown}: {self.says}."


@dataclass(frozen=True, slots=True)
class Line:
    """A line of a table: its number in the file and its cells by the names they were understood as."""

    number: int
    cells: Mapping[str, str]

    @property
    def text(self) -> str:
        """The line for a message, short."""
        whole = ", ".join(value for value in self.cells.values() if value)
        return whole if len(whole) <= 60 else whole[:59] + "…"


@dataclass(frozen=True)
class Sheet:
    """A table with its headings understood. unknown: headings that were not."""

    lines: tuple[Line, ...]
    columns: tuple[str, ...]
    unknown: tuple[str, ...]


@lru_cache(maxsize=1)
def wordings() -> dict[str, dict[str, list[str]]]:
    """How people write headings and values, by kind; see headers.toml."""
    return tomllib.loads((Path(__file__).parent / "headers.toml").read_text("utf-8"))


def plain(text: str) -> str:
    """Text for comparing: lower case, words only, single spaces. "#" and "@" stay by themselves; a "#"
    beside words is "no"."""
    text = " ".join(text.split()).casefold()
    if text in ("#", "@"):
        return text
    text = text.replace("#", " no ")
    return " ".join(re.sub(r"[^\w@]+|_", " ", text).split()) or text


def meaning(kind: str, text: str) -> str | None:
    """The name whose wordings hold the text exactly, e.g. meaning("places", "@") == "away"."""
    wanted = plain(text)
    for name, forms in wordings()[kind].items():
        if wanted == plain(name) or wanted in forms:
            return name
    return None


def read_sheet(path: Path, kind: str, needed: Sequence[Sequence[str]]) -> Sheet:
    """The table of a CSV, TSV or XLSX file, with the headings of `kind` (a table of headers.toml).

    needed: alternatives of column sets, one of which must be there. Raises InputError when the file
    cannot be read, has no such headings, or is absurdly large.
    """
    rows = _rows(path)
    for place, (_, cells) in enumerate(rows[:HEADER_LINES]):
        columns, unknown = match_headings(cells, kind)
        if any(set(names) <= set(columns.values()) for names in needed):
            lines = [_line(number, found, columns) for number, found in rows[place + 1 :] if any(found)]
            return Sheet(tuple(lines), tuple(columns.values()), tuple(unknown))
    wanted = " or ".join(" and ".join(names) for names in needed)
    seen = ", ".join(cell for cell in rows[0][1] if cell) if rows else "nothing"
    raise InputError(f"{path} has no headings for {wanted} (the first line reads: {seen}); add them.")


def match_headings(cells: Sequence[str], kind: str) -> tuple[dict[int, str], list[str]]:
    """Which column (by index) is which, and the headings that are none. Exact wordings first."""
    from rapidfuzz import fuzz, process

    forms = {form: name for name, wordings_ in wordings()[kind].items() for form in [name, *wordings_]}
    columns: dict[int, str] = {}
    for index, cell in enumerate(cells):
        name = forms.get(plain(cell)) if cell else None
        if name and name not in columns.values():
            columns[index] = name
    for index, cell in enumerate(cells):
        if index in columns or len(plain(cell)) < 4:
            continue
        best = process.extractOne(plain(cell), forms.keys(), scorer=fuzz.ratio, score_cutoff=CLOSE)
        if best and forms[best[0]] not in columns.values():
            columns[index] = forms[best[0]]
    unknown = [cell for index, cell in enumerate(cells) if cell and index not in columns]
    return dict(sorted(columns.items())), unknown


def _line(number: int, cells: Sequence[str], columns: Mapping[int, str]) -> Line:
    return Line(number, {name: cells[i] if i < len(cells) else "" for i, name in columns.items()})


def _rows(path: Path) -> list[tuple[int, list[str]]]:
    """Every line that is not empty, with its number."""
    if not path.is_file():
        raise InputError(f"There is no file {path}; check the name.")
    try:
        if path.stat().st_size > MOST_BYTES:
            raise InputError(f"{path} is larger than {MOST_BYTES // 1_000_000} MB; this is no such list.")
        rows = workbook_rows(path, MOST_LINES) if _is_workbook(path) else _text_rows(path)
    except OSError as problem:
        raise InputError(f"{path} cannot be read ({problem.strerror}); check its permissions.") from problem
    if len(rows) > MOST_LINES:
        raise InputError(f"{path} has more than {MOST_LINES} lines; this is no such list.")
    for number, cells in rows:
        if any(len(cell) > MOST_LETTERS for cell in cells):
            raise InputError(
                f"{path}, line {number}, has a cell of over {MOST_LETTERS} letters; this is no such list."
            )
    return rows


def _is_workbook(path: Path) -> bool:
    with path.open("rb") as file:
        start = file.read(8)
    if start.startswith(b"\xd0\xcf\x11\xe0"):
        raise InputError(f"{path} is a workbook of the old .xls kind; save it as .xlsx or CSV.")
    return start.startswith(b"PK\x03\x04")


def _text_rows(path: Path) -> list[tuple[int, list[str]]]:
    text = _decoded(path.read_bytes(), path)
    reader = csv.reader(io.StringIO(text), delimiter=_delimiter(text), skipinitialspace=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        for cells in reader:
            if len(rows) > MOST_LINES:
                break
            tidy = [" ".join(cell.split()) for cell in cells]
            if any(tidy):
                rows.append((reader.line_num, tidy))
    except csv.Error as problem:
        raise InputError(
            f"{path}, line {reader.line_num}, is no CSV ({problem}); save it again as CSV or XLSX."
        ) from problem
    return rows


def _delimiter(text: str) -> str:
    """The sign that parts most cells of the first lines (a title above the table has none)."""
    head = text.splitlines()[: 2 * HEADER_LINES]
    return max(DELIMITERS, key=lambda sign: sum(line.count(sign) for line in head))


def _decoded(data: bytes, path: Path) -> str:
    """UTF-8, UTF-16 with its mark, or the Western code page that spreadsheets still write."""
    wide = data[:2] in (b"\xff\xfe", b"\xfe\xff")
    if wide or b"\0" not in data:
        for encoding in ("utf-16",) if wide else ("utf-8-sig", "cp1252"):
            try:
                return data.decode(encoding)
            except UnicodeDecodeError:
                continue
    raise InputError(f"{path} is neither text nor a workbook; save it as CSV or XLSX.")
