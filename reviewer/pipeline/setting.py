"""What is known of a note before it is read, from what the user says and what the grade book knows.

Looking up writes nothing. What the note leaves in the book beside itself (a new game, the rosters)
is a `Booking`, saved together with the note, so that a note that cannot be read leaves no trace.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from reviewer.errors import InputError
from reviewer.intake.games import NEW_YEAR
from reviewer.pipeline.player import find_player, known_position
from reviewer.pipeline.roster_file import read_note_roster
from reviewer.records import Level, NoteContext, RosterEntry
from reviewer.store.library import Library
from reviewer.store.rosters import (
    Game,
    find_games,
    game_of,
    roster_for,
    roster_for_game,
    save_game,
    save_roster,
    spots,
    teams,
)

OUR_TEAM = "Our team"
"""The own team's name until the user gives it one."""


@dataclass(frozen=True, slots=True)
class Said:
    """What the user says about a note; everything may be None.

    player: jersey or name. game: title, opponent or number of a game; one not known is a new game.
    season: None for the running one. team: one's own. roster: a file of both teams' men.
    """

    player: str | None = None
    position: str | None = None
    opponent: str | None = None
    game: str | None = None
    season: str | None = None
    team: str | None = None
    level: Level | None = None
    roster: Path | None = None


@dataclass(frozen=True, slots=True)
class Booking:
    """What is to stand in the grade book beside the note: its game (id 0: new) and new rosters."""

    game: Game | None = None
    roster: tuple[RosterEntry, ...] = ()

    def save(self, library: Library) -> int | None:
        """Save what is new; returns the game's id. A roster that the book has already stays as it is."""
        game = self.game
        if game is None:
            return None
        with library.writing():
            number = self.known(library) or save_game(library, game)
            for team, side in ((game.team, "own"), (game.opponent, "opp")):
                men = [man for man in self.roster if man.side == side]
                if team and men and not spots(library, team, game.season):
                    save_roster(library, team, game.season, men, own=True if side == "own" else None)
        return number

    def known(self, library: Library) -> int | None:
        """The game's id where it is in the grade book already."""
        game = self.game
        if game is None or game.id:
            return game.id if game else None
        same = [g for g in find_games(library, game.title, game.season) if g.title == game.title]
        return same[0].id if same else None


@dataclass(frozen=True, slots=True)
class Setting:
    """The context to read a note in, what to book with it, and sentences the user should see."""

    context: NoteContext
    booking: Booking = Booking()
    remarks: tuple[str, ...] = ()


def look_up(said: Said, library: Library | None, *, today: date | None = None) -> Setting:
    """Put together what is known of a note.

    library: None to look nothing up. Raises InputError for a roster that cannot be used, a game that
    cannot be told, a player who is not on the roster.
    """
    season = said.season or _season(today or date.today())
    from_file = read_note_roster(said.roster) if said.roster else ()
    remarks: list[str] = []
    game = _game(said, season, library, bool(from_file), remarks)
    opponent = said.opponent or (game.opponent if game else None)
    in_book = _roster_in_book(library, game, opponent, season)
    roster = _joined(from_file, in_book)
    player, position = find_player(said.player, roster) if said.player else (None, None)
    if said.position:
        position = known_position(said.position)
    level = said.level or (game.level if game else None)
    context = NoteContext(player, position, opponent, game.title if game else None, roster, level)
    if from_file and game is None:
        remarks.append("The roster serves this note only; name the game (--game or --opponent) to keep it.")
    elif game and _differs(from_file, in_book):
        remarks.append(
            "The grade book has another roster for this game: the note is read with the file, the book "
            "stays as it is; `reviewer roster import` changes it."
        )
    return Setting(context, Booking(game, from_file), tuple(remarks))


def _season(day: date) -> str:
    return str(day.year if day.month >= NEW_YEAR else day.year - 1)


def _game(
    said: Said, season: str, library: Library | None, has_roster: bool, remarks: list[str]
) -> Game | None:
    name = said.game or said.opponent
    if name is None:
        return None
    if said.game and said.game.strip().isdecimal() and library is not None:
        return game_of(library, int(said.game))
    fitting = _fitting(library, name, said, season)
    if len(fitting) == 1:
        return fitting[0]
    if fitting and said.game:
        listed = ", ".join(f"{g.id} ({g.title}, {g.season})" for g in fitting)
        raise InputError(f"{said.game!r} fits several games: {listed}; give the number of one with --game")
    if fitting:
        remarks.append(f"There are several games against {name}; name the one with --game.")
        return None
    if not said.game and not has_roster:
        return None
    title = said.game or f"{said.opponent} {season}"
    return Game(title, season, team=_own_team(said, library), opponent=said.opponent, level=said.level)


def _fitting(library: Library | None, name: str, said: Said, season: str) -> list[Game]:
    """The games meant: of the season said; else of the running one, or of any when named by title."""
    if library is None:
        return []
    running = find_games(library, name, season)
    if running or said.season or not said.game:
        return running
    titled = " ".join(name.split()).casefold()
    return [game for game in find_games(library, name) if game.title.casefold() == titled]


def _own_team(said: Said, library: Library | None) -> str:
    if said.team:
        return said.team
    own = [team.name for team in teams(library) if team.own] if library is not None else []
    return own[0] if len(own) == 1 else OUR_TEAM


def _roster_in_book(
    library: Library | None, game: Game | None, opponent: str | None, season: str
) -> tuple[RosterEntry, ...]:
    if library is None:
        return ()
    if game is not None and game.id:
        return roster_for_game(library, game.id)
    own = [team.name for team in teams(library) if team.own]
    men = roster_for(library, own[0], season) if len(own) == 1 else ()
    theirs = roster_for(library, opponent, season) if opponent else ()
    return (*men, *(RosterEntry(m.jersey, m.name, m.position, "opp") for m in theirs))


def _joined(first: Sequence[RosterEntry], second: Sequence[RosterEntry]) -> tuple[RosterEntry, ...]:
    """The first roster, with the second for a side that the first does not have."""
    sides = {man.side for man in first}
    return (*first, *(man for man in second if man.side not in sides))


def _differs(from_file: Sequence[RosterEntry], in_book: Sequence[RosterEntry]) -> bool:
    sides = {man.side for man in in_book}
    return bool({man for man in from_file if man.side in sides} - set(in_book))
