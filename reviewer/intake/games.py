"""Import the games of a season from CSV or XLSX."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reviewer.errors import InputError
from reviewer.intake.tables import Line, Problem, meaning, read_sheet
from reviewer.intake.values import read_date
from reviewer.records import Level

if TYPE_CHECKING:
    from reviewer.store.library import Library

NEW_YEAR = 3
"""A game before this month belongs to the season of the year before (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class GameLine:
    """One game as read; place and level None when not said."""

    line: int
    date: date | None
    opponent: str
    season: str
    title: str
    place: str | None
    level: str | None


@dataclass(frozen=True)
class GamesRead:
    """Games as read, and what was not understood."""

    games: tuple[GameLine, ...]
    problems: tuple[Problem, ...]


@dataclass(frozen=True)
class GamesImported:
    """What an import did. saved: ids in the file's order; new: how many of them were not there."""

    saved: tuple[int, ...]
    new: int
    problems: tuple[Problem, ...]


def read_games(path: Path, season: str | None = None, level: Level | None = None) -> GamesRead:
    """Read a file of games. season, level: for files that do not say. A season neither said nor in
    the file is the year of the date.

    Raises InputError when the file cannot be read.
    """
    sheet = read_sheet(path, "games", (("opponent",), ("title", "date"), ("title", "season")))
    problems = [
        Problem(0, heading, "this heading was not understood; the column is left out")
        for heading in sheet.unknown
    ]
    games = [game for line in sheet.lines if (game := _game(line, season, level, problems)) is not None]
    return GamesRead(tuple(games), tuple(problems))


def import_games(
    library: Library,
    path: Path,
    *,
    team: str | None = None,
    season: str | None = None,
    level: Level | None = None,
) -> GamesImported:
    """Read a file of games and save them, all or nothing; a game already there (same season, date and
    opponent) is brought up to date. team: one's own.

    Raises InputError when nothing in it can be used.
    """
    from reviewer.store.rosters import Game, find_games, save_game

    read = read_games(path, season, level)
    if not read.games:
        first = f" ({read.problems[0]})" if read.problems else ""
        raise InputError(f"No line of {path} is a game with an opponent{first}; nothing was saved.")
    saved, new = [], 0
    with library.writing():
        for line in read.games:
            known = [g for g in find_games(library, line.opponent, line.season) if g.date == line.date]
            new += not known
            place: Any = line.place
            of_level: Any = line.level
            game = Game(
                title=line.title,
                season=line.season,
                date=line.date,
                team=team or (known[0].team if known else None),
                opponent=line.opponent,
                place=place,
                level=of_level,
                id=known[0].id if known else 0,
            )
            saved.append(save_game(library, game))
    return GamesImported(tuple(saved), new, read.problems)


def _game(line: Line, season: str | None, level: str | None, problems: list[Problem]) -> GameLine | None:
    cells = line.cells
    # many a schedule names the other team under "Game"
    named = cells["opponent"] if "opponent" in cells else cells.get("title", "")
    opponent, place = _opponent(named)
    if not opponent:
        problems.append(Problem(line.number, line.text, "has no opponent; the line is left out"))
        return None
    text = cells.get("date", "")
    day = read_date(text)
    if text and day is None:
        problems.append(Problem(line.number, line.text, f"{text!r} is no date; the line is left out"))
        return None
    year = cells.get("season") or season or _season_of(day)
    if not year:
        problems.append(
            Problem(
                line.number,
                line.text,
                "has neither a season nor a date; the line is left out (or say --season)",
            )
        )
        return None
    place = _value("places", cells.get("place", ""), line, problems) or place
    of_level = _value("levels", cells.get("level", ""), line, problems) or level
    own_title = cells.get("title") if "opponent" in cells else None
    title = own_title or f"{opponent} {day.isoformat() if day else year}"
    return GameLine(line.number, day, opponent, year, title, place, of_level)


def _opponent(text: str) -> tuple[str, str | None]:
    """ "@ Calder Falls" and "at Calder Falls" are away, "vs Calder Falls" at home."""
    found = re.match(r"(@|at\s|vs?\.?\s|versus\s)\s*(.+)", text.strip(), re.IGNORECASE)
    if not found:
        return text.strip(), None
    return found[2].strip(), meaning("places", found[1].replace(".", ""))


def _season_of(day: date | None) -> str:
    if day is None:
        return ""
    return str(day.year if day.month >= NEW_YEAR else day.year - 1)


def _value(kind: str, text: str, line: Line, problems: list[Problem]) -> str | None:
    if not text:
        return None
    found = meaning(kind, text)
    if found is None:
        problems.append(Problem(line.number, line.text, f"{text!r} was not understood and is left out"))
    return found
