"""How likely words are in film talk: counts of words, pairs and threes, learned from annotated notes.

The counts ship as data (`weights/talk.json`, and `ordinary.txt` for words that were never met in film
talk) and are made by `python -m tests.fit_mend`. Probabilities are interpolated from three words down to
one in the manner of Witten and Bell (IEEE Trans. Inf. Theory 37, 1991, method C, from memory): a context
that was followed by many different words trusts itself less.
"""

from __future__ import annotations

import json
import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from reviewer.language.numbers import TEENS, TENS, UNITS
from reviewer.language.sounds import NUMBER, is_known

STOP = "¶"
"""Stands for the end of a sentence."""

NAME = "§name"
"""Stands for a name of the roster."""

_RARE = 13.5  # nats; a word of the dictionary that is not common, and one that is none at all
_UNHEARD_OF = 15.0

LEAST_THREES = 2

_NUMBER_WORDS = frozenset({*UNITS, *TEENS, *TENS, "hundred"})

Line = Sequence[str]


def kind(word: str) -> str:
    """The word as it is counted: numbers are all one."""
    figure = word[:1].isdigit() and not word.endswith(("st", "nd", "rd", "th"))
    return NUMBER if figure or word in _NUMBER_WORDS else word


def as_counted(words: Iterable[str]) -> list[str]:
    """Words as they are counted, a number of several words being one."""
    line: list[str] = []
    for word in map(kind, words):
        if word != NUMBER or line[-1:] != [NUMBER]:
            line.append(word)
    return line


@dataclass(frozen=True)
class Talk:
    """Counts of film talk. ones: of words; twos, threes: of what followed one word, and two."""

    ones: Mapping[str, float]
    twos: Mapping[str, Mapping[str, float]]
    threes: Mapping[str, Mapping[str, float]]
    total: float = 0.0
    sums: Mapping[str, float] = field(default_factory=dict)

    @classmethod
    def count(cls, lines: Iterable[Line]) -> Talk:
        """Count talk; a line is what is said in one go, as `as_counted` gives it, stops included."""
        ones: Counter[str] = Counter()
        twos: dict[str, Counter[str]] = defaultdict(Counter)
        threes: dict[str, Counter[str]] = defaultdict(Counter)
        for line in lines:
            for k, word in enumerate(line):
                ones[word] += 1
                if k >= 1:
                    twos[line[k - 1]][word] += 1
                if k >= 2:
                    threes[f"{line[k - 2]} {line[k - 1]}"][word] += 1
        often = {
            before: {word: n for word, n in after.items() if n >= LEAST_THREES}
            for before, after in threes.items()
        }
        return cls.of(ones, twos, {before: after for before, after in often.items() if after})

    @classmethod
    def of(cls, ones: Mapping[str, float], twos: Any, threes: Any) -> Talk:
        """Talk from its counts."""
        sums = {before: sum(after.values()) for table in (twos, threes) for before, after in table.items()}
        return cls(ones, twos, threes, sum(ones.values()), sums)

    def likely(self, word: str, before: str = "", earlier: str = "") -> float:
        """Natural logarithm of the probability of a word after one or two others."""
        return _likely(self, word, before, earlier)

    def line(self, words: Line, first: int = 0, last: int | None = None) -> float:
        """The sum of `likely` over words first..last (exclusive) of a line."""
        end = len(words) if last is None else last
        return sum(
            self.likely(words[k], words[k - 1] if k else STOP, words[k - 2] if k > 1 else "")
            for k in range(first, end)
        )

    def dump(self) -> str:
        """As JSON, in a stable order."""
        counts = {
            "one": dict(sorted(self.ones.items())),
            "two": {before: dict(sorted(after.items())) for before, after in sorted(self.twos.items())},
            "three": {before: dict(sorted(after.items())) for before, after in sorted(self.threes.items())},
        }
        return json.dumps(counts, ensure_ascii=False, separators=(",", ":"))


def _likely(talk: Talk, word: str, before: str, earlier: str) -> float:
    kinds = len(talk.ones)
    chance = (talk.ones.get(word, 0.0) + kinds * math.exp(ordinarily(word))) / (talk.total + kinds)
    for context in (before, f"{earlier} {before}" if earlier else ""):
        after = talk.twos.get(context) if " " not in context else talk.threes.get(context)
        if after:
            seen = len(after)
            chance = (after.get(word, 0.0) + seen * chance) / (talk.sums[context] + seen)
    return math.log(chance)


def ordinarily(word: str) -> float:
    """Natural logarithm of the probability of a word in ordinary English.

    By its place among the common words: Zipf's law with the shift of Mandelbrot.
    """
    place = _ordinary().get(word)
    if place is not None:
        return math.log(0.11) - 1.05 * math.log(place + 2.7)
    return -_RARE if is_known(word) else -_UNHEARD_OF


@lru_cache(maxsize=1)
def _ordinary() -> Mapping[str, int]:
    words = (Path(__file__).parent / "weights" / "ordinary.txt").read_text("utf-8").split()
    return {word: place for place, word in enumerate(words)}


@lru_cache(maxsize=1)
def film_talk() -> Talk:
    """The talk that ships."""
    data = json.loads((Path(__file__).parent / "weights" / "talk.json").read_text("utf-8"))
    return Talk.of(data["one"], data["two"], data["three"])
