"""How far the review of a note is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from reviewer.review.plain import count
from reviewer.store.fold import StoredRow


@dataclass(frozen=True, slots=True)
class Progress:
    """rows: live ones; left: not confirmed yet; fixed: with a value that the coach gave.
    wins, losses, neutral: of the confirmed rows."""

    rows: int
    left: int
    fixed: int
    wins: int
    losses: int
    neutral: int


def progress(rows: Iterable[StoredRow], player: str | None = None) -> Progress:
    """Count the rows of a note, or of one of its players."""
    mine = [row for row in rows if player in (None, row.current.player)]
    verdicts = [row.current.verdict for row in mine if row.confirmed]
    return Progress(
        rows=len(mine),
        left=sum(not row.confirmed for row in mine),
        fixed=sum(bool(row.corrected) for row in mine),
        wins=verdicts.count("win"),
        losses=verdicts.count("loss"),
        neutral=verdicts.count("neutral"),
    )


def parting_words(found: Progress, note: str) -> str:
    """What to tell a coach who leaves a note (its name): how far it is, and how to go on."""
    if not found.rows:
        return f"{note} has no rows yet."
    if not found.left:
        return f"{note}: all {count(found.rows, 'row')} confirmed. The sheet: reviewer sheet --player NUMBER"
    return f"{note}: {found.left} of {count(found.rows, 'row')} left. Go on with: reviewer review {note}"


def progress_words(found: Progress) -> str:
    """The progress on one short line."""
    tally = f"won {found.wins} lost {found.losses} neutral {found.neutral}"
    if not found.rows:
        return "no rows"
    left = "all confirmed" if not found.left else f"{found.left} of {found.rows} left"
    return f"{left} · {found.fixed} fixed · {tally}"
