"""The roster beside one note: both teams' men in one file (jersey, name, position, side)."""

from __future__ import annotations

from pathlib import Path
from typing import Literal, cast

from reviewer.errors import InputError
from reviewer.intake.tables import Line, meaning, read_sheet
from reviewer.intake.values import read_jersey
from reviewer.records import RosterEntry

Side = Literal["own", "opp"]


def read_note_roster(path: Path) -> tuple[RosterEntry, ...]:
    """Read a roster for a note from CSV, TSV or XLSX; headings as in `reviewer roster import`, and a
    `side` (own or opp) that is own where the column is missing.

    A note read with half a roster is read wrong without a sign of it, so a line that cannot be used
    is an InputError here (naming the first), not a remark.
    """
    sheet = read_sheet(path, "roster", (("jersey", "name"), ("jersey", "last"), ("jersey", "position")))
    men = tuple(dict.fromkeys(_man(path, line) for line in sheet.lines))
    if not men:
        raise InputError(f"{path} names no man under its headings; add the men or leave --roster out")
    return men


def _man(path: Path, line: Line) -> RosterEntry:
    cells = line.cells

    def bad(what: str) -> InputError:
        return InputError(f"{path}, line {line.number} ({line.text}): {what}; correct the line")

    jersey = read_jersey(cells.get("jersey", ""))
    if jersey is None:
        raise bad(f"{cells.get('jersey') or 'nothing'} is no jersey number from 0 to 99, or 00")
    name = cells.get("name") or " ".join(filter(None, (cells.get("first"), cells.get("last"))))
    said = cells.get("side", "")
    side = meaning("sides", said) if said else "own"
    if side is None:
        raise bad(f"the side {said!r} is neither own nor opp")
    position = cells.get("position", "")
    known = meaning("positions", position.split("/")[0].strip()) if position else ""
    return RosterEntry(jersey, name, known or position.upper(), cast(Side, side))
