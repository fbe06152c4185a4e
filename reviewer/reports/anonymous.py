"""A way out for sharing: names and numbers replaced, free text and everything that names a game left out.

What stays is technique: positions, situations, marks, terms. Replacements are the same all through one
anonymizer, so two reports of one go stay comparable: our men become P1, P2, …; theirs D1, D2, …;
games and notes are counted.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from reviewer.records import GradeRow
from reviewer.reports.reps import GameInfo, GradedRep


@dataclass
class Anonymizer:
    """Hands out replacements in the order of first meeting; remembers them for its life only."""

    _players: dict[tuple[str, str], str] = field(default_factory=dict)
    _defenders: dict[tuple[str, str], str] = field(default_factory=dict)
    _games: dict[GameInfo, GameInfo] = field(default_factory=dict)
    _notes: dict[int, int] = field(default_factory=dict)

    def player(self, jersey: str | None, name: str = "") -> str | None:
        """The replacement of one of our men; a number worn by two named men is two."""
        if jersey is None:
            return None
        return self._players.setdefault((jersey, name), f"P{len(self._players) + 1}")

    def defender(self, jersey: str, team: str) -> str:
        """The replacement of a man of that team."""
        return self._defenders.setdefault((jersey, team), f"D{len(self._defenders) + 1}")

    def game(self, game: GameInfo | None) -> GameInfo | None:
        """A game that says nothing but which in order it was met as."""
        if game is None:
            return None
        number = len(self._games) + 1
        # A made-up sortable date would look like a real one; the padded number sorts as well.
        hidden = GameInfo(id=number, opponent=f"game {number:02}", level=game.level)
        return self._games.setdefault(game, hidden)

    def note(self, number: int) -> int:
        """The number that stands for a note's."""
        return self._notes.setdefault(number, len(self._notes) + 1)

    def row(self, row: GradeRow, name: str = "", team: str = "") -> GradeRow:
        """The row with its men replaced and no words. name: our man's; team: theirs."""
        return row.model_copy(
            update={
                "player": self.player(row.player, name),
                "opponents": [self.defender(jersey, team) for jersey in row.opponents],
                "evidence": {},
            }
        )

    def rep(self, rep: GradedRep) -> GradedRep:
        """The rep with everything that could name somebody replaced or left out."""
        note = self.note(rep.note_id)
        return replace(
            rep,
            row=self.row(rep.row, rep.name, rep.game.opponent if rep.game else ""),
            words="",
            note=f"note {note:02}",
            note_id=note,
            row_id=0,
            game=self.game(rep.game),
            name="",
            coach_note="",
            audio=None,
            play="",
            film_s=None,
        )


def anonymous(reps: Iterable[GradedRep], by: Anonymizer | None = None) -> list[GradedRep]:
    """The reps for sharing, in their order. Pass one anonymizer to keep replacements alike."""
    hand = by or Anonymizer()
    return [hand.rep(rep) for rep in reps]
