"""Short ways to make records for the tests of reports."""

from typing import Any

from reviewer.records import GradeRow
from reviewer.reports.reps import GameInfo, GradedRep

GAME_1 = GameInfo(1, "Calder Falls", "2031-09-05", "home", "2031", "college")
GAME_2 = GameInfo(2, "Ebbing Point", "2031-09-12", "away", "2031", "college")
GAME_3 = GameInfo(3, "Norwick Tech", "2031-09-19", "home", "2031", "college")


def graded(rep: int = 1, verdict: str = "win", game: GameInfo | None = GAME_1, **fields: Any) -> GradedRep:
    """A rep of number 74 with these fields of the grade row; those of GradedRep may be given too."""
    around = {
        name: fields.pop(name)
        for name in (
            "words",
            "note",
            "note_id",
            "row_id",
            "name",
            "confirmed",
            "coach_note",
            "audio",
            "listed",
            "inferred",
            "play",
            "film_s",
            "disputes",
        )
        if name in fields
    }
    around = {"note": "a note", "confirmed": True, **around}
    row = {"player": "74", "start": 10.0 * rep, "end": 10.0 * rep + 8, **fields}
    return GradedRep(GradeRow(rep=rep, verdict=verdict, **row), game=game, **around)


def run_of(wins: int, losses: int, neutral: int = 0, **fields: Any) -> list[GradedRep]:
    """So many reps of each verdict, numbered on."""
    verdicts = ["win"] * wins + ["loss"] * losses + ["neutral"] * neutral
    return [graded(number, verdict, **fields) for number, verdict in enumerate(verdicts, 1)]
