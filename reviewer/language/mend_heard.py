"""The heard words laid out for mending: their pieces, their sounds and the talk around them."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from reviewer.language.mend_talk import NAME, STOP, as_counted, kind
from reviewer.language.numbers import ORDINALS, TEENS, TENS, UNITS
from reviewer.language.sounds import NUMBER
from reviewer.language.tokens import tokenize
from reviewer.records import Word

Names = Collection[tuple[str, ...]]

_BEFORE, _AFTER = 2, 2
"""Words of context that the talk is asked about."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Words first..last (exclusive) of a note.

    pieces: the plain words that they are. counted: the same as they are counted in talk; before, after:
    the words around them likewise. probability: of the word that the model was least sure of.
    capital: a capital stands where no sentence begins. named: the whole of it is a name of the roster,
    written as one. comma: a comma parts the words.
    """

    first: int
    last: int
    pieces: tuple[str, ...]
    counted: tuple[str, ...]
    before: tuple[str, ...]
    after: tuple[str, ...]
    probability: float
    capital: bool
    named: bool
    comma: bool


@dataclass(frozen=True)
class HeardNote:
    """A note's words for mending.

    pieces: of each word its plain words. stops: words after which a sentence ends. commas: words that
    a comma stands before. locked: words that stay as they are. named: words that are a name.
    line: the whole note as it is counted in talk; at: where each word begins in it.
    """

    words: Sequence[Word]
    pieces: Sequence[tuple[str, ...]]
    stops: frozenset[int]
    commas: frozenset[int]
    locked: frozenset[int]
    named: frozenset[int]
    line: Sequence[str]
    at: Sequence[int]

    @classmethod
    def of(cls, words: Sequence[Word], locked: Collection[int], names: Names) -> HeardNote:
        """Lay out words. names: the pieces of names that may stand in the talk."""
        text = tokenize(words)
        pieces: list[list[str]] = [[] for _ in words]
        for token in text.tokens:
            pieces[token.word].append(token.text)
        said = [tuple(p) for p in pieces]
        stops = frozenset(text.tokens[sentence.last - 1].word for sentence in text.sentences)
        commas = frozenset(token.word for token in text.tokens if token.comma)
        kept = {k for k, word in enumerate(words) if word.heard is not None or " " in word.text.strip()}
        named = _named(words, said, names)
        line, at = _line(said, stops, named)
        return cls(words, said, stops, commas, frozenset({*kept, *locked}), named, line, at)

    def stretches(self, longest: int) -> Iterator[Stretch]:
        """Every stretch of words inside a sentence that may be read otherwise."""
        for first in range(len(self.words)):
            if not self.pieces[first]:
                continue
            for last in range(first + 1, min(first + longest, len(self.words)) + 1):
                if last - 1 in self.locked:
                    break
                if self.pieces[last - 1]:
                    yield self.stretch(first, last)
                if last - 1 in self.stops:
                    break

    def stretch(self, first: int, last: int) -> Stretch:
        """The words first..last (exclusive) with what stands around them."""
        start, end = self.at[first], self.at[last] - (last - 1 in self.stops)
        return Stretch(
            first,
            last,
            tuple(piece for k in range(first, last) for piece in self.pieces[k]),
            tuple(self.line[start:end]),
            tuple(self.line[max(0, start - _BEFORE) : start]),
            tuple(self.line[end : end + _AFTER]),
            min(self.words[k].probability for k in range(first, last)),
            self._capital(first),
            self.named.issuperset(range(first, last)),
            any(k in self.commas for k in range(first + 1, last)),
        )

    def _capital(self, first: int) -> bool:
        begins = first == 0 or first - 1 in self.stops
        return not begins and _has_capital(self.words[first])


def _has_capital(word: Word) -> bool:
    return word.text.lstrip("\n\"'(“‘")[:1].isupper()


def _line(
    pieces: Sequence[tuple[str, ...]], stops: Collection[int], named: Collection[int]
) -> tuple[list[str], list[int]]:
    """The note as it is counted, and where each word begins in it, the end included."""
    line, at = [STOP], []
    for k, said in enumerate(pieces):
        at.append(len(line))
        for word in (NAME,) * bool(said) if k in named else map(kind, said):
            if word not in {NAME, NUMBER} or line[-1] != word:
                line.append(word)
        if k in stops:
            line.append(STOP)
    return line, [*at, len(line)]


def _named(words: Sequence[Word], pieces: Sequence[tuple[str, ...]], names: Names) -> frozenset[int]:
    """The words that are a name, written as one."""
    longest = max(map(len, names), default=0)
    found: set[int] = set()
    for first in range(len(words)):
        if not _has_capital(words[first]):
            continue
        for last in range(min(first + longest, len(words)), first, -1):
            said = [piece for k in range(first, last) for piece in pieces[k]]
            if said[-1:] == ["'s"]:
                said.pop()
            if tuple(said) in names:
                found.update(range(first, last))
                break
    return frozenset(found)


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
