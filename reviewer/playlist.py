"""What a line of a play list says about a grade row: what it adds, and where the two disagree."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING, Any

from reviewer.records import GradeRow

if TYPE_CHECKING:
    from reviewer.store.plays import Play

FIELDS: tuple[str, ...] = ("down", "distance", "goal_to_go", "phase", "concepts", "play_result")
"""Fields of a grade row that a play list can say."""

EMPTY: tuple[Any, ...] = (None, [], False)

GOOD_FOR_US = frozenset({"gain", "complete", "touchdown"})
"""Results that can be told of one play together; so can the others among themselves."""


def listed_values(play: Play) -> dict[str, Any]:
    """The values of a grade row that the play gives; what the list does not say is left out."""
    values: dict[str, Any] = {
        "down": play.down,
        "distance": None if play.goal_to_go else play.distance,
        "goal_to_go": play.goal_to_go or None,
        "phase": play.phase if play.phase in ("run", "pass") else None,
        "concepts": [play.concept] if play.concept else None,
        "play_result": play.result,
    }
    return {field: value for field, value in values.items() if value is not None}


def missing_values(row: GradeRow, said: Collection[str], play: Play) -> dict[str, Any]:
    """What the play adds to a row: its values for fields that nobody said.

    said: the fields of the row that were said or decided. A distance is not added beside "and goal".
    """
    added = {field: value for field, value in listed_values(play).items() if field not in said}
    if "goal_to_go" in added and "distance" in said:
        del added["goal_to_go"]
    if "distance" in added and row.goal_to_go and "goal_to_go" in said:
        del added["distance"]
    return {field: value for field, value in added.items() if getattr(row, field) != value}


def disputes(row: GradeRow, said: Collection[str], play: Play) -> dict[str, Any]:
    """Where talk and list disagree: field to the list's value, for fields that were said."""
    values = listed_values(play)
    told = (field for field in said if field in values and getattr(row, field) not in EMPTY)
    return {field: values[field] for field in told if _differ(field, row, values[field])}


def _differ(field: str, row: GradeRow, listed: Any) -> bool:
    value = getattr(row, field)
    if field == "concepts":
        # A list names a play in one word; the talk may say more of it.
        return not set(listed) <= set(value)
    if field == "play_result":
        return (value in GOOD_FOR_US) != (listed in GOOD_FOR_US)
    if field == "distance" and row.goal_to_go:
        return False
    return bool(value != listed)


def said_fields(row: GradeRow, decided: Collection[str]) -> frozenset[str]:
    """The fields of FIELDS that words carry or the coach decided, if only that they stay empty; an
    inferred value is not one."""
    return frozenset(
        field
        for field in FIELDS
        if field in decided or (field in row.evidence and getattr(row, field) not in EMPTY)
    )


def play_name(play: Play) -> str:
    """The play for people: "play 12, Q2 7:41"."""
    parts = [f"play {play.number or play.place}"]
    if play.quarter is not None:
        when = f"Q{play.quarter}" if play.quarter <= 4 else "overtime"
        if play.clock_s is not None:
            when += f" {int(play.clock_s) // 60}:{int(play.clock_s) % 60:02}"
        parts.append(when)
    return ", ".join(parts)
