"""`reviewer roster`, `game` and `plays`."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from reviewer.intake.beside import Beside
    from reviewer.intake.tables import Problem
    from reviewer.store.library import Library

LEVELS = ("professional", "college", "high school")
FILE = click.Path(path_type=Path)


def _tell(line: str, *, err: bool = False) -> None:
    """Lines for a person; names from a file cannot act on the terminal."""
    from reviewer.review.plain import plain

    for part in line.split("\n"):
        click.echo(plain(part), err=err)


def _say(problems: Iterable[Problem], heading: str) -> None:
    """What there is to say about a file, on stderr, a line each."""
    lines = list(problems)
    if lines:
        click.echo(heading, err=True)
    for line in lines:
        _tell(f"  {line}", err=True)


@click.group()
def roster() -> None:
    """Import and show rosters."""


@roster.command("import")
@click.argument("file", type=FILE)
@click.option("--team", metavar="TEAM", help="Whose roster it is, when the file has no team column.")
@click.option("--season", metavar="YEAR", help="The season, when the file has no season column.")
@click.option("--own/--opponents", default=None, help="Your own team, or other teams.")
@click.option("--level", type=click.Choice(LEVELS), help="Whose rules of jersey numbers hold.")
def roster_import(file: Path, **given: Any) -> None:
    """Import a roster from CSV or XLSX: number, name, position; team, season, from, to."""
    from reviewer.intake.rosters import import_roster
    from reviewer.store.library import Library

    with Library.open() as library:
        done = import_roster(library, file, **given)
    for (team, season), men in done.saved.items():
        _tell(f"{team}, {season}: {men} men")
    _say(done.problems, "Not understood:")
    _say(done.rules, "Numbers to look at (kept as they are):")


@roster.command("show")
@click.argument("team")
@click.option("--season", metavar="YEAR", help="The season; all of them when left out.")
def roster_show(team: str, season: str | None) -> None:
    """Show a team's roster, numbers that changed hands included."""
    from reviewer.errors import InputError
    from reviewer.store.library import Library
    from reviewer.store.rosters import spots

    with Library.open(read_only=True) as library:
        found = [s for year in _seasons(library, season) for s in spots(library, team, year)]
    if not found:
        raise InputError(f"There is no roster of {team!r}; import one with `reviewer roster import`.")
    for spot in found:
        days = f"  from {spot.since}" if spot.since else ""
        days += f"  until {spot.until}" if spot.until else ""
        _tell(f"{spot.season}  {spot.entry.jersey:>2}  {spot.entry.position:<4} {spot.entry.name}{days}")


def _seasons(library: Any, season: str | None) -> list[str]:
    if season is not None:
        return [season]
    with library.reading() as db:
        return [year for (year,) in db.execute("SELECT DISTINCT season FROM roster_spot ORDER BY season")]


@click.group()
def game() -> None:
    """Import and show games."""


@game.command("import")
@click.argument("file", type=FILE)
@click.option("--team", metavar="TEAM", help="Your own team.")
@click.option("--season", metavar="YEAR", help="The season, when neither a column nor the date says it.")
@click.option("--level", type=click.Choice(LEVELS), help="The level, when the file has no such column.")
def game_import(file: Path, **given: Any) -> None:
    """Import games from CSV or XLSX: date, opponent, place, level, season."""
    from reviewer.intake.games import import_games
    from reviewer.store.library import Library

    with Library.open() as library:
        done = import_games(library, file, **given)
    _tell(f"{len(done.saved)} games, {done.new} of them new")
    _say(done.problems, "Not understood:")


@game.command("show")
@click.option("--season", metavar="YEAR", help="Only this season.")
def game_show(season: str | None) -> None:
    """List the games."""
    from reviewer.store.library import Library
    from reviewer.store.rosters import games

    with Library.open(read_only=True) as library:
        for found in games(library, season):
            place = f", {found.place}" if found.place else ""
            who = found.opponent or found.title
            day = found.date.isoformat() if found.date else ""
            _tell(f"{found.id:>4}  {found.season}  {day:<10}  {who}{place}")


@game.command("season")
@click.argument("folder", type=FILE)
def game_season(folder: Path) -> None:
    """Bring in a whole season kept as files, as the sample in shared/season: rosters, games, notes."""
    from reviewer.commands.terminal import counting
    from reviewer.intake.season import load_season
    from reviewer.store.library import Library

    with Library.open() as library, counting("loading") as tell:
        done = load_season(library, folder, tell)
    _tell(f"{done.games} games, {done.notes} notes, {done.rows} rows")


@game.command("note")
@click.argument("note")
@click.argument("game", required=False, metavar="[GAME]")
@click.option("--season", metavar="YEAR", help="The game's season, where its name fits several.")
@click.option("--none", "no_game", is_flag=True, help="The note is about no game of the list.")
def game_note(note: str, game: str | None, season: str | None, no_game: bool) -> None:
    """Tie NOTE (name or number) to a GAME: title, date, opponent or number."""
    from reviewer.errors import InputError
    from reviewer.reports.gather import game_infos
    from reviewer.store.library import Library
    from reviewer.store.notes import assign_game
    from reviewer.store.notes import note as note_of

    if (game is None) != no_game:
        raise InputError("Say which game the note is about, or --none.")
    with Library.open() as library:
        found = note_of(library, note)
        number = None if game is None else _one_game(library, game, season)
        assign_game(library, found.id, number)
        title = game_infos(library)[number].title if number is not None else "no game"
        _tell(f"{found.title}: {title}")


def _one_game(library: Library, named: str, season: str | None) -> int:
    """The game of that name. Raises InputError when none, or several, fit."""
    from reviewer.errors import InputError
    from reviewer.reports.gather import find_games

    found = find_games(library, [named], season)
    if len(found) > 1:
        raise InputError(f"{named!r} fits {len(found)} games; say its date or number, or --season.")
    return found[0]


@click.group()
def plays() -> None:
    """Import play lists and lay them beside notes."""


@plays.command("import")
@click.argument("file", type=FILE)
@click.option(
    "--game", "named", metavar="GAME", required=True, help="The game: title, date, opponent or number."
)
@click.option("--season", metavar="YEAR", help="The game's season, where its name fits several.")
@click.option("--lay/--no-lay", default=True, help="Lay it beside the game's notes at once.")
def plays_import(file: Path, named: str, season: str | None, lay: bool) -> None:
    """Import a game's play list from CSV or XLSX."""
    from reviewer.intake.plays import import_plays
    from reviewer.language.vocabulary import load_vocabulary
    from reviewer.reports.lexicon import build_lexicon
    from reviewer.store.library import Library
    from reviewer.store.notes import notes

    with Library.open() as library:
        found = _one_game(library, named, season)
        lexicon = build_lexicon(load_vocabulary().terms)
        done = import_plays(library, file, found, lexicon.concept)
        _tell(f"{done.plays} plays")
        _say(done.problems, "Not understood:")
        for note in notes(library, game=found) if lay else []:
            _lay(library, note.id, note.title, fill=True)


@plays.command("lay")
@click.argument("note")
@click.option("--fill/--no-fill", default=True, help="Put what was not said into the rows.")
def plays_lay(note: str, fill: bool) -> None:
    """Lay the play list of its game beside NOTE (name or number)."""
    from reviewer.store.library import Library
    from reviewer.store.notes import note as note_of

    with Library.open() as library:
        found = note_of(library, note)
        _lay(library, found.id, found.title, fill)


def _lay(library: Any, note: int, title: str, fill: bool) -> None:
    from reviewer.intake.beside import lay_plays
    from reviewer.reports.cuts.sync import SyncMark, fit
    from reviewer.store.films import film_of

    marks = film_of(library, note).marks
    line = fit([SyncMark(*mark) for mark in marks]).film if marks else None
    _tell(beside_words(title, lay_plays(library, note, film_of=line, fill=fill), fill))


def beside_words(title: str, beside: Beside, filled: bool) -> str:
    """What laying a play list beside a note gave, for people."""
    lines = [f"{title}: {len(beside.matches)} reps matched, {len(beside.unmatched)} not"]
    if beside.unmatched:
        lines.append(f"  no play for rep {_numbers(beside.unmatched)}")
    if beside.unsure:
        lines.append(f"  not sure, so nothing filled in for rep {_numbers(beside.unsure)}")
    if beside.fills:
        values = sum(map(len, beside.fills.values()))
        verb = "filled in" if filled else "could be filled in"
        lines.append(f"  {values} values in {len(beside.fills)} rows {verb} from the list")
    for d in beside.disputes:
        who = f", {d.player}" if d.player else ""
        lines.append(f"  rep {d.rep}{who}: said {d.field} {_value(d.said)}, the list says {_value(d.listed)}")
    return "\n".join(lines)


def _numbers(reps: tuple[int, ...]) -> str:
    return ", ".join(map(str, reps))


def _value(value: Any) -> str:
    return ", ".join(value) if isinstance(value, list) else str(value)
