"""Spoken forms as patterns over one sentence (see `vocab/README.md`), and a matcher for thousands.

`parse_form` reads a form; `FormIndex.find` gives every place where one matches. A form is tried only
in a sentence that holds all its required words, so cost grows with what is said, not with what is known.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Generic, TypeVar

from reviewer.language.tokens import base_form

SENTENCE_END = "¶"
JERSEY = "§jersey"
NAME = "§name"
NUMBER = "§number"
GAP_WORDS = 3

Classes = dict[str, tuple[str, ...]]
Key = TypeVar("Key")


@dataclass(frozen=True, slots=True)
class Item:
    """One item of a form: base forms or surfaces it takes, whether it may be missing, whether it is
    any word, a gap of up to `GAP_WORDS`, or a mention of a man (one token, or determiner and role)."""

    norms: frozenset[str] = frozenset()
    surfaces: frozenset[str] = frozenset()
    optional: bool = False
    anything: bool = False
    gap: bool = False
    man: bool = False

    def takes(self, norm: str, surface: str) -> bool:
        """Whether the item takes this one token."""
        if self.anything:
            return norm != SENTENCE_END
        return norm in self.norms or surface in self.surfaces


@dataclass(frozen=True, slots=True)
class Form:
    """A parsed form: its items, and the item that is looked up first."""

    items: tuple[Item, ...]
    needed: tuple[Item, ...]


@lru_cache(maxsize=4)
def _norm_classes(key: tuple[tuple[str, tuple[str, ...]], ...]) -> dict[str, frozenset[str]]:
    return {name: frozenset(base_form(w) for w in words) for name, words in key}


def parse_form(form: str, classes: Classes) -> Form:
    """Parse a form. Raises ValueError for an empty form, an unknown class or a form of gaps only."""
    items = tuple(_item(text, classes) for text in form.replace("-", " ").split())
    if not items:
        raise ValueError("it is empty")
    needed = tuple(i for i in items if not (i.optional or i.gap or i.anything or i.man))
    if not needed:
        raise ValueError("it would match nothing in particular")
    return Form(items, needed)


def _item(text: str, classes: Classes) -> Item:
    optional = text.endswith("?") and len(text) > 1
    if optional:
        text = text[:-1]
    if text == "*":
        return Item(gap=True, optional=True)
    if text == "_":
        return Item(anything=True, optional=optional)
    norms: set[str] = set()
    surfaces: set[str] = set()
    man = False
    for part in text.split("|"):
        if part.startswith("<") and part.endswith(">"):
            name = part[1:-1]
            if name == "man":
                man = True
                norms |= {base_form(w) for w in classes["pronoun"]} | {JERSEY, NAME}
            elif name == "num":
                norms |= {NUMBER, JERSEY}
            elif name in classes:
                norms |= {base_form(w) for w in classes[name]}
                optional = optional or name == "poss"
            else:
                raise ValueError(f"the word class <{name}> is unknown")
        elif part.startswith("="):
            surfaces.add(part[1:])
        elif part:
            norms.add(part if part[0] in "§¶" else base_form(part.lower()))
    return Item(frozenset(norms), frozenset(surfaces), optional, man=man)


@dataclass(frozen=True, slots=True)
class Line:
    """One sentence to match: base forms and surfaces, with a sentence end before and after."""

    norms: tuple[str, ...]
    surfaces: tuple[str, ...]
    present: frozenset[str]
    breaks: frozenset[int] = frozenset()

    @classmethod
    def of(cls, norms: Sequence[str], surfaces: Sequence[str], breaks: Iterable[int] = ()) -> Line:
        """A line of these tokens; the ends are added here. breaks: tokens that a comma stands before;
        a form's sentence edge may fall there too, for a speech model often writes a comma for a stop."""
        all_norms = (SENTENCE_END, *norms, SENTENCE_END)
        all_surfaces = (SENTENCE_END, *surfaces, SENTENCE_END)
        present = frozenset(all_norms) | frozenset(all_surfaces)
        return cls(all_norms, all_surfaces, present, frozenset(b + 1 for b in breaks))


class FormIndex(Generic[Key]):
    """All forms, found by a word that each must hold."""

    def __init__(self, classes: Classes) -> None:
        self._classes = classes
        self._roles = frozenset(base_form(w) for w in classes["role"])
        self._determiners = frozenset(base_form(w) for w in classes["determiner"])
        self._by_word: dict[str, list[tuple[Key, Form]]] = defaultdict(list)

    def add(self, key: Key, form: str) -> None:
        """Add a form. Raises ValueError as `parse_form` does."""
        parsed = parse_form(form, self._classes)
        anchor = min(
            parsed.needed,
            key=lambda i: (len(i.norms) + len(i.surfaces), -max(map(len, i.norms | i.surfaces), default=0)),
        )
        for word in anchor.norms | anchor.surfaces:
            self._by_word[word].append((key, parsed))

    def find(self, line: Line) -> Iterator[tuple[Key, int, int]]:
        """(key, first, last) of each match, in token positions of the line without its ends."""
        tried: set[int] = set()
        for word in line.present:
            for key, form in self._by_word.get(word, ()):
                if id(form) in tried:
                    continue
                tried.add(id(form))
                if any(
                    i.norms.isdisjoint(line.present) and i.surfaces.isdisjoint(line.present)
                    for i in form.needed
                ):
                    continue
                for start in range(len(line.norms)):
                    end = self._match(form.items, 0, line, start)
                    if end is None or end == start:
                        continue
                    first = max(0, start - 1)
                    last = min(end - 1, len(line.norms) - 2)
                    if last > first:
                        yield key, first, last

    def _match(self, items: tuple[Item, ...], k: int, line: Line, at: int) -> int | None:
        """The end of a match of items[k:] that begins at token `at`, or None."""
        if k == len(items):
            return at
        item = items[k]
        if item.gap:
            for skipped in range(GAP_WORDS + 1):
                if at + skipped > len(line.norms):
                    return None
                end = self._match(items, k + 1, line, at + skipped)
                if end is not None:
                    return end
                if at + skipped < len(line.norms) and line.norms[at + skipped] == SENTENCE_END:
                    return None
            return None
        if at in line.breaks and SENTENCE_END in item.norms:
            end = self._match(items, k + 1, line, at)
            if end is not None:
                return end
        if at < len(line.norms):
            if item.takes(line.norms[at], line.surfaces[at]):
                end = self._match(items, k + 1, line, at + 1)
                if end is not None:
                    return end
            if (
                item.man
                and at + 1 < len(line.norms)
                and line.norms[at] in self._determiners
                and line.norms[at + 1] in self._roles
            ):
                end = self._match(items, k + 1, line, at + 2)
                if end is not None:
                    return end
        return self._match(items, k + 1, line, at) if item.optional else None
