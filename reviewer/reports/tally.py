"""Counting: wins, losses, marks and events, over all reps and by any field of the row."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from reviewer.records import GradeRow
from reviewer.reports.intervals import Share, share
from reviewer.reports.reps import GradedRep, field_values

NOT_SAID = "not said"
MARKS: tuple[Literal["assignment", "technique", "finish"], ...] = ("assignment", "technique", "finish")


@dataclass(frozen=True, slots=True)
class Tally:
    """Wins, losses and neutral reps. The share of wins is of the reps won or lost: a neutral rep
    carries no judgement, so it is counted and shown but takes no side."""

    wins: int = 0
    losses: int = 0
    neutral: int = 0

    @property
    def reps(self) -> int:
        return self.wins + self.losses + self.neutral

    @property
    def share(self) -> Share:
        return share(self.wins, self.wins + self.losses)


@dataclass(frozen=True, slots=True)
class MarkTally:
    """How often a part of the grade was marked plus and minus; the rest was not marked."""

    plus: int
    minus: int
    unmarked: int

    @property
    def share(self) -> Share:
        return share(self.plus, self.plus + self.minus)


@dataclass(frozen=True, slots=True)
class Group:
    """The reps that share a value, and their tally."""

    name: str
    tally: Tally
    reps: tuple[GradedRep, ...]


def tally(rows: Iterable[GradeRow]) -> Tally:
    """Wins, losses and neutral among the rows."""
    counts = Counter(row.verdict for row in rows)
    return Tally(counts["win"], counts["loss"], counts["neutral"])


def tally_reps(reps: Iterable[GradedRep]) -> Tally:
    """Wins, losses and neutral among the reps."""
    return tally(rep.row for rep in reps)


def marks(reps: Sequence[GradedRep]) -> dict[str, MarkTally]:
    """The three marks of the sheet: assignment, technique, finish."""
    result: dict[str, MarkTally] = {}
    for mark in MARKS:
        counts = Counter(getattr(rep.row, mark) for rep in reps)
        result[mark] = MarkTally(counts["+"], counts["-"], counts[None])
    return result


def count_terms(reps: Iterable[GradedRep], field: str) -> Counter[str]:
    """In how many reps each value of a field occurs."""
    return Counter(value for rep in reps for value in field_values(rep.row, field))


def groups(reps: Sequence[GradedRep], field: str, *, with_unsaid: bool = True) -> list[Group]:
    """The reps by the values of a field, the largest group first.

    A rep with several values stands in each of their groups. Reps where nothing was said come last
    under "not said", unless no rep has a value at all.
    """
    return groups_by(reps, lambda rep: field_values(rep.row, field), with_unsaid=with_unsaid)


def groups_by(
    reps: Sequence[GradedRep],
    values: Callable[[GradedRep], Iterable[str]],
    *,
    with_unsaid: bool = True,
) -> list[Group]:
    """As `groups`, by whatever values a function finds in a rep."""
    members: dict[str, list[GradedRep]] = {}
    unsaid: list[GradedRep] = []
    for rep in reps:
        found = tuple(values(rep))
        for value in found:
            members.setdefault(value, []).append(rep)
        if not found:
            unsaid.append(rep)
    ordered = sorted(members.items(), key=lambda item: (-len(item[1]), item[0]))
    if unsaid and members and with_unsaid:
        ordered.append((NOT_SAID, unsaid))
    return [Group(name, tally_reps(found), tuple(found)) for name, found in ordered]
