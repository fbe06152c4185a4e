"""Plain words of a stretch with their numbers spoken, or left open."""

from __future__ import annotations

from collections.abc import Sequence

from reviewer.language.mend_talk import as_counted
from reviewer.language.numbers import ORDINALS, TEENS, TENS, UNITS
from reviewer.language.sounds import NUMBER

_DIGITS = {n: word for word, n in UNITS.items()} | {n: word for word, n in TEENS.items()}
_TENS = {n: word for word, n in TENS.items() if word not in {"fourty"} and not word.endswith("ies")}
_ORDINALS = {n: word for word, n in ORDINALS.items()}


def as_spoken(pieces: Sequence[str]) -> tuple[str, ...]:
    """Pieces with their figures in words: "95" is "ninety", "five"; "8th" is "eighth"."""
    said: list[str] = []
    for piece in pieces:
        said += _figure(piece) if piece[:1].isdigit() else [piece]
    return tuple(said)


def _figure(piece: str) -> list[str]:
    digits = "".join(char for char in piece if char.isdigit())
    if digits != piece and int(digits) in _ORDINALS:
        return [_ORDINALS[int(digits)]]
    value = int(digits)
    if len(digits) > 2 or digits.startswith("0"):
        return [_DIGITS[int(digit)] for digit in digits]
    if value in _DIGITS:
        return [_DIGITS[value]]
    return [_TENS[value - value % 10], *([_DIGITS[value % 10]] if value % 10 else [])]


def as_slots(pieces: Sequence[str]) -> tuple[str, ...]:
    """Pieces with each number as `NUMBER`."""
    return tuple(as_counted(pieces))


def numbers_in(pieces: Sequence[str]) -> list[str]:
    """The numbers of some pieces as written, one text for each `NUMBER` of `as_slots`."""
    found: list[str] = []
    running = False
    for piece in pieces:
        is_number = as_counted([piece]) == [NUMBER]
        if is_number:
            found = [*found[:-1], f"{found[-1]} {piece}"] if running else [*found, piece]
        running = is_number
    return found
