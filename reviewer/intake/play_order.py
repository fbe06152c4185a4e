"""The plays of a list put in the order they were run, each once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

from reviewer.intake.tables import Problem
from reviewer.store.plays import Play

FEWEST_STEPS = 12
LEAST_FOLLOWING, LEAST_BY_DOWNS = 0.45, 0.73
"""Shares of steps that follow in a list in game order, where it has the gains and where it has only the
downs. Measured on the sample season's lists: with plays missing, doubled, swapped and wrong at once 0.55 to
0.72 (by downs 0.70 to 0.89), in no order 0.16 to 0.37 (0.54 to 0.73)."""

MOST_UP = 0.9
"""Where so many steps inside the quarters go up, the clock counts what has passed."""


def once(plays: Sequence[Play], problems: list[Problem]) -> list[Play]:
    """The plays without lines that are there twice, word for word. Lines without number, clock and film
    time may look alike and are kept."""
    first: dict[Play, int] = {}
    for play in plays:
        bare = replace(play, place=0, line=0)
        known = first.setdefault(bare, play.line)
        if known != play.line and (play.number or play.clock_s is not None or play.film_s is not None):
            name = f"play {play.number}" if play.number else ""
            problems.append(Problem(play.line, name, f"the same play as in line {known}; left out"))
        elif known != play.line:
            first[replace(bare, line=play.line)] = play.line
    lines = set(first.values())
    return [play for play in plays if play.line in lines]


def follows(plays: Sequence[Play]) -> bool:
    """Whether the plays can stand in game order: from line to line the down goes up by one, with what is
    left to gain, or begins anew, where it could. True where too few lines have a down to tell."""
    steps = list(pairwise(play for play in plays if play.down is not None))
    fitting = sum(_may_follow(one, two) for one, two in steps)
    with_gain = sum(one.gain is not None and one.distance is not None for one, _ in steps)
    least = LEAST_FOLLOWING if 2 * with_gain > len(steps) else LEAST_BY_DOWNS
    return len(steps) < FEWEST_STEPS or fitting >= least * len(steps)


def _may_follow(one: Play, two: Play) -> bool:
    """Whether the second play may be the next; what the list does not say is no objection."""
    assert one.down is not None
    left = one.distance - one.gain if one.distance is not None and one.gain is not None else None
    if two.down == 1:
        over = one.down == 4 or one.result in ("touchdown", "turnover")
        return over or left is None or left <= 0
    if two.down != one.down + 1:
        return False
    return left is None or two.distance is None or abs(two.distance - left) <= 1


def in_order(plays: Sequence[Play], problems: list[Problem]) -> list[Play]:
    """The plays as they were run, numbered from 1; a remark when the list had them otherwise.

    By film time where every play has one, else by quarter and clock, else by play numbers, else by the
    film times or clocks that there are (a play without one stays behind the one it stood behind).
    """
    ordered, by = list(plays), ""
    for name, key in _keys(plays):
        known = [key(play) for play in plays]
        if all(value is not None for value in known):
            ordered, by = sorted(plays, key=key), name
            break
    else:
        for name, key in _keys(plays):
            if 2 * sum(key(play) is not None for play in plays) >= len(plays) > 0:
                ordered, by = _around(plays, key), name
                break
    moved = sum(one.line > two.line for one, two in pairwise(ordered))
    if moved:
        problems.append(
            Problem(0, "", f"its lines are not in the order of {by}; they were put in that order")
        )
    return [replace(play, place=place) for place, play in enumerate(ordered, 1)]


Key = Callable[[Play], Any]


def _keys(plays: Sequence[Play]) -> tuple[tuple[str, Key], ...]:
    """What plays can be ordered by, the surest first: name for people, and the key (None: not known)."""
    way = 1.0 if _counts_up(plays) else -1.0
    numbers = [play.number for play in plays]
    usable = len(set(numbers)) == len(numbers) and all(n.isascii() and n.isdigit() for n in numbers)

    def number(play: Play) -> int | None:
        return int(play.number) if usable else None

    def clock(play: Play) -> tuple[int, float, int] | None:
        if play.quarter is None or play.clock_s is None:
            return None
        return play.quarter, way * play.clock_s, number(play) or 0

    return (
        ("film time", lambda play: play.film_s),
        ("the game clock", clock),
        ("the play numbers", number),
    )


def _counts_up(plays: Sequence[Play]) -> bool:
    """Whether the clock counts the time that has passed. A list that runs backwards is none of these:
    its quarters go down."""
    steps = [
        two.clock_s - one.clock_s
        for one, two in pairwise(plays)
        if one.quarter == two.quarter and one.clock_s is not None and two.clock_s is not None
    ]
    quarters = [play.quarter for play in plays if play.quarter is not None]
    forward = all(one <= two for one, two in pairwise(quarters)) and len(set(quarters)) > 1
    return bool(steps) and forward and sum(step > 0 for step in steps) >= MOST_UP * len(steps)


def _around(plays: Sequence[Play], key: Key) -> list[Play]:
    """The plays by a key that some lack: these stay behind the one they stood behind."""
    groups: list[list[Play]] = [[]]
    for play in plays:
        if key(play) is not None:
            groups.append([])
        groups[-1].append(play)
    head, *rest = groups
    return head + [play for group in sorted(rest, key=lambda g: key(g[0])) for play in group]
