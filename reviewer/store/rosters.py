"""Teams, players, rosters and games.

A roster spot says who wore a number for a team in a season, and from when to when where the
number changed hands. Two men of one team may share a number. One or more teams are one's own.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date as Date
from typing import Literal, cast

from reviewer.errors import InputError
from reviewer.records import Level, RosterEntry
from reviewer.store.derive import rebuild_note
from reviewer.store.library import Library

Place = Literal["home", "away", "neutral"]


@dataclass(frozen=True)
class Game:
    """A game. season: as the user names it ("2026"). team: one's own team. id 0: not stored yet."""

    title: str
    season: str
    date: Date | None = None
    team: str | None = None
    opponent: str | None = None
    place: Place | None = None
    level: Level | None = None
    id: int = 0


@dataclass(frozen=True)
class Team:
    """A team; `own` where it is the user's."""

    id: int
    name: str
    own: bool


@dataclass(frozen=True)
class RosterSaved:
    """What `save_roster` did: spots added, kept as they were, and ended or removed."""

    added: int
    kept: int
    ended: int


@dataclass(frozen=True)
class Spot:
    """One man's number in a season. since, until: where it changed hands within the season; `until`
    is the first day that it is not his any more."""

    team: str
    season: str
    entry: RosterEntry
    since: Date | None
    until: Date | None


def teams(library: Library) -> list[Team]:
    """Every team, one's own first."""
    with library.reading() as db:
        found = db.execute("SELECT id, name, own FROM team ORDER BY own DESC, name").fetchall()
    return [Team(number, name, bool(own)) for number, name, own in found]


def save_team(library: Library, name: str, own: bool | None = None) -> int:
    """The id of the team of that name (case does not count), made when it is new.

    own: whether it is the user's; None leaves what is known.
    """
    name = " ".join(name.split())
    if not name:
        raise InputError("A team needs a name; type at least one letter.")
    with library.writing() as db:
        db.execute("INSERT INTO team (name) VALUES (?) ON CONFLICT DO NOTHING", (name,))
        if own is not None:
            db.execute("UPDATE team SET own = ? WHERE name = ?", (int(own), name))
        return int(db.execute("SELECT id FROM team WHERE name = ?", (name,)).fetchone()[0])


def save_roster(
    library: Library,
    team: str,
    season: str,
    entries: Iterable[RosterEntry],
    *,
    own: bool | None = None,
    since: Date | None = None,
) -> RosterSaved:
    """Make this the team's roster of a season.

    Without `since` it replaces the season's roster. With it, the roster holds from that day on:
    who is no longer on it keeps his number up to then.
    """
    wanted = {(e.jersey.strip(), " ".join(e.name.split()), e.position.strip()) for e in entries}
    if bad := [
        jersey for jersey, *_ in wanted if not (jersey.isascii() and jersey.isdigit() and len(jersey) <= 2)
    ]:
        raise InputError(
            f"{sorted(bad)[0]!r} is no jersey number (0 to 99, or 00) in the roster of {team}; correct it."
        )
    day = since.isoformat() if since else None
    with library.writing() as db:
        number = save_team(library, team, own)
        running = {
            (jersey, name, position): spot
            for spot, jersey, name, position in db.execute(
                "SELECT roster_spot.id, jersey, name, position FROM roster_spot "
                "JOIN player ON player.id = player_id "
                "WHERE roster_spot.team_id = ? AND season = ? AND until IS NULL",
                (number, season),
            )
        }
        kept = wanted & running.keys() if since else set()
        ended = [running[key] for key in running.keys() - kept]
        if since:
            db.executemany("UPDATE roster_spot SET until = ? WHERE id = ?", [(day, spot) for spot in ended])
            # a spot that would end on the day it began never was
            db.execute("DELETE FROM roster_spot WHERE since >= until")
        else:
            db.execute("DELETE FROM roster_spot WHERE team_id = ? AND season = ?", (number, season))
        for jersey, name, position in sorted(wanted - kept):
            db.execute(
                "INSERT INTO roster_spot (team_id, player_id, season, jersey, position, since) "
                "VALUES (?, ?, ?, ?, ?, ?)",
                (number, _player(library, number, name), season, jersey, position, day),
            )
        return RosterSaved(len(wanted - kept), len(kept), len(ended))


def _player(library: Library, team: int, name: str) -> int:
    library.execute("INSERT INTO player (team_id, name) VALUES (?, ?) ON CONFLICT DO NOTHING", (team, name))
    found = library.execute("SELECT id FROM player WHERE team_id = ? AND name = ?", (team, name)).fetchone()
    return int(found[0])


def spots(library: Library, team: str, season: str) -> list[Spot]:
    """Every spot of a team's season, numbers that changed hands included, by number and time."""
    with library.reading() as db:
        found = db.execute(
            "SELECT team.name, season, jersey, player.name, position, own, since, until FROM roster_spot "
            "JOIN team ON team.id = roster_spot.team_id JOIN player ON player.id = player_id "
            "WHERE team.name = ? AND season = ? "
            "ORDER BY CAST(jersey AS INTEGER), jersey, coalesce(since, ''), player.name",
            (" ".join(team.split()), season),
        ).fetchall()
    return [
        Spot(
            name, year, RosterEntry(jersey, man, position, "own" if own else "opp"), _day(since), _day(until)
        )
        for name, year, jersey, man, position, own, since, until in found
    ]


def _day(text: str | None) -> Date | None:
    return Date.fromisoformat(text) if text else None


def roster_for(library: Library, team: str, season: str, on: Date | None = None) -> tuple[RosterEntry, ...]:
    """A team's roster on a day of a season (None: as it is at the season's end), by number."""
    return tuple(
        spot.entry
        for spot in spots(library, team, season)
        if (
            spot.until is None
            if on is None
            else (spot.since or on) <= on and (spot.until is None or on < spot.until)
        )
    )


def roster_for_game(library: Library, game: int) -> tuple[RosterEntry, ...]:
    """Both teams' men on the day of a game, one's own team first."""
    found = game_of(library, game)
    sides = [(found.team, "own"), (found.opponent, "opp")]
    return tuple(
        RosterEntry(man.jersey, man.name, man.position, cast(Literal["own", "opp"], side))
        for team, side in sides
        if team
        for man in roster_for(library, team, found.season, found.date)
    )


def save_game(library: Library, game: Game) -> int:
    """Store a game, or with an id change the stored one; returns its id."""
    if not game.title.strip() or not game.season.strip():
        raise InputError("A game needs a title and a season; give both.")
    with library.writing() as db:
        team = save_team(library, game.team, own=True) if game.team else None
        opponent = save_team(library, game.opponent) if game.opponent else None
        day = game.date.isoformat() if game.date else None
        values = (game.title.strip(), game.season.strip(), day, team, opponent, game.place, game.level)
        if not game.id:
            number = db.execute(
                "INSERT INTO game (title, season, date, team_id, opponent_id, place, level) "
                "VALUES (?, ?, ?, ?, ?, ?, ?)",
                values,
            ).lastrowid
            assert number is not None
            return number
        game_of(library, game.id)
        db.execute(
            "UPDATE game SET title = ?, season = ?, date = ?, team_id = ?, opponent_id = ?, "
            "place = ?, level = ? WHERE id = ?",
            (*values, game.id),
        )
        # the season and the opponent are part of what is searched
        for (note,) in db.execute("SELECT id FROM note WHERE game_id = ?", (game.id,)).fetchall():
            rebuild_note(library, note)
        return game.id


_GAMES = """
    SELECT title, season, date, own.name, opp.name, place, level, game.id FROM game
    LEFT JOIN team AS own ON own.id = team_id LEFT JOIN team AS opp ON opp.id = opponent_id
"""


def games(library: Library, season: str | None = None) -> list[Game]:
    """The games, newest first; of one season where given."""
    where = "WHERE ? IS NULL OR season = ? ORDER BY season DESC, date DESC, game.id DESC"
    with library.reading() as db:
        found = db.execute(_GAMES + where, (season, season)).fetchall()
    return [Game(title, year, _day(day), *rest) for title, year, day, *rest in found]


def game_of(library: Library, game: int) -> Game:
    """The game of that id. Raises InputError when there is none."""
    with library.reading() as db:
        found = db.execute(_GAMES + "WHERE game.id = ?", (game,)).fetchone()
    if found is None:
        raise InputError(f"There is no game {game} in the grade book; list the games to see their numbers.")
    title, season, day, *rest = found
    return Game(title, season, _day(day), *rest)


def find_games(library: Library, name: str, season: str | None = None) -> list[Game]:
    """The games whose title or opponent is that name (case does not count), newest first."""
    plain = " ".join(name.split()).casefold()
    return [g for g in games(library, season) if plain in (g.title.casefold(), (g.opponent or "").casefold())]


def delete_game(library: Library, game: int) -> None:
    """Remove a game; its notes stay, without a game."""
    from reviewer.store.notes import assign_game

    with library.writing() as db:
        game_of(library, game)
        for (note,) in db.execute("SELECT id FROM note WHERE game_id = ?", (game,)).fetchall():
            assign_game(library, note, None)
        db.execute("DELETE FROM game WHERE id = ?", (game,))
