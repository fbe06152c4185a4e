"""What of a grade row a person should look at, for rows that are in no grade book yet: rows and fields
that are not sure, and values that nobody said. The bounds are those of the review."""

from __future__ import annotations

from collections.abc import Collection

from reviewer.records import GRADE_FIELDS, GradeRow
from reviewer.review.doubt import LOOK_BELOW

_KNOWN_BEFORE = frozenset({"player", "position"})
"""Given with the note or its roster: nobody has to say them."""


def needs_look(row: GradeRow, confirmed: bool = False) -> bool:
    """Whether a row should come first in a review: not confirmed and not sure."""
    return not confirmed and (row.confidence < LOOK_BELOW or bool(row.safety))


def doubtful_fields(row: GradeRow, decided: Collection[str] = ()) -> frozenset[str]:
    """The fields whose value is not sure. decided: fields that the coach has set himself."""
    return frozenset(
        name
        for name in GRADE_FIELDS
        if row.field_confidence.get(name, 1.0) < LOOK_BELOW and name not in decided
    )


def concluded_fields(row: GradeRow, decided: Collection[str] = ()) -> frozenset[str]:
    """The fields with a value that no words carry and nobody decided: concluded from others.

    A neutral verdict is the absence of a judgement and needs no words.
    """
    return frozenset(
        name
        for name in GRADE_FIELDS
        if name not in row.evidence
        and name not in decided
        and name not in _KNOWN_BEFORE
        and getattr(row, name) not in (None, False, [])
        and (name, row.verdict) != ("verdict", "neutral")
    )
