"""What of a grade row a person should look at: rows and fields that are not sure, and values that
nobody said. Tables and screens mark them all by the same rule."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from reviewer.records import GRADE_FIELDS, GradeRow

SURE_ROW = 0.75
"""A row of lower confidence needs a look. On the annotated test notes a third of the rows lie below,
and nearly half of those need a change; of the others one in seven or eight."""

SURE_FIELD = 0.75
"""A field of lower confidence is shown as doubtful. Six in ten of these are right on the same notes."""

_KNOWN_BEFORE = frozenset({"player", "position"})
"""Given with the note or its roster: nobody has to say them."""


def needs_look(row: GradeRow, confirmed: bool = False) -> bool:
    """Whether a row should come first in a review: not confirmed and not sure."""
    return not confirmed and (row.confidence < SURE_ROW or bool(row.safety))


def doubtful_fields(row: GradeRow, decided: Collection[str] = ()) -> frozenset[str]:
    """The fields whose value is not sure. decided: fields that the coach has set himself."""
    return frozenset(
        name
        for name in GRADE_FIELDS
        if row.field_confidence.get(name, 1.0) < SURE_FIELD and name not in decided
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


def look_first(rows: Iterable[tuple[GradeRow, bool]]) -> list[int]:
    """The order in which to review rows, as indices: those that need a look first, least sure
    first, then the other unconfirmed ones, then the confirmed ones as spoken.

    rows: each with whether it is confirmed.
    """
    keyed = [
        (confirmed, not needs_look(row, confirmed), row.confidence if not confirmed else 0.0, index)
        for index, (row, confirmed) in enumerate(rows)
    ]
    return [index for *_, index in sorted(keyed)]
