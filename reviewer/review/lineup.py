"""Who is on the roster of a note, for picking and for names beside numbers."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from functools import lru_cache

from reviewer import paths
from reviewer.records import RosterEntry
from reviewer.review.plain import plain


def name_of(roster: Sequence[RosterEntry], jersey: str | None, side: str) -> str:
    """The name that goes with a number on one side; both where two men wear it; "" when not known."""
    names = [plain(man.name) for man in roster if man.side == side and man.jersey == jersey]
    return " or ".join(dict.fromkeys(names))


def position_of(roster: Sequence[RosterEntry], jersey: str | None) -> str | None:
    """The position of an own man, when the roster knows just one."""
    found = {man.position for man in roster if man.side == "own" and man.jersey == jersey and man.position}
    return found.pop() if len(found) == 1 else None


@lru_cache(maxsize=1)
def own_positions() -> tuple[str, ...]:
    """The positions of the graded side that the vocabulary knows a spoken name for."""
    data = tomllib.loads((paths.vocabulary() / "people.toml").read_text("utf-8"))
    return tuple(dict.fromkeys(data["positions"].values()))
