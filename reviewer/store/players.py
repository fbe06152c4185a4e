"""One's own players one at a time: put a man on the roster, correct his name, take him off it.

What was graded stays with the number and the day it was graded on; a man who is retired keeps it.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date as Date

from reviewer.errors import InputError
from reviewer.records import RosterEntry
from reviewer.store.library import Library
from reviewer.store.rosters import Spot, save_roster, save_team, spots, teams


def own_team(library: Library, named: str | None = None) -> str:
    """The name of one's own team: the one that is named, or the only one.

    Raises InputError when it is not clear which, or the named one is another team.
    """
    known = teams(library)
    own = [team.name for team in known if team.own]
    if named is None:
        if len(own) == 1:
            return own[0]
        listed = f"there are {', '.join(own)}" if own else "no team is yours yet"
        raise InputError(f"Say whose player he is with --team; {listed}.")
    plain = " ".join(named.split())
    fitting = [team for team in known if team.name.casefold() == plain.casefold()]
    if fitting and not fitting[0].own:
        raise InputError(f"{fitting[0].name} is not a team of yours; import its roster instead.")
    return fitting[0].name if fitting else plain


def last_season(library: Library, team: str) -> str | None:
    """The newest season that the team has a roster or a game of; None when it has neither."""
    with library.reading() as db:
        (season,) = db.execute(
            "SELECT max(season) FROM (SELECT season, team_id FROM roster_spot "
            "UNION SELECT season, team_id FROM game) JOIN team ON team.id = team_id WHERE team.name = ?",
            (team,),
        ).fetchone()
    return str(season) if season is not None else None


def men_of(library: Library, team: str, season: str, who: str) -> list[Spot]:
    """The spots of the one man that is meant by a number, a name or a part of a name.

    Raises InputError when there is none, or several men fit.
    """
    plain = " ".join(who.split()).casefold()
    every = spots(library, team, season)
    fitting = [s for s in every if plain in (s.entry.jersey, s.entry.name.casefold())]
    fitting = fitting or [s for s in every if plain and plain in s.entry.name.casefold()]
    running = [s for s in fitting if s.until is None]
    names = list(dict.fromkeys(s.entry.name for s in running or fitting))
    if len(names) == 1:
        return [s for s in every if s.entry.name == names[0]]
    if names:
        raise InputError(f"{who!r} fits {', '.join(names)}; give one man's name.")
    listed = ", ".join(f"{s.entry.jersey} {s.entry.name}" for s in every if s.until is None) or "nobody yet"
    raise InputError(f"{who!r} is not on the roster of {team}, {season}; there are: {listed}.")


def add_player(
    library: Library, team: str, season: str, man: RosterEntry, since: Date | None = None
) -> list[Spot]:
    """Put a man on the roster of one's own team, from a day on where given; returns who else wears his
    number then.

    Raises InputError when he is on it with that number already, or the number or the name is none.
    """
    man = replace(man, name=" ".join(man.name.split()), side="own")
    if not man.name:
        raise InputError("A player needs a name; type at least one letter.")
    with library.writing():
        save_team(library, team, own=True)
        there = [s for s in spots(library, team, season) if s.until is None]
        beside = [s for s in there if s.entry.jersey == man.jersey]
        if any(s.entry.name.casefold() == man.name.casefold() for s in beside):
            raise InputError(f"{man.name} is on the roster of {team}, {season} with {man.jersey} already.")
        if since is None and not there:
            save_roster(library, team, season, [man], own=True)
            return []
        _insert(library, team, season, man, since)
    return beside


def _insert(library: Library, team: str, season: str, man: RosterEntry, since: Date | None) -> None:
    if not (man.jersey.isascii() and man.jersey.isdigit() and len(man.jersey) <= 2):
        raise InputError(f"{man.jersey!r} is no jersey number (0 to 99, or 00); correct it.")
    db = library.connection
    (number,) = db.execute("SELECT id FROM team WHERE name = ?", (team,)).fetchone()
    db.execute("INSERT INTO player (team_id, name) VALUES (?, ?) ON CONFLICT DO NOTHING", (number, man.name))
    db.execute(
        "INSERT INTO roster_spot (team_id, player_id, season, jersey, position, since) "
        "SELECT team_id, id, ?, ?, ?, ? FROM player WHERE team_id = ? AND name = ?",
        (season, man.jersey, man.position, since.isoformat() if since else None, number, man.name),
    )


def rename_player(library: Library, team: str, name: str, new: str) -> None:
    """Correct a man's name, in every season. name: his whole name as it stands.

    Raises InputError when the new name is empty or another man of the team has it.
    """
    plain = " ".join(new.split())
    if not plain:
        raise InputError("A player needs a name; type at least one letter.")
    with library.writing() as db:
        (number,) = db.execute("SELECT id FROM team WHERE name = ?", (team,)).fetchone()
        taken = db.execute(
            "SELECT 1 FROM player WHERE team_id = ? AND name = ? AND name <> ? COLLATE NOCASE",
            (number, plain, name),
        ).fetchone()
        if taken:
            raise InputError(f"Another man of {team} is called {plain}; give one of them a middle name.")
        db.execute("UPDATE player SET name = ? WHERE team_id = ? AND name = ?", (plain, number, name))


def retire_player(library: Library, team: str, season: str, name: str, day: Date) -> list[Spot]:
    """Take a man off the roster from a day on (the first that his number is not his any more); returns
    the spots that ended.

    Raises InputError when he has no number then.
    """
    running = [s for s in spots(library, team, season) if s.entry.name == name and s.until is None]
    if not running:
        raise InputError(f"{name} is off the roster of {team}, {season} already.")
    if late := [s for s in running if s.since is not None and s.since >= day]:
        raise InputError(f"{name} has his number from {late[0].since} on; give a later day.")
    with library.writing() as db:
        db.execute(
            "UPDATE roster_spot SET until = ? WHERE until IS NULL AND season = ? AND player_id = "
            "(SELECT player.id FROM player JOIN team ON team.id = player.team_id "
            "WHERE team.name = ? AND player.name = ?)",
            (day.isoformat(), season, team, name),
        )
    return running
