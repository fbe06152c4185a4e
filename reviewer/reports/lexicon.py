"""Terms by any spoken form: "pancake" finds knockdown. Built from a vocabulary's terms, with no
knowledge of how they are read in talk."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Protocol

FILTERS: Mapping[str, str] = {
    "concepts": "concept", "techniques": "technique", "faults": "fault", "moves": "move",
    "games": "line_game", "events": "event", "set": "set", "alignment": "alignment",
    "safety": "safety", "labels": "label",
}  # fmt: skip
"""Field of a grade row -> name of the search filter for it."""

MOST_PHRASES = 40
"""Spoken phrases kept of one form; a form of many alternatives is cut there."""

LONGEST_PHRASE = 5

CLOSE = 82
"""From this likeness (0..100) a word with a typing error is taken for the known one."""


class TermLike(Protocol):
    """What a term must have: canonical name, field of the grade row, spoken forms."""

    @property
    def id(self) -> str: ...
    @property
    def group(self) -> str: ...
    @property
    def forms(self) -> tuple[str, ...]: ...


@dataclass(frozen=True)
class Lexicon:
    """Stemmed phrase -> the (filter, canonical name) it may mean; and every plain word known."""

    phrases: Mapping[tuple[str, ...], tuple[tuple[str, str], ...]]
    words: frozenset[str]

    def terms(self, phrase: Sequence[str]) -> tuple[tuple[str, str], ...]:
        """The terms that a spoken phrase may mean; () for none."""
        return self.phrases.get(tuple(stem(word) for word in phrase), ())

    def concept(self, text: str) -> str | None:
        """The play that a text names, e.g. "Stretch" outside zone; None when it names none."""
        wanted = plain_words(text)
        for size in range(min(LONGEST_PHRASE, len(wanted)), 0, -1):
            for first in range(len(wanted) - size + 1):
                for field, name in self.terms(wanted[first : first + size]):
                    if field == "concept":
                        return name
        return None

    def nearest(self, word: str) -> str | None:
        """The known word that a mistyped one is closest to; None when none is close."""
        from rapidfuzz import fuzz, process
        from rapidfuzz.distance import OSA

        if len(word) < 3 or word in self.words:
            return None
        found = process.extract(word, self.words, scorer=fuzz.ratio, score_cutoff=CLOSE, limit=8)
        # two letters that changed places are one slip
        ordered = sorted((OSA.distance(word, near), -likeness, near) for near, likeness, _ in found)
        return ordered[0][2] if ordered else None


def build_lexicon(terms: Iterable[TermLike]) -> Lexicon:
    """The lexicon of these terms; groups that are no field of the grade row are left out."""
    phrases: dict[tuple[str, ...], list[tuple[str, str]]] = {}
    words: set[str] = set()
    for term in terms:
        if term.group not in FILTERS:
            continue
        meaning = (FILTERS[term.group], term.id)
        for phrase in {tuple(plain_words(term.id)), *(p for form in term.forms for p in spoken(form))}:
            if not phrase or len(phrase) > LONGEST_PHRASE:
                continue
            words.update(word for word in phrase if len(word) > 3)
            known = phrases.setdefault(tuple(map(stem, phrase)), [])
            if meaning not in known:
                known.append(meaning)
    return Lexicon({key: tuple(found) for key, found in phrases.items()}, frozenset(words))


def spoken(form: str) -> list[tuple[str, ...]]:
    """The plain phrases that a vocabulary form stands for (see vocab/README.md). A possessive or a form
    of "be" is left out, as somebody who searches leaves it out; a form with a gap in it has none."""
    choices: list[list[tuple[str, ...]]] = []
    for item in form.split():
        if item in ("_", "*") or (item.startswith("<") and item.rstrip("?") not in ("<poss>", "<be>")):
            return []
        if item.startswith("<"):
            continue
        options: list[tuple[str, ...]] = [(word,) for word in item.rstrip("?").lstrip("=").split("|") if word]
        choices.append([*options, ()] if item.endswith("?") else options)
    combined = itertools.islice(itertools.product(*choices), MOST_PHRASES)
    return [tuple(itertools.chain.from_iterable(words)) for words in combined if any(words)]


def plain_words(text: str) -> list[str]:
    """A text's words in lower case, hyphens as spaces."""
    return re.findall(r"[^\W_]+(?:'[^\W_]+)?", text.casefold())


@lru_cache(maxsize=4096)
def stem(word: str) -> str:
    """A word's stem, so that "pancakes" is "pancake"."""
    return str(_stemmer().stemWord(word))


@lru_cache(maxsize=1)
def _stemmer() -> Any:
    import snowballstemmer

    return snowballstemmer.stemmer("english")
