"""Two logs of the same note made one: which order, what is in force, where both decided differently.

Pure functions over `merge_side.Act` and `Event`, whose cells have mine ids on both sides.

- An action that both have is the same action; its mark is what was done to it last.
- Mine keep their order. One of theirs stands as early as it can: behind what its writer had seen and
  decided anew. So where neither had seen the other's, mine stands, and what only one decided holds.
- Two decisions clash when neither writer had seen the other's and they give a value differently.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from reviewer.store.fold import Cell
from reviewer.store.merge_side import Act, Event, Key

Events = Mapping[Key, Sequence[Event]]

Pair = frozenset[Key]
"""The keys of two actions that are known to clash."""

STRUCTURE = frozenset({"rep", "seq", "shown", "deleted", "start", "end"})
"""Row cells that say where a row stands, not what it says."""


def cuts(cell: Cell) -> bool:
    """Whether a cell belongs to how the talk is cut into reps and rows."""
    return (
        cell.subject == "rep"
        or (cell.subject == "row" and cell.field in STRUCTURE)
        or (cell.subject == "note" and cell.field == "reading")
    )


def ordered(mine: Sequence[Act], theirs: Sequence[Act], clashing: Collection[Pair]) -> list[Act]:
    """Mine with those of theirs that are not among them, each as early as it may stand."""
    known = {act.key for act in mine}
    line = list(mine)
    least = 0
    for place, act in enumerate(theirs):
        if act.key in known:
            continue
        # who had not seen a decision when he decided had not seen it before that either
        later = [late.key for late in theirs[place:]]
        seen = {
            other.key
            for other in theirs[:place]
            if other.key in known
            and other.cells & act.cells
            and not any(frozenset((key, other.key)) in clashing for key in later)
        }
        behind = max((n + 1 for n, other in enumerate(line) if other.key in seen), default=0)
        least = max(least, behind)
        line.insert(least, act)
        least += 1
    return line


def marks(
    line: Sequence[Act],
    mine: Sequence[Act],
    events: tuple[Events, Events],
    held: Collection[Key],
) -> dict[Key, int]:
    """The mark of every action: 0 in force, 1 undone and can come back, 2 undone for good.

    events: of each action, mine and theirs, oldest first. held: of theirs, those kept out of force.
    """
    here = {act.key: act.undone for act in mine}
    ours, others = events
    found: dict[Key, int] = {}
    for act in line:
        mark = here.get(act.key)
        if mark is None:
            mark = 2 if act.key in held or act.undone else 0
        elif (last := _news(ours[act.key], others.get(act.key, ()))) is not None:
            mark = 2 if last == "undo" else 0
        found[act.key] = mark
    in_force_behind = False
    for act in reversed(line):
        in_force_behind = in_force_behind or found[act.key] == 0
        if found[act.key] == 1 and in_force_behind:
            found[act.key] = 2
    return found


def _news(mine: Sequence[Event], theirs: Sequence[Event]) -> str | None:
    """What they did last to an action that I do not know of; None where mine is the last word."""
    here, there = {(e.what, e.at) for e in mine}, {(e.what, e.at) for e in theirs}
    if not theirs or (theirs[-1].what, theirs[-1].at) in here:
        return None
    # both went on: two clocks may differ, so their times only decide where nothing better does
    if (mine[-1].what, mine[-1].at) not in there and mine[-1].at > theirs[-1].at:
        return None
    return theirs[-1].what


def heads(acts: Iterable[Act]) -> dict[Cell, Act]:
    """The action in force that gave each cell its value."""
    return {cell: act for act in acts if act.undone == 0 for cell in act.cells}


@dataclass(frozen=True)
class Parted:
    """A cell that both decided without knowing of the other's decision."""

    cell: Cell
    mine: Act
    theirs: Act


def parted(mine: Sequence[Act], theirs: Sequence[Act], clashing: Collection[Pair]) -> list[Parted]:
    """Where neither side had seen the other's decision in force, by cell."""
    here, there = {act.key for act in mine}, {act.key for act in theirs}
    ours, others = heads(mine), heads(theirs)
    found = []
    for cell in sorted(ours.keys() & others.keys()):
        one, other = ours[cell], others[cell]
        pair = frozenset((one.key, other.key))
        if one.key == other.key or other.key in here or (one.key in there and pair not in clashing):
            continue
        found.append(Parted(cell, one, other))
    return found
