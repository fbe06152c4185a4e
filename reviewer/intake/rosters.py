"""Import a roster from CSV or XLSX: forgiving headings, every line that was not understood named,
numbers outside the level's rules pointed out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from reviewer.errors import InputError
from reviewer.intake.numbers import number_faults, same_number_fault
from reviewer.intake.tables import Line, Problem, Sheet, meaning, read_sheet
from reviewer.intake.values import read_date, read_jersey
from reviewer.records import Level, RosterEntry

if TYPE_CHECKING:
    from reviewer.store.library import Library


@dataclass(frozen=True, slots=True)
class Man:
    """One line of a roster. since, until: the days he wore the number, both included, None: open."""

    line: int
    jersey: str
    name: str
    position: str
    team: str
    season: str
    since: date | None = None
    until: date | None = None

    def wears_it_on(self, day: date | None) -> bool:
        """Whether the number is his on that day; None: at the start of the season."""
        if day is None:
            return self.since is None
        return (self.since is None or self.since <= day) and (self.until is None or day <= self.until)


@dataclass(frozen=True)
class RosterRead:
    """A roster as read: the men, what was not understood, what the number rules say against."""

    men: tuple[Man, ...]
    problems: tuple[Problem, ...]
    rules: tuple[Problem, ...]


@dataclass(frozen=True)
class RosterImported:
    """What an import did: men saved by (team, season), and what there is to say about the file."""

    saved: dict[tuple[str, str], int]
    problems: tuple[Problem, ...]
    rules: tuple[Problem, ...]


def read_roster(
    path: Path, team: str | None = None, season: str | None = None, level: Level | None = None
) -> RosterRead:
    """Read a roster file. team, season: for files that have no such column.

    Raises InputError when the file cannot be read, or says neither team nor season.
    """
    sheet = read_sheet(path, "roster", (("jersey", "name"), ("jersey", "last")))
    for name, given in (("team", team), ("season", season)):
        if given is None and name not in sheet.columns:
            raise InputError(f"{path} has no {name} column; say which with --{name}.")
    problems = [
        Problem(0, heading, "this heading was not understood; the column is left out")
        for heading in sheet.unknown
    ]
    men = _men(sheet, team, season, problems)
    return RosterRead(tuple(men), tuple(problems), tuple(_rule_problems(men, level)))


def import_roster(
    library: Library,
    path: Path,
    *,
    team: str | None = None,
    season: str | None = None,
    own: bool | None = None,
    level: Level | None = None,
) -> RosterImported:
    """Read a roster file and make it the roster of its teams and seasons, all or nothing.

    Raises InputError when nothing in it can be used.
    """
    from reviewer.store.rosters import save_roster

    read = read_roster(path, team, season, level)
    if not read.men:
        first = f" ({read.problems[0]})" if read.problems else ""
        raise InputError(f"No line of {path} is a man with a number and a name{first}; nothing was saved.")
    by_team: dict[tuple[str, str], list[Man]] = defaultdict(list)
    for man in read.men:
        by_team[man.team, man.season].append(man)
    with library.writing():
        for (name, year), men in by_team.items():
            save_roster(library, name, year, _entries(men, None), own=own)
            for day in _change_days(men):
                save_roster(library, name, year, _entries(men, day), own=own, since=day)
    return RosterImported({key: len(men) for key, men in by_team.items()}, read.problems, read.rules)


def _men(sheet: Sheet, team: str | None, season: str | None, problems: list[Problem]) -> list[Man]:
    men: list[Man] = []
    for line in sheet.lines:
        man = _man(line, team, season, problems)
        if man is not None:
            twin = next((m for m in men if _same(m, man)), None)
            if twin is None:
                men.append(man)
            else:
                problems.append(
                    Problem(line.number, line.text, f"the same man as in line {twin.line}; left out")
                )
    return men


def _same(one: Man, two: Man) -> bool:
    key = (one.team.casefold(), one.season, one.jersey, one.name.casefold(), one.since)
    return key == (two.team.casefold(), two.season, two.jersey, two.name.casefold(), two.since)


def _man(line: Line, team: str | None, season: str | None, problems: list[Problem]) -> Man | None:
    cells = line.cells
    jersey = read_jersey(cells.get("jersey", ""))
    name = cells.get("name") or " ".join(filter(None, (cells.get("first"), cells.get("last"))))
    name = _first_name_first(name)
    of = cells.get("team") or team or ""
    year = cells.get("season") or season or ""
    for value, what in ((jersey, "has no number from 0 to 99"), (name, "has no name"), (of, "has no team"),
                        (year, "has no season")):  # fmt: skip
        if not value:
            problems.append(Problem(line.number, line.text, f"{what}; the line is left out"))
            return None
    assert jersey is not None
    dates: list[date | None] = []
    for column in ("since", "until"):
        text = cells.get(column, "")
        day = read_date(text)
        if text and day is None:
            problems.append(Problem(line.number, line.text, f"{text!r} is no date; the line is left out"))
            return None
        dates.append(day)
    if dates[0] and dates[1] and dates[0] > dates[1]:
        problems.append(
            Problem(line.number, line.text, "the first day is after the last; the line is left out")
        )
        return None
    position = _position(cells.get("position", ""), line, problems)
    return Man(line.number, jersey, name, position, of, year, dates[0], dates[1])


def _first_name_first(name: str) -> str:
    last, comma, first = name.partition(",")
    return f"{first.strip()} {last.strip()}" if comma and first.strip() else name.strip()


def _position(text: str, line: Line, problems: list[Problem]) -> str:
    if not text:
        return ""
    first = text.split("/")[0].split(",")[0].strip()
    known = meaning("positions", first)
    if known is None:
        problems.append(Problem(line.number, line.text, f"the position {text!r} is not known; kept as it is"))
    return known or first.upper()


def _change_days(men: Sequence[Man]) -> list[date]:
    """The days on which somebody gets or gives up a number."""
    starts = {man.since for man in men if man.since}
    ends = {man.until + timedelta(days=1) for man in men if man.until}
    return sorted(starts | ends)


def _entries(men: Sequence[Man], day: date | None) -> list[RosterEntry]:
    return [RosterEntry(m.jersey, m.name, m.position, "own") for m in men if m.wears_it_on(day)]


def _rule_problems(men: Sequence[Man], level: Level | None) -> list[Problem]:
    found = [
        Problem(man.line, f"{man.jersey} {man.name} {man.position}".strip(), says)
        for man in men
        for says in number_faults(man.jersey, man.position, level)
    ]
    for place, man in enumerate(men):
        for other in men[:place]:
            if _clash(man, other):
                text = f"{man.jersey} {man.name} and {other.name}"
                found.append(Problem(man.line, text, same_number_fault(level)))
    return sorted(found, key=lambda problem: problem.line)


def _clash(one: Man, two: Man) -> bool:
    """Whether two men of one team wear one number on one day."""
    if (one.team.casefold(), one.season, one.jersey) != (two.team.casefold(), two.season, two.jersey):
        return False
    starts, ends = (
        max(one.since or date.min, two.since or date.min),
        min(one.until or date.max, two.until or date.max),
    )
    return starts <= ends
