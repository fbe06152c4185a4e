"""The play list of a game, and which play each rep of a note was matched to.

A play list is replaced as a whole. A match belongs to a rep; it goes when the rep's note, or the play,
goes. What a match filled into rows is an action of its own (kind `PLAY_LIST`) that can be undone.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

from reviewer.records import Phase
from reviewer.store.codec import dump, load
from reviewer.store.library import Library
from reviewer.store.rosters import game_of

PLAY_LIST = "play list"
"""The kind of action that fills rows from a play list."""


@dataclass(frozen=True)
class Play:
    """One line of a play list; what the list does not say is None or empty.

    place: the line's order in the list, from 1. number: the play's number as the list gives it.
    clock_s: seconds left in the quarter. yard_line: yards from the offence's own goal line, 1..99.
    film_s: seconds from the film's first frame. line: the line in the file.
    """

    place: int
    number: str = ""
    quarter: int | None = None
    clock_s: float | None = None
    down: int | None = None
    distance: int | None = None
    goal_to_go: bool = False
    yard_line: int | None = None
    phase: Phase | Literal["other"] | None = None
    concept: str | None = None
    gain: int | None = None
    result: str | None = None
    film_s: float | None = None
    line: int = 0


@dataclass(frozen=True)
class PlayMatch:
    """A rep (id) matched to a play (its place), with the probability that it is that one."""

    rep_id: int
    place: int
    probability: float
    out_of_order: bool = False


def save_plays(library: Library, game: int, plays: Iterable[Play]) -> int:
    """Make this the play list of a game; returns how many plays it has. Old matches go."""
    with library.writing() as db:
        game_of(library, game)
        db.execute("DELETE FROM play WHERE game_id = ?", (game,))
        rows = [(game, play.place, dump(_data(play))) for play in plays]
        db.executemany("INSERT INTO play (game_id, place, data) VALUES (?, ?, ?)", rows)
        return len(rows)


def plays_of(library: Library, game: int) -> list[Play]:
    """The play list of a game, in its order; [] when it has none."""
    with library.reading() as db:
        found = db.execute("SELECT data FROM play WHERE game_id = ? ORDER BY place", (game,)).fetchall()
    return [Play(**load(data)) for (data,) in found]


def save_matches(library: Library, note: int, game: int, matches: Iterable[PlayMatch]) -> None:
    """Make these the matches of a note's reps."""
    with library.writing() as db:
        db.execute("DELETE FROM rep_play WHERE rep_id IN (SELECT id FROM rep WHERE note_id = ?)", (note,))
        db.executemany(
            "INSERT INTO rep_play (rep_id, game_id, place, probability, out_of_order) VALUES (?, ?, ?, ?, ?)",
            [(m.rep_id, game, m.place, m.probability, int(m.out_of_order)) for m in matches],
        )


def matches_of(library: Library, note: int) -> list[PlayMatch]:
    """The matches of a note's reps."""
    with library.reading() as db:
        found = db.execute(
            "SELECT rep_id, place, probability, out_of_order FROM rep_play JOIN rep ON rep.id = rep_id "
            "WHERE note_id = ? ORDER BY place",
            (note,),
        ).fetchall()
    return [PlayMatch(rep, place, probability, bool(jumped)) for rep, place, probability, jumped in found]


def row_plays(library: Library) -> dict[int, Play]:
    """The play that each row's rep was matched to, by row id, over the whole grade book."""
    with library.reading() as db:
        found = db.execute(
            "SELECT row_now.row_id, play.data FROM row_now JOIN rep_play ON rep_play.rep_id = row_now.rep_id "
            "JOIN play ON play.game_id = rep_play.game_id AND play.place = rep_play.place"
        ).fetchall()
    return {row: Play(**load(data)) for row, data in found}


def _data(play: Play) -> dict[str, Any]:
    return {name: getattr(play, name) for name in Play.__dataclass_fields__}
