"""Find the vocabulary's terms and cues in a note: a spaCy document with matchers built from vocab/.

`Tagger` is made once per vocabulary (compiling costs most of the time) and used on any note.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from reviewer.language.situation import Figures
from reviewer.language.tokens import TokenText, base_form
from reviewer.language.vocabulary import (
    JERSEY,
    NAME,
    NUMBER,
    SENTENCE_END,
    Term,
    Vocabulary,
    compile_form,
)

if TYPE_CHECKING:
    from spacy.tokens import Doc


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


_PLAIN_USES = frozenset({"alignment", "degrees", "other", "count", "clock", "maybe jersey"})
_KEEP_WORDS = frozenset({"alignment", "degrees", "other", "count", "maybe jersey"})


class Tagger:
    """Finds terms. Thread-safe after construction; holds one Matcher over all forms."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        import spacy
        from spacy.matcher import Matcher

        self.vocabulary = vocabulary
        self._vocab = spacy.blank("en").vocab
        self._matcher = Matcher(self._vocab)
        self._terms: dict[str, Term] = {}
        for term in vocabulary.terms:
            patterns = [list(p) for form in term.forms for p in compile_form(form)]
            if patterns:
                key = f"{term.group}|{term.id}"
                self._terms[key] = term
                self._matcher.add(key, patterns)

    def document(self, text: TokenText, figures: Figures, names: Sequence[NameSpan]) -> tuple[Doc, Any]:
        """The note as a spaCy Doc: numbers of jerseys and names are one token each."""
        from spacy.tokens import Doc

        units = _units(text, figures, names)
        doc = Doc(self._vocab, words=units.surfaces)
        for token, norm in zip(doc, units.norms, strict=True):
            token.norm_ = norm
        return doc, units

    def find(self, text: TokenText, figures: Figures, names: Sequence[NameSpan] = ()) -> list[TermSpan]:
        """All terms of a note in order; of overlapping ones of a group the longest."""
        if not text.tokens:
            return []
        doc, units = self.document(text, figures, names)
        found: list[TermSpan] = []
        for key, start, end in self._matcher(doc):
            term = self._terms[self._vocab.strings[key]]
            if _barred(units, start, end, term):
                continue
            first, last = units.firsts[start], units.lasts[end - 1]
            found.append(TermSpan(term, first, last, text.tokens[first].sentence))
        return keep_longest(found)


def keep_longest(spans: Sequence[TermSpan]) -> list[TermSpan]:
    """Of spans of one group that overlap, keep the longest (the earliest of equals)."""
    kept: list[TermSpan] = []
    by_group: Mapping[str, set[int]] = defaultdict(set)
    for span in sorted(set(spans), key=lambda s: (s.first - s.last, s.first, s.id)):
        taken = by_group[span.group]
        covered = range(span.first, span.last)
        if taken.isdisjoint(covered):
            taken.update(covered)
            kept.append(span)
    return sorted(kept, key=lambda s: (s.first, s.last))


def _barred(units: _Units, start: int, end: int, term: Term) -> bool:
    for phrase in term.not_after:
        words = _phrase(phrase)
        if start >= len(words) and tuple(units.norms[start - len(words) : start]) == words:
            return True
    for phrase in term.not_before:
        words = _phrase(phrase)
        if tuple(units.norms[end : end + len(words)]) == words:
            return True
    return False


@lru_cache(maxsize=4096)
def _phrase(phrase: str) -> tuple[str, ...]:
    return tuple(base_form(w) for w in phrase.replace("-", " ").lower().split())


def _units(text: TokenText, figures: Figures, names: Sequence[NameSpan]) -> _Units:
    merged: dict[int, tuple[int, str]] = {}
    for use in figures.numbers:
        number = use.number
        if use.use == "jersey":
            merged[number.first] = (number.last, JERSEY)
        elif use.use not in _KEEP_WORDS:
            merged[number.first] = (number.last, NUMBER)
    for name in names:
        merged[name.first] = (name.last, NAME)
    units = _Units()
    sentence = 0
    at = 0
    digits = {str(n): w for n, w in enumerate("zero one two three four five six seven eight nine".split())}
    while at < len(text.tokens):
        token = text.tokens[at]
        if token.sentence != sentence:
            units.add(SENTENCE_END, SENTENCE_END, at, at)
            sentence = token.sentence
        if at in merged:
            last, norm = merged[at]
            units.add(token.text, norm, at, last)
            at = last
        elif token.text in digits:
            units.add(digits[token.text], digits[token.text], at, at + 1)
            at += 1
        elif token.text == "45":
            units.add("forty", base_form("forty"), at, at + 1)
            units.add("five", "five", at, at + 1)
            at += 1
        else:
            units.add(token.text, token.norm, at, at + 1)
            at += 1
    return units
