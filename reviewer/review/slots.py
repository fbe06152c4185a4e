"""The fields of a grade row as a coach sees them: what belongs together, its key, its words.

A slot is one line of the review; it shows one field of the row, or the three that make a situation.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from reviewer.errors import InputError
from reviewer.records import LIST_FIELDS, GradeRow

Kind = Literal["verdict", "mark", "cycle", "man", "men", "situation", "term", "terms", "choice", "comment"]


@dataclass(frozen=True, slots=True)
class Slot:
    """One line of the review.

    id: its name. key: the key that opens (or cycles) it. label: as shown. fields: of the grade row.
    kind: how it is fixed. right: whether it stands in the right column. group: the vocabulary group
    whose terms it takes, "" for none. cycle: the values that its key goes through.
    """

    id: str
    key: str
    label: str
    fields: tuple[str, ...]
    kind: Kind
    right: bool
    group: str = ""
    cycle: tuple[Any, ...] = ()

    @property
    def field(self) -> str:
        """The one field of a slot that has one."""
        return self.fields[0]

    @property
    def many(self) -> bool:
        """Whether it holds a list."""
        return self.field in LIST_FIELDS


MARKS = (None, "+", "-")

SLOTS: tuple[Slot, ...] = (
    Slot("player", "p", "player", ("player",), "man", False),
    Slot("position", "i", "position", ("position",), "choice", False),
    Slot("situation", "d", "down", ("down", "distance", "goal_to_go"), "situation", False),
    Slot("phase", "k", "kind", ("phase",), "cycle", False, cycle=(None, "run", "pass")),
    Slot("concepts", "c", "concept", ("concepts",), "terms", False, "concepts"),
    Slot("side", "b", "side", ("side",), "cycle", False, cycle=(None, "playside", "backside")),
    Slot("play_result", "r", "result", ("play_result",), "term", False, "play_result"),
    Slot("opponents", "o", "opponents", ("opponents",), "men", False),
    Slot("alignment", "a", "alignment", ("alignment",), "term", False, "alignment"),
    Slot("set", "s", "set", ("set",), "term", False, "set"),
    Slot("verdict", "v", "verdict", ("verdict",), "verdict", True, cycle=("win", "loss", "neutral")),
    Slot("assignment", "1", "assignment", ("assignment",), "mark", True, cycle=MARKS),
    Slot("technique", "2", "technique", ("technique",), "mark", True, cycle=MARKS),
    Slot("finish", "3", "finish", ("finish",), "mark", True, cycle=MARKS),
    Slot("techniques", "t", "techniques", ("techniques",), "terms", True, "techniques"),
    Slot("faults", "f", "faults", ("faults",), "terms", True, "faults"),
    Slot("moves", "m", "moves", ("moves",), "terms", True, "moves"),
    Slot("games", "g", "games", ("games",), "terms", True, "games"),
    Slot("events", "e", "events", ("events",), "terms", True, "events"),
    Slot("safety", "y", "safety", ("safety",), "terms", True, "safety"),
    Slot("labels", "x", "labels", ("labels",), "terms", True, "labels"),
)
"""Every slot, the left column first; together they show each field that can be corrected."""

BY_ID: Mapping[str, Slot] = {slot.id: slot for slot in SLOTS}
BY_FIELD: Mapping[str, Slot] = {name: slot for slot in SLOTS for name in slot.fields}

NOTHING = "·"
"""Shown for a value that was not said."""

_VERDICTS = {"win": "+ win", "loss": "− loss", "neutral": "= neutral"}
_MARKS = {"+": "+ done", "-": "− not done"}
_ORDINALS = {1: "1st", 2: "2nd", 3: "3rd", 4: "4th"}


def words_for(slot: Slot, row: GradeRow) -> str:
    """What stands in a slot, for people; "" when nothing does."""
    if slot.kind == "situation":
        return situation_words(row)
    return value_words(slot, getattr(row, slot.field))


def value_words(slot: Slot, value: Any) -> str:
    """One value of a slot, for people."""
    if value in (None, [], False):
        return ""
    if slot.kind == "verdict":
        return _VERDICTS[value]
    if slot.kind == "mark":
        return _MARKS[value]
    return ", ".join(value) if isinstance(value, list) else str(value)


def situation_words(row: GradeRow) -> str:
    """Down and distance, for people: "3rd and 8", "1st and goal", "and 8"."""
    down = _ORDINALS.get(row.down or 0, "")
    if row.goal_to_go:
        rest = "goal" if row.distance is None else f"goal, {row.distance} to go"
    else:
        rest = "" if row.distance is None else str(row.distance)
    return f"{down} and {rest}".strip() if rest else down


_SITUATION = re.compile(r"([1-4])\D*?(?:(\d{1,2})|(g)\w*)?")


def read_situation(text: str) -> dict[str, Any]:
    """What was typed for a situation, as fields: "38" or "3 8" is 3rd and 8, "2g" 2nd and goal.

    "3" alone is the down with no distance; "" clears all three. Raises InputError for anything else.
    """
    typed = text.strip().lower()
    if not typed:
        return {"down": None, "distance": None, "goal_to_go": False}
    found = _SITUATION.fullmatch(typed)
    if found is None:
        raise InputError(
            f"{text.strip()!r} is no down and distance; type 38 for 3rd and 8, or 2g for 2nd and goal."
        )
    down, distance, goal = found.groups()
    return {"down": int(down), "distance": int(distance) if distance else None, "goal_to_go": bool(goal)}


def next_value(slot: Slot, now: Any) -> Any:
    """The value after this one in a slot that its key goes through."""
    place = slot.cycle.index(now) if now in slot.cycle else -1
    return slot.cycle[(place + 1) % len(slot.cycle)]


def empty_values(slot: Slot) -> dict[str, Any]:
    """The values that clear a slot. A verdict cannot be empty: it becomes neutral."""
    if slot.kind == "situation":
        return read_situation("")
    if slot.kind == "verdict":
        return {slot.field: "neutral"}
    return {slot.field: [] if slot.many else None}


def differs(slot: Slot, one: GradeRow, other: GradeRow) -> bool:
    """Whether two rows differ in a slot."""
    return any(getattr(one, name) != getattr(other, name) for name in slot.fields)


def slot_help(slot: Slot) -> str:
    """What a slot's key does, for the help."""
    what = "next value" if slot.kind in {"verdict", "mark", "cycle"} else "choose"
    return f"{slot.label[0].upper()}{slot.label[1:]}: {what}"
