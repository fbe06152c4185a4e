"""A down and a distance as a person types them: "third and long", "3rd and 7"; a distance as a filter has
it: 7, 7-10, 7+, long. What long and short are is in situations.toml."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from reviewer.errors import InputError

Yards = tuple[int, int]
"""Least and most yards to gain, both included."""

MOST = 99
DOWNS = {"1st": 1, "2nd": 2, "3rd": 3, "4th": 4, "first": 1, "second": 2, "third": 3, "fourth": 4}


@dataclass(frozen=True)
class Situation:
    """A down and a distance found in typed words. first, last: where, last exclusive. named: the word
    that said how far, "" where it was a number."""

    first: int
    last: int
    down: int
    yards: Yards
    named: str = ""


def find_situation(words: Sequence[str]) -> Situation | None:
    """The first down with a distance among plain words; None when there is none."""
    for place, word in enumerate(words[:-2]):
        if word in DOWNS and words[place + 1] == "and":
            said = words[place + 2]
            yards = named_distances().get(said) or _number(said)
            if yards is not None:
                named = said if said in named_distances() else ""
                return Situation(place, place + 3, DOWNS[word], yards, named)
    return None


def read_distance(text: str) -> Yards:
    """A distance to filter by: "7", "7-10", "7+" (or more), or a word such as "long".

    Raises InputError when it is none of these.
    """
    plain = re.sub(r"\s+", "", text.casefold())
    if plain in named_distances():
        return named_distances()[plain]
    found = re.fullmatch(r"([0-9]{1,2})(?:(\+)|(?:-|–|to)([0-9]{1,2}))?", plain)
    if found:
        least = int(found[1])
        most = MOST if found[2] else int(found[3] or least)
        if least <= most:
            return least, most
    names = ", ".join(named_distances())
    raise InputError(f"A distance is yards to gain such as 7, 7-10 or 7+, or one of {names}, not {text!r}.")


def distance_text(yards: Yards) -> str:
    """The distance as `read_distance` reads it."""
    least, most = yards
    return str(least) if least == most else f"{least}+" if most == MOST else f"{least}-{most}"


@cache
def named_distances() -> Mapping[str, Yards]:
    """The words for distances. Common practice, no source."""
    data = tomllib.loads(Path(__file__).with_name("situations.toml").read_text("utf-8"))
    return {name: (least, most) for name, (least, most) in data["distance"].items()}


def _number(word: str) -> Yards | None:
    from reviewer.language.numbers import TEENS, UNITS

    spoken = {**UNITS, **TEENS, "twenty": 20}.get(word)
    value = int(word) if re.fullmatch("[0-9]{1,2}", word) else spoken
    return (value, value) if value is not None else None
