"""Import a game's play list from CSV or XLSX: play, quarter, clock, down, distance, yard line, type,
concept, gain, result, film time, as far as it has them."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reviewer.errors import InputError
from reviewer.intake.clocks import packed, read_clock, with_quarter
from reviewer.intake.play_order import follows, in_order, once
from reviewer.intake.tables import Line, Problem, meaning, plain, read_sheet, wordings
from reviewer.intake.values import read_int, read_seconds
from reviewer.store.plays import Play

if TYPE_CHECKING:
    from reviewer.store.library import Library

Concept = Callable[[str], str | None]
"""From a play's name as a list writes it to the trade's own term, None when it is none."""

FRAMES_A_SECOND = 30
"""A film time with frames is read at this rate; a list is never that exact."""


@dataclass(frozen=True)
class PlaysRead:
    """A play list as read, in the order the plays were run."""

    plays: tuple[Play, ...]
    problems: tuple[Problem, ...]


@dataclass(frozen=True)
class PlaysImported:
    """What an import did."""

    game: int
    plays: int
    problems: tuple[Problem, ...]


def read_plays(path: Path, concept_of: Concept = lambda _: None) -> PlaysRead:
    """Read a play list; plays out of order are put in order by film time, or by quarter and clock.

    Raises InputError when the file cannot be read or has neither down nor film time.
    """
    sheet = read_sheet(path, "plays", (("down",), ("situation",), ("film",)))
    problems = [
        Problem(0, heading, "this heading was not understood; the column is left out")
        for heading in sheet.unknown
    ]
    signed = any(line.cells.get("yard_line", "").startswith("-") for line in sheet.lines)
    bare = packed(line.cells.get("clock", "") for line in sheet.lines)
    way = Way(signed, bare, concept_of)
    plays = [play for line in sheet.lines if (play := _play(line, way, problems)) is not None]
    ordered = in_order(once(plays, problems), problems)
    if not follows(ordered):
        problems.append(
            Problem(
                0,
                "",
                "the downs do not follow from line to line, so it is in no order of play and its order is "
                "not used; film times, the clock or play numbers would put it in order",
            )
        )
    return PlaysRead(tuple(ordered), tuple(problems))


def import_plays(
    library: Library, path: Path, game: int, concept_of: Concept = lambda _: None
) -> PlaysImported:
    """Read a play list and make it the one of a game (id), all or nothing.

    Raises InputError when nothing in it can be used.
    """
    from reviewer.store.plays import save_plays

    read = read_plays(path, concept_of)
    if not read.plays:
        first = f" ({read.problems[0]})" if read.problems else ""
        raise InputError(f"No line of {path} is a play{first}; nothing was saved.")
    return PlaysImported(game, save_plays(library, game, read.plays), read.problems)


Odd = Callable[[str, str], None]
"""Called with a text and what it should have been."""


@dataclass(frozen=True)
class Way:
    """How a list writes things. signed: yard lines say which half; packed: clocks have no colon."""

    signed: bool
    packed: bool
    concept_of: Concept


def _play(line: Line, way: Way, problems: list[Problem]) -> Play | None:
    """The play of a line, None when the line is none; what was not understood joins the problems."""
    oddities: list[Problem] = []

    def odd(text: str, what: str) -> None:
        oddities.append(Problem(line.number, line.text, f"{text!r} is no {what}; that value is left out"))

    play = _values(line, way, odd)
    if play.down is None and play.film_s is None and play.result is None and play.phase is None:
        says = "has no down, film time or result; the line is left out"
        problems.append(Problem(line.number, line.text, says))
        return None
    problems += oddities
    return play


def _values(line: Line, way: Way, odd: Odd) -> Play:
    cells = line.cells
    quarter, clock = _when(cells)
    down, distance, goal = _situation(cells, odd)
    gain = _number(cells.get("gain", ""), "gain", odd)
    said = cells.get("result", "")
    phase: Any = _phase(cells.get("phase", ""), said, odd)
    return Play(
        place=0,
        number=cells.get("number", ""),
        quarter=_quarter(quarter, odd),
        clock_s=_clock(clock, way, odd),
        down=down,
        distance=distance,
        goal_to_go=goal,
        yard_line=_yard_line(cells.get("yard_line", ""), way.signed, odd),
        phase=phase,
        concept=_concept(cells.get("concept", ""), phase, way.concept_of, odd),
        gain=gain,
        result=_result(said, gain, phase),
        film_s=_film(cells.get("film", ""), odd),
        line=line.number,
    )


def _concept(text: str, phase: str | None, concept_of: Concept, odd: Odd) -> str | None:
    known = concept_of(text) if text else None
    if text and known is None and phase != "other":
        odd(text, "play that the vocabulary knows")
    return known


def _phase(text: str, result: str, odd: Odd) -> str | None:
    found = meaning("phases", text) if text else None
    if text and found is None:
        odd(text, "run or pass")
    return found or _phase_of(result)


def _situation(cells: Any, odd: Odd) -> tuple[int | None, int | None, bool]:
    """Down, distance and "and goal", from two columns or from one ("2nd & 7", "1-10")."""
    down_text, distance_text = cells.get("down", ""), cells.get("distance", "")
    if (both := cells.get("situation", "")) and not down_text:
        parts = re.split(r"\s*(?:&|/|-|\band\b)\s*", both, maxsplit=1)
        down_text, distance_text = parts[0], parts[1] if len(parts) > 1 else ""
    down = read_int(down_text)
    if down_text not in ("", "0") and (down is None or not 0 <= down <= 4):
        odd(down_text, "down")
    down = down if down in (1, 2, 3, 4) else None
    if plain(distance_text) in ("goal", "g", "gl"):
        return down, None, True
    if plain(distance_text) in ("inches", "in", "inch"):
        return down, 1, False
    distance = read_int(distance_text)
    if distance_text and (distance is None or not 0 <= distance <= 99):
        odd(distance_text, "distance")
        distance = None
    # A play without a down (a kick) has no distance either, whatever stands there.
    return down, distance if down else None, False


def _number(text: str, what: str, odd: Odd) -> int | None:
    value = read_int(text)
    if text and value is None:
        odd(text, what)
    return value


def _quarter(text: str, odd: Odd) -> int | None:
    if not text:
        return None
    if plain(text) in ("ot", "overtime"):
        return 5
    value = read_int(plain(text).removeprefix("quarter").removeprefix("q").strip())
    if value is None or not 1 <= value <= 9:
        odd(text, "quarter")
        return None
    return value


def _when(cells: Mapping[str, str]) -> tuple[str, str]:
    """Quarter and clock, also where the clock's cell has both."""
    quarter, clock = cells.get("quarter", ""), cells.get("clock", "")
    both = with_quarter(clock) if clock else None
    return (quarter or both[0], both[1]) if both else (quarter, clock)


def _clock(text: str, way: Way, odd: Odd) -> float | None:
    value = read_clock(text, way.packed)
    if text and value is None:
        odd(text, "game clock")
    return value


def _film(text: str, odd: Odd) -> float | None:
    if not text:
        return None
    frames = re.fullmatch(r"(\d{1,2}:\d{2}:\d{2})[:;](\d{2})", text.strip())
    value = read_seconds(frames[1]) if frames else read_seconds(text)
    if value is None:
        odd(text, "film time")
        return None
    return value + (int(frames[2]) / FRAMES_A_SECOND if frames else 0.0)


def _yard_line(text: str, signed: bool, odd: Odd) -> int | None:
    """Yards from the own goal line. "-25" and "own 25" are 25, "opp 40" is 60; a number without a sign
    says which half only where other lines of the list have signs."""
    if not text:
        return None
    found = re.fullmatch(r"([+-]|own|our|opp|their|o|d)?\s*(\d{1,2})", text.strip().casefold())
    if not found or not 0 <= int(found[2]) <= 50:
        odd(text, "yard line")
        return None
    side, yards = found[1] or "", int(found[2])
    if yards == 50 or side in ("-", "own", "our", "o"):
        return yards
    return 100 - yards if side or signed else None


def _phase_of(result: str) -> str | None:
    words = plain(result).split()
    if any(word in ("rush", "run", "scramble") for word in words):
        return "run"
    found = _result(result, None, None)
    return "pass" if found in ("complete", "incomplete", "sack") else None


def _result(text: str, gain: int | None, phase: str | None) -> str | None:
    """The result as a grade row names it. A bare rush is told apart by its gain; without a result, a
    run's gain says it."""
    padded = f" {plain(text)} "
    for name, forms in wordings()["results"].items():
        if any(f" {form} " in padded for form in forms):
            return _by_gain(gain) if name == "gain" and gain is not None else name
    return _by_gain(gain) if not text and phase == "run" and gain is not None else None


def _by_gain(gain: int) -> str:
    return "gain" if gain > 0 else "loss" if gain < 0 else "no gain"
