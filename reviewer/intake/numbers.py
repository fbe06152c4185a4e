"""Which jersey numbers a level's rules allow, as data; a number outside them is pointed out with the
rule, never changed: the coach saw it, the rule book did not."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from reviewer.records import Level


@dataclass(frozen=True, slots=True)
class NumberRule:
    """A rule: the positions it is for (empty: everybody) and the numbers it allows."""

    levels: tuple[str, ...]
    positions: tuple[str, ...]
    ranges: tuple[tuple[int, int], ...]
    says: str
    advice: bool = False

    def allows(self, number: int) -> bool:
        return any(low <= number <= high for low, high in self.ranges)


@lru_cache(maxsize=1)
def _data() -> dict[str, object]:
    return tomllib.loads((Path(__file__).parent / "number_rules.toml").read_text("utf-8"))


@lru_cache(maxsize=1)
def number_rules() -> tuple[NumberRule, ...]:
    """Every rule, as number_rules.toml has them."""
    entries = _data()["rule"]
    assert isinstance(entries, list)
    return tuple(
        NumberRule(
            tuple(entry["levels"]),
            tuple(entry.get("positions", ())),
            tuple((low, high) for low, high in entry["ranges"]),
            entry["says"],
            entry.get("advice", False),
        )
        for entry in entries
    )


def number_faults(jersey: str, position: str, level: Level | None) -> list[str]:
    """What a level's rules say against a number, a clause each; [] when nothing, or no level is known."""
    if level is None:
        return []
    faults = []
    if len(jersey) > 1 and jersey.startswith("0") and (text := _clause("leading_zero", level)):
        faults.append(text)
    number = int(jersey)
    for rule in number_rules():
        if level in rule.levels and position in rule.positions and not rule.allows(number):
            faults.append(rule.says)
    return faults


def same_number_fault(level: Level | None) -> str:
    """What to say of two men of one team with one number at one time."""
    return _clause("same_number", level or "high school")


def _clause(table: str, level: str) -> str:
    entries = _data()[table]
    assert isinstance(entries, dict)
    return str(entries.get(level, ""))
