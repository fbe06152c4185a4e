"""Fetch graded reps from the grade book: the one place where reports meet the store."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reviewer import paths
from reviewer.errors import InputError
from reviewer.look import concluded_fields
from reviewer.playlist import disputes, play_name, said_fields
from reviewer.records import GradeRow, RosterEntry
from reviewer.reports.own_words import own_words
from reviewer.reports.reps import GameInfo, GradedRep, in_order

if TYPE_CHECKING:
    from reviewer.store.library import Library
    from reviewer.store.plays import Play


@dataclass(frozen=True)
class Selection:
    """Which reps a report is about; everything given must hold.

    player: a jersey ("76") or (part of) a name. games: ids. season: as the user names it. notes: ids.
    since, until: days, both included; reps of games without a date are then left out.
    confirmed: only rows that the coach has confirmed. rows: ids of rows, None for all.
    """

    player: str | None = None
    games: Sequence[int] = ()
    season: str | None = None
    since: date | None = None
    until: date | None = None
    notes: Sequence[int] = ()
    confirmed: bool = False
    rows: Sequence[int] | None = None


_ROWS = """
    SELECT row_now.row_id, row_now.note_id, row_now.grade, row_now.confirmed, row_now.comment,
           row_now.corrected, note.title, note.kind, note.source, note.game_id, note.opponent, segment.words
    FROM row_now
    JOIN note ON note.id = row_now.note_id
    LEFT JOIN segment ON segment.row_id = row_now.row_id
"""


def gather(library: Library, wanted: Selection) -> list[GradedRep]:
    """The reps a selection names, by game and rep; [] when there are none."""
    from reviewer.store.plays import row_plays

    conditions, values = _conditions(wanted)
    with library.reading():
        games = game_infos(library)
        records = library.execute(f"{_ROWS} WHERE {' AND '.join(conditions)}", values).fetchall()
        own = _own_words(library, [(note, row) for row, note, *_ in records])
        around = _Around(games, _listed(library), row_plays(library), _Names(library, games), own)
        reps = [_rep(record, around) for record in records]
    return in_order(rep for rep in reps if _holds(rep, wanted))


def find_games(library: Library, named: Iterable[str], season: str | None = None) -> list[int]:
    """Ids of the games named by id, date, title or opponent (case does not count).

    Raises InputError when a name fits no game.
    """
    games = list(game_infos(library).values())
    found: list[int] = []
    for name in named:
        plain = " ".join(name.split()).casefold()
        fitting = [g.id for g in games if _fits(g, plain) and season in (None, g.season)]
        if not fitting:
            known = "; ".join(g.title for g in sorted(games, key=lambda g: g.date)) or "none yet"
            raise InputError(f"There is no game {name!r} in the grade book; the games are: {known}.")
        found += fitting
    return list(dict.fromkeys(found))


def _fits(game: GameInfo, plain: str) -> bool:
    return plain in (str(game.id), game.date, game.opponent.casefold(), game.title.casefold())


def of_opponent(reps: Sequence[GradedRep], name: str) -> tuple[list[GradedRep], str]:
    """The reps against a team named wholly or in part (case does not count), and the team's name.

    Raises InputError when no team, or more than one, fits.
    """
    plain = " ".join(name.split()).casefold()
    teams = {rep.game.opponent for rep in reps if rep.game is not None}
    fitting = sorted(t for t in teams if t.casefold() == plain) or sorted(
        t for t in teams if plain in t.casefold()
    )
    if len(fitting) != 1:
        known = ", ".join(fitting or sorted(teams)) or "none yet"
        which = "fits several opponents" if fitting else "is no opponent with graded reps"
        raise InputError(f"{name!r} {which}; name one of: {known}.")
    return [rep for rep in reps if rep.game is not None and rep.game.opponent == fitting[0]], fitting[0]


def opponent_names(library: Library, reps: Sequence[GradedRep]) -> dict[str, str]:
    """Jersey to name of the other team's men, over the games of the reps."""
    from reviewer.store.rosters import roster_for_game

    names: dict[str, list[str]] = {}
    for game in {rep.game.id for rep in reps if rep.game is not None and rep.game.id}:
        for man in roster_for_game(library, game):
            if man.side == "opp" and man.name not in names.setdefault(man.jersey, []):
                names[man.jersey].append(man.name)
    return {jersey: " or ".join(found) for jersey, found in names.items()}


def game_infos(library: Library) -> dict[int, GameInfo]:
    """Every game of the grade book, by id."""
    from reviewer.store.rosters import games

    return {
        game.id: GameInfo(
            id=game.id,
            opponent=game.opponent or game.title,
            date=game.date.isoformat() if game.date else "",
            place=game.place or "",
            season=game.season,
            level=game.level,
        )
        for game in games(library)
    }


def _conditions(wanted: Selection) -> tuple[list[str], list[Any]]:
    conditions, values = ["1"], list[Any]()
    for column, ids in (
        ("note.game_id", wanted.games or None),
        ("note.id", wanted.notes or None),
        ("row_now.row_id", wanted.rows),
    ):
        if ids is not None:
            # json_each takes any number of ids; question marks are limited.
            conditions.append(f"{column} IN (SELECT value FROM json_each(?))")
            values.append(json.dumps(list(ids)))
    if wanted.confirmed:
        conditions.append("row_now.confirmed = 1")
    if wanted.player is not None and wanted.player.strip().isdigit():
        conditions.append("row_now.player = ?")
        values.append(wanted.player.strip())
    return conditions, values


def _holds(rep: GradedRep, wanted: Selection) -> bool:
    day = rep.game.date if rep.game else ""
    if wanted.season is not None and (rep.game is None or rep.game.season != wanted.season):
        return False
    if (wanted.since or wanted.until) and not day:
        return False
    if wanted.since and day < wanted.since.isoformat():
        return False
    if wanted.until and day > wanted.until.isoformat():
        return False
    if wanted.player is None or wanted.player.strip().isdigit():
        return True
    return wanted.player.strip().casefold() in rep.name.casefold()


@dataclass(frozen=True)
class _Around:
    """What the grade book knows around its rows, fetched once."""

    games: Mapping[int, GameInfo]
    listed: Mapping[int, frozenset[str]]
    plays: Mapping[int, Play]
    names: _Names
    words: Mapping[int, str]


def _rep(record: tuple[Any, ...], around: _Around) -> GradedRep:
    row_id, note_id, grade, confirmed, comment, corrected, title, kind, source, game_id, opponent, words = (
        record
    )
    row = GradeRow.model_validate_json(grade)
    game = around.games.get(game_id) if game_id is not None else None
    if game is None and opponent:
        game = GameInfo(id=0, opponent=opponent)
    decided = frozenset(json.loads(corrected))
    listed = around.listed.get(row_id, frozenset())
    play = around.plays.get(row_id)
    said = said_fields(row, decided - listed)
    return GradedRep(
        row=row,
        words=around.words.get(row_id, words or ""),
        note=title,
        note_id=note_id,
        row_id=row_id,
        game=game,
        name=around.names.of(game_id, row.player),
        confirmed=bool(confirmed),
        coach_note=comment,
        audio=_audio(kind, source),
        listed=listed,
        inferred=frozenset() if confirmed else concluded_fields(row, decided),
        play=play_name(play) if play else "",
        film_s=play.film_s if play else None,
        disputes=tuple(sorted(disputes(row, said, play).items())) if play else (),
    )


def _own_words(library: Library, wanted: Iterable[tuple[int, int]]) -> dict[int, str]:
    """What was said of each row of the reps on which several men are graded. wanted: note and row ids."""
    from reviewer.store.talk import talk_of

    rows_by_note: dict[int, set[int]] = {}
    for note, row in wanted:
        rows_by_note.setdefault(note, set()).add(row)
    found: dict[int, str] = {}
    for note, rows in rows_by_note.items():
        talk = talk_of(library, note)
        for rep in talk.reps:
            if len(rep.rows) > 1 and rows & {row.id for row in rep.rows}:
                found |= own_words(talk.words, rep.stretches, {row.id: row.current for row in rep.rows})
    return found


def _audio(kind: str, source: str | None) -> Path | None:
    if kind != "audio" or not source:
        return None
    given = Path(source).expanduser()
    kept = paths.recordings() / given.name
    return kept if not given.is_file() and kept.is_file() else given


def _listed(library: Library) -> dict[int, frozenset[str]]:
    """Row id to the fields whose newest change came from a play list."""
    from reviewer.store.plays import PLAY_LIST

    found = library.execute(
        """
        SELECT subject_id, field FROM change_log AS last
        WHERE subject = 'row' AND undone = 0 AND kind = ? AND new IS NOT NULL AND NOT EXISTS (
            SELECT 1 FROM change_log AS later
            WHERE later.subject = 'row' AND later.undone = 0 AND later.subject_id = last.subject_id
                  AND later.field = last.field AND later.id > last.id
        )
        """,
        (PLAY_LIST,),
    ).fetchall()
    fields: dict[int, set[str]] = {}
    for row, field in found:
        fields.setdefault(row, set()).add(field)
    return {row: frozenset(names) for row, names in fields.items()}


class _Names:
    """Who wore a number in a game, looked up once a game."""

    def __init__(self, library: Library, games: Mapping[int, GameInfo]) -> None:
        self._library = library
        self._games = games
        self._rosters: dict[int, tuple[RosterEntry, ...]] = {}

    def of(self, game: int | None, jersey: str | None) -> str:
        """The own player's name, "" when the roster does not say. Two men of one number are both named."""
        from reviewer.store.rosters import roster_for_game

        if game is None or jersey is None or game not in self._games:
            return ""
        if game not in self._rosters:
            self._rosters[game] = roster_for_game(self._library, game)
        men = [m.name for m in self._rosters[game] if m.side == "own" and m.jersey == jersey]
        return " or ".join(men)
