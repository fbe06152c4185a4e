"""Find the vocabulary's terms and cues in a note."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from reviewer.language.patterns import JERSEY, NAME, NUMBER, FormIndex, Line
from reviewer.language.situation import Figures
from reviewer.language.tokens import Sentence, TokenText, base_form
from reviewer.language.vocabulary import Term, Vocabulary, word_classes


@dataclass(frozen=True, slots=True)
class TermSpan:
    """Tokens first..last (exclusive) that say a term. `sentence` is the one they stand in."""

    term: Term
    first: int
    last: int
    sentence: int

    @property
    def id(self) -> str:
        """The term's canonical name."""
        return self.term.id

    @property
    def group(self) -> str:
        """The term's group."""
        return self.term.group


@dataclass(frozen=True, slots=True)
class NameSpan:
    """Tokens first..last (exclusive) that name the man with that jersey."""

    first: int
    last: int
    jersey: str
    own: bool


@dataclass
class _Units:
    """The document's tokens: surface, norm, and the note's tokens each one covers."""

    surfaces: list[str] = field(default_factory=list)
    norms: list[str] = field(default_factory=list)
    firsts: list[int] = field(default_factory=list)
    lasts: list[int] = field(default_factory=list)

    def add(self, surface: str, norm: str, first: int, last: int) -> None:
        self.surfaces.append(surface)
        self.norms.append(norm)
        self.firsts.append(first)
        self.lasts.append(last)


_KEEP_WORDS = frozenset({"alignment", "degrees", "other", "count", "maybe jersey"})


class Tagger:
    """Finds terms. Make it once per vocabulary: parsing the forms is the slow part."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self.vocabulary = vocabulary
        self._index: FormIndex[Term] = FormIndex(word_classes())
        for term in vocabulary.terms:
            for form in term.forms:
                self._index.add(term, form)

    def find(self, text: TokenText, figures: Figures, names: Sequence[NameSpan] = ()) -> list[TermSpan]:
        """All terms of a note in order; of overlapping ones of a group the longest."""
        found: list[TermSpan] = []
        merged = _merged(figures, names)
        for sentence in text.sentences:
            units = _units(text, sentence, merged)
            breaks = [k for k, first in enumerate(units.firsts) if text.tokens[first].comma]
            line = Line.of(units.norms, units.surfaces, breaks)
            for term, start, end in self._index.find(line):
                if not _barred(units, start, end, term, breaks):
                    found.append(TermSpan(term, units.firsts[start], units.lasts[end - 1], sentence.index))
        return keep_longest(found)


def keep_longest(spans: Sequence[TermSpan]) -> list[TermSpan]:
    """Drop what lies inside a longer span of its group, and of equal or same-named ones the later."""
    kept: list[TermSpan] = []
    # by token, or a long note would be held against itself
    over: dict[tuple[str, int], list[TermSpan]] = defaultdict(list)
    for span in sorted(set(spans), key=lambda s: (s.first - s.last, s.first, s.id)):
        places = [(span.group, token) for token in range(span.first, span.last)]
        rivals = {rival for place in places for rival in over[place]}
        if any(r.id == span.id or (r.first <= span.first and span.last <= r.last) for r in rivals):
            continue
        for place in places:
            over[place].append(span)
        kept.append(span)
    return sorted(kept, key=lambda s: (s.first, s.last))


def _barred(units: _Units, start: int, end: int, term: Term, breaks: Collection[int]) -> bool:
    """Whether a word beside the match, with no comma between, makes it mean something else."""
    for phrase in term.not_after:
        words = _phrase(phrase)
        if (
            start not in breaks
            and start >= len(words)
            and tuple(units.norms[start - len(words) : start]) == words
        ):
            return True
    for phrase in term.not_before:
        words = _phrase(phrase)
        if end not in breaks and tuple(units.norms[end : end + len(words)]) == words:
            return True
    return False


@lru_cache(maxsize=4096)
def _phrase(phrase: str) -> tuple[str, ...]:
    return tuple(base_form(w) for w in phrase.replace("-", " ").lower().split())


def _merged(figures: Figures, names: Sequence[NameSpan]) -> dict[int, tuple[int, str]]:
    """First token of each jersey, number and name that is matched as one, with its end and norm."""
    merged: dict[int, tuple[int, str]] = {}
    for use in figures.numbers:
        number = use.number
        if use.use == "jersey":
            merged[number.first] = (number.last, JERSEY)
        elif use.use not in _KEEP_WORDS:
            merged[number.first] = (number.last, NUMBER)
    for name in names:
        merged[name.first] = (name.last, NAME)
    return merged


_DIGITS = {
    str(n): w
    for n, w in enumerate(["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"])
}


def _units(text: TokenText, sentence: Sentence, merged: Mapping[int, tuple[int, str]]) -> _Units:
    """A sentence's tokens as they are matched: jerseys and names are one each, digits are words."""
    units = _Units()
    at = sentence.first
    while at < sentence.last:
        token = text.tokens[at]
        if at in merged:
            last, norm = merged[at]
            units.add(token.text, norm, at, last)
            at = last
            continue
        if token.text == "45":
            units.add("forty", base_form("forty"), at, at + 1)
            units.add("five", "five", at, at + 1)
        else:
            word = _DIGITS.get(token.text)
            units.add(word or token.text, word or token.norm, at, at + 1)
        at += 1
    return units
