"""`reviewer players`: the men under review; add, rename, retire one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from reviewer.errors import InputError
from reviewer.reports.options import day, output_options, put_out

if TYPE_CHECKING:
    from datetime import date

    from reviewer.store.library import Library


@click.group(invoke_without_command=True)
@click.option("--season", metavar="YEAR", help="Only this season.")
@click.option("--all", "retired", is_flag=True, help="Also those who are off the roster.")
@output_options
def players(season: str | None, retired: bool, anonymous: bool, **given: Any) -> None:
    """List the players under review: numbers, games, rows, share of wins."""
    from reviewer.reports.anonymous import anonymous as hide
    from reviewer.reports.gather import Selection, gather
    from reviewer.reports.players import own_spots, players_document
    from reviewer.reports.players import players as found_players
    from reviewer.store.library import Library

    if click.get_current_context().invoked_subcommand is not None:
        return
    with Library.open(read_only=True) as library:
        reps = gather(library, Selection(season=season))
        spots = own_spots(library, season)
    # without names there is no telling who of a roster a graded man is
    found = found_players(hide(reps), []) if anonymous else found_players(reps, spots)
    if not found:
        where = f" in {season}" if season else ""
        raise InputError(f"There are no players{where} yet; import a roster, add one, or grade a note.")
    nameless = sum(rep.row.player is None for rep in reps)
    put_out(players_document(found, retired=retired, nameless=nameless, shared=anonymous), **given)


def _where(command: Any) -> Any:
    """The options that say which roster is meant."""
    command = click.option("--season", metavar="YEAR", help="The season; the newest when left out.")(command)
    return click.option("--team", metavar="TEAM", help="Your team, where you have several.")(command)


@players.command("add")
@click.argument("number")
@click.argument("name")
@click.option("--position", metavar="POS", default="", help="LT, C, TE, …")
@click.option("--from", "since", metavar="DAY", help="The first day that the number is his (2031-10-13).")
@_where
def players_add(
    number: str, name: str, position: str, since: str | None, team: str | None, season: str | None
) -> None:
    """Put a man on the roster: players add 74 "Halvard Quist" --position LT."""
    from reviewer.intake.numbers import number_faults
    from reviewer.intake.tables import meaning
    from reviewer.intake.values import read_jersey
    from reviewer.records import RosterEntry
    from reviewer.store.library import Library
    from reviewer.store.players import add_player
    from reviewer.store.rosters import games

    jersey = read_jersey(number)
    if jersey is None:
        raise InputError(f"{number!r} is no jersey number (0 to 99, or 00); give the one he wears.")
    man = RosterEntry(jersey, name, meaning("positions", position) or position.upper(), "own")
    with Library.open() as library:
        whose, year = _roster(library, team, season)
        beside = add_player(library, whose, year, man, day("--from", since))
        level = next((game.level for game in games(library, year) if game.level), None)
    _tell(f"{jersey} {' '.join(name.split())}: {whose}, {year}")
    for fault in number_faults(jersey, man.position, level):
        _tell(f"  {fault}", err=True)
    for spot in beside:
        _tell(f"  {spot.entry.name} wears {jersey} too; retire him if he gave it up.", err=True)


@players.command("rename")
@click.argument("player")
@click.argument("name")
@_where
def players_rename(player: str, name: str, team: str | None, season: str | None) -> None:
    """Correct the name of PLAYER (number or name); his grades go with him."""
    from reviewer.store.library import Library
    from reviewer.store.players import men_of, rename_player

    with Library.open() as library:
        whose, year = _roster(library, team, season)
        old = men_of(library, whose, year, player)[0].entry
        rename_player(library, whose, old.name, name)
    _tell(f"{old.jersey} {old.name} is {' '.join(name.split())} now")


@players.command("retire")
@click.argument("player")
@click.option("--from", "on", metavar="DAY", help="The first day that he is off; when left out, the day "
              "after the last game that he is graded in.")  # fmt: skip
@_where
def players_retire(player: str, on: str | None, team: str | None, season: str | None) -> None:
    """Take PLAYER (number or name) off the roster; his grades stay."""
    from reviewer.store.library import Library
    from reviewer.store.players import men_of, retire_player

    with Library.open() as library:
        whose, year = _roster(library, team, season)
        man = men_of(library, whose, year, player)[0].entry
        off = day("--from", on) or _day_after(library, year, man.name)
        retire_player(library, whose, year, man.name, off)
    _tell(f"{man.jersey} {man.name}: off the roster of {whose}, {year} from {off}")


def _roster(library: Library, team: str | None, season: str | None) -> tuple[str, str]:
    from reviewer.store.players import last_season, own_team

    whose = own_team(library, team)
    year = season or last_season(library, whose)
    if not year:
        raise InputError(f"{whose} has no roster and no game yet; say the season with --season.")
    return whose, year


def _day_after(library: Library, season: str, name: str) -> date:
    """The day after the last game that he is graded in, today at the earliest."""
    from datetime import date, timedelta

    from reviewer.reports.gather import Selection, gather

    reps = gather(library, Selection(season=season, player=name))
    days = [date.fromisoformat(rep.game.date) for rep in reps if rep.game and rep.game.date]
    return max([date.today(), *(one + timedelta(days=1) for one in days)])


def _tell(line: str, *, err: bool = False) -> None:
    """Names cannot act on the terminal."""
    from reviewer.review.plain import plain

    click.echo(plain(line), err=err)
