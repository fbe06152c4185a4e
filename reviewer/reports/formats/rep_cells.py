"""A rep as a line of text cells, and as a flat record with the grade row's own names."""

from __future__ import annotations

from collections.abc import Sequence

from reviewer.records import GRADE_FIELDS, LIST_FIELDS
from reviewer.reports.document import Reps
from reviewer.reports.formats.cells import Plain
from reviewer.reports.reps import GradedRep
from reviewer.reports.scale import RepScore
from reviewer.reports.wording import (
    clock,
    marks_words,
    play_words,
    points_words,
    rep_remarks,
    situation,
    what_he_did,
    what_he_faced,
)

LINE_COLUMNS: dict[str, str] = {
    "rep": "Rep",
    "time": "Time",
    "player": "No.",
    "situation": "Situation",
    "play": "Play",
    "faced": "Against",
    "did": "What he did",
    "verdict": "Verdict",
    "marks": "A T F",
    "points": "Points",
    "remarks": "Remarks",
}
"""Columns of a rep's line, for people. "A T F": assignment, technique, finish."""

SEPARATOR = "; "
"""Between the values of a list in a flat record."""


def line(rep: GradedRep, score: RepScore | None) -> dict[str, str]:
    """A rep as text cells, by the keys of LINE_COLUMNS."""
    row = rep.row
    return {
        "rep": str(row.rep),
        "time": clock(row.start),
        "player": row.player or "",
        "situation": situation(row),
        "play": play_words(row),
        "faced": what_he_faced(row),
        "did": what_he_did(row),
        "verdict": row.verdict,
        "marks": marks_words(row),
        "points": points_words(score),
        "remarks": rep_remarks(rep),
    }


def lines(block: Reps) -> list[tuple[GradedRep, dict[str, str]]]:
    """Every rep of the block with its text cells."""
    scores = block.scores or [None] * len(block.reps)
    return [(rep, line(rep, score)) for rep, score in zip(block.reps, scores, strict=True)]


def used_columns(found: Sequence[tuple[GradedRep, dict[str, str]]]) -> dict[str, str]:
    """The columns worth showing: those with anything in them, and the number only for several men."""
    several = len({cells["player"] for _, cells in found}) > 1
    empty = {"marks": "· · ·"}
    return {
        key: title
        for key, title in LINE_COLUMNS.items()
        if (key != "player" or several) and any(cells[key] not in ("", empty.get(key)) for _, cells in found)
    }


FLAT_COLUMNS: tuple[str, ...] = (
    "game", "date", "opponent", "season", "note", "rep", "start", "end", *GRADE_FIELDS, "points",
    "confidence", "confirmed", "list_play", "from_play_list", "play_list_says", "inferred", "words",
    "coach_note",
)  # fmt: skip
"""Columns of a flat record: the grade row's own names with the game before and the words after."""


def flat(rep: GradedRep, score: RepScore | None) -> dict[str, Plain]:
    """A rep as one flat record; lists are joined, None is nothing said."""
    row, game = rep.row, rep.game
    record: dict[str, Plain] = {
        "game": rep.game_title,
        "date": game.date if game else "",
        "opponent": game.opponent if game else "",
        "season": game.season if game else "",
        "note": rep.note,
        "rep": row.rep,
        "start": row.start,
        "end": row.end,
        "points": score.points if score else None,
        "confidence": row.confidence,
        "confirmed": "yes" if rep.confirmed else "no",
        "list_play": rep.play,
        "play_list_says": SEPARATOR.join(f"{field}: {_text(value)}" for field, value in rep.disputes),
        "from_play_list": SEPARATOR.join(sorted(rep.listed)),
        "inferred": SEPARATOR.join(sorted(rep.inferred)),
        "words": rep.words,
        "coach_note": rep.coach_note,
    }
    for field in GRADE_FIELDS:
        value = getattr(row, field)
        if field in LIST_FIELDS:
            value = SEPARATOR.join(value)
        record[field] = ("yes" if value else "no") if isinstance(value, bool) else value
    return {column: record[column] for column in FLAT_COLUMNS}


def _text(value: object) -> str:
    if isinstance(value, list):
        return ", ".join(map(str, value))
    return "yes" if value is True else str(value)
