"""What every report is made of: graded reps with the game and the words they belong to.

Reports are pure functions of these records; `reviewer.reports.gather` fetches them from the grade
book. Nothing here knows how they are stored or shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reviewer.records import GradeRow, Level


@dataclass(frozen=True, slots=True)
class GameInfo:
    """A game as reports need it. `date` is ISO (2031-09-05) or "" when not known; `id` is the
    grade book's, 0 when it holds none."""

    id: int
    opponent: str
    date: str = ""
    place: str = ""
    season: str = ""
    level: Level | None = None

    @property
    def title(self) -> str:
        """ "2031-09-05 Calder Falls", or whatever of it is known."""
        return " ".join(part for part in (self.date, self.opponent) if part) or "no game"


@dataclass(frozen=True, slots=True, eq=False)
class GradedRep:
    """One grade row with what a report shows around it.

    row: the current row, corrections folded in. words: what the coach said about the rep, as read.
    note: the note's title. confirmed: whether the coach has confirmed the row. audio: the note's
    recording, None when there is none. listed: fields filled from a play list, not said. inferred:
    fields the tool concluded from others, neither said nor decided by the coach. play: the play of the
    game's list that the rep was matched to, for people, with its film_s (seconds) where the list has
    it. disputes: (field, the list's value) where talk and list disagree.
    """

    row: GradeRow
    words: str = ""
    note: str = ""
    note_id: int = 0
    row_id: int = 0
    game: GameInfo | None = None
    name: str = ""
    confirmed: bool = False
    coach_note: str = ""
    audio: Path | None = None
    listed: frozenset[str] = frozenset()
    inferred: frozenset[str] = frozenset()
    play: str = ""
    film_s: float | None = None
    disputes: tuple[tuple[str, Any], ...] = ()

    @property
    def game_title(self) -> str:
        """The game's title, or the note's when the note is tied to no game."""
        return self.game.title if self.game else self.note

    @property
    def place(self) -> tuple[str, str, int, int, float]:
        """Sorts reps by game date, note, rep and time."""
        date = self.game.date if self.game else ""
        return (date, self.note, self.note_id, self.row.rep, self.row.start)


def in_order(reps: Iterable[GradedRep]) -> list[GradedRep]:
    """The reps by game, note and rep."""
    return sorted(reps, key=lambda rep: rep.place)


def games_of(reps: Sequence[GradedRep]) -> list[GameInfo]:
    """The games the reps come from, oldest first, each once."""
    found = {rep.game for rep in reps if rep.game is not None}
    return sorted(found, key=lambda game: (game.date, game.id, game.opponent))


def by_game(reps: Sequence[GradedRep]) -> dict[str, list[GradedRep]]:
    """The reps of each game (of each note where no game is known), oldest first."""
    groups: dict[str, list[GradedRep]] = {}
    for rep in in_order(reps):
        groups.setdefault(rep.game_title, []).append(rep)
    return groups


def field_values(row: GradeRow, field: str) -> tuple[str, ...]:
    """The values a row has in a field, as text; none when nothing was said."""
    value = getattr(row, field)
    if value is None or value is False:
        return ()
    if isinstance(value, list):
        return tuple(dict.fromkeys(map(str, value)))
    return ("yes",) if value is True else (str(value),)
