"""Play lists as they come from a press box: plays missing, doubled, out of order, without times."""

from __future__ import annotations

import csv
import random
from collections.abc import Callable
from pathlib import Path

Lines = list[dict[str, str]]


def read(path: Path) -> Lines:
    """The lines of a list, by heading."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def write(path: Path, lines: Lines) -> Path:
    """The lines as a list again."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(lines[0]))
        writer.writeheader()
        writer.writerows(lines)
    return path


def missing(lines: Lines, dice: random.Random, share: float = 0.15) -> Lines:
    """So many plays lost."""
    return [line for line in lines if dice.random() >= share]


def doubled(lines: Lines, dice: random.Random, share: float = 0.08) -> Lines:
    """So many lines twice, right after themselves or somewhere below."""
    found = list(lines)
    for line in lines:
        if dice.random() < share:
            place = found.index(line)
            found.insert(dice.choice([place + 1, dice.randint(place + 1, len(found))]), line)
    return found


def drives_moved(lines: Lines, dice: random.Random, blocks: int = 2) -> Lines:
    """Blocks of about six plays cut out and put in elsewhere."""
    found = list(lines)
    for _ in range(blocks):
        first = dice.randrange(len(found) - 6)
        block, found = found[first : first + 6], found[:first] + found[first + 6 :]
        place = dice.randrange(len(found))
        found = found[:place] + block + found[place:]
    return found


def neighbours_swapped(lines: Lines, dice: random.Random, share: float = 0.1) -> Lines:
    """So many plays changed places with the next."""
    found = list(lines)
    for place in range(len(found) - 1):
        if dice.random() < share:
            found[place], found[place + 1] = found[place + 1], found[place]
    return found


def shuffled(lines: Lines, dice: random.Random) -> Lines:
    """No order at all."""
    return dice.sample(lines, len(lines))


def without(*columns: str) -> Callable[[Lines, random.Random], Lines]:
    """The list without these columns."""

    def cut(lines: Lines, _: random.Random) -> Lines:
        return [{name: value for name, value in line.items() if name not in columns} for line in lines]

    return cut


def slips(lines: Lines, dice: random.Random, share: float = 0.08) -> Lines:
    """So many lines with a slip of the pen: another down, a distance off by one, another play."""
    plays = sorted({line["Concept"] for line in lines})
    found = []
    for line in lines:
        line = dict(line)
        if dice.random() < share:
            field = dice.choice(["Dn", "Dist", "Concept"])
            if field == "Concept":
                line[field] = dice.choice(plays)
            elif line[field].isdigit():
                line[field] = str(max(1, int(line[field]) + dice.choice([-1, 1])))
        found.append(line)
    return found


def clock(form: Callable[[int, int], str]) -> Callable[[Lines, random.Random], Lines]:
    """The clock written otherwise; form: from minutes and seconds."""

    def rewritten(lines: Lines, _: random.Random) -> Lines:
        return [{**line, "Clock": form(*map(int, line["Clock"].split(":")))} for line in lines]

    return rewritten
