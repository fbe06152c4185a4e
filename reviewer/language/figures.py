"""The records of spoken figures, and the words by which they are told apart."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from reviewer import paths
from reviewer.language.numbers import Number

Use = Literal[
    "jersey",
    "maybe jersey",
    "yards",
    "play",
    "alignment",
    "degrees",
    "clock",
    "count",
    "yardline",
    "score",
    "other",
]


@dataclass(frozen=True, slots=True)
class NumberUse:
    """A number and what it counts. `withdrawn` when the speaker took it back."""

    number: Number
    use: Use
    withdrawn: bool = False


@dataclass(frozen=True, slots=True)
class Situation:
    """A spoken down (and distance) over tokens first..last (exclusive).

    distance None with goal_to_go False means that no number of yards was said.
    """

    first: int
    last: int
    down: int | None
    distance: int | None = None
    goal_to_go: bool = False
    distance_said: bool = False


@dataclass(frozen=True)
class Figures:
    """All numbers and situations of a note."""

    numbers: Sequence[NumberUse]
    situations: Sequence[Situation]


@lru_cache(maxsize=1)
def figure_words() -> Mapping[str, Mapping[str, list[tuple[str, ...]]]]:
    """The data of `vocab/situation.toml`: part, key, phrases, the longest first."""
    data = tomllib.loads((paths.vocabulary() / "situation.toml").read_text("utf-8"))
    return {
        part: {
            key: sorted((tuple(p.split()) for p in phrases), key=len, reverse=True)
            for key, phrases in table.items()
        }
        for part, table in data.items()
    }
