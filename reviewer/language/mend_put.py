"""Put a mend's wording in the place of heard words."""

from __future__ import annotations

import re

from reviewer.records import Mend, Word

_TAIL = re.compile(r"[^\w'\"]+$")
_OWNED = re.compile(r"['’]s$", re.IGNORECASE)


def put_words(result: list[Word], first: int, last: int, meant: str, score: float, term: str) -> Mend:
    """Put a wording in place of words first..last (exclusive); their number stays.

    It keeps the capital, the closing marks and the possessive of what it replaces. The first word
    carries all that was heard, the others "" (see `Word.heard`).
    """
    stretch = result[first:last]
    heard = " ".join(word.text.strip() for word in stretch)
    read = dressed(meant, heard)
    # the last word takes what is left, so that the number of words stays
    texts = read.split(maxsplit=len(stretch) - 1)
    texts += [""] * (len(stretch) - len(texts))
    if stretch[0].text.startswith("\n"):
        texts[0] = "\n" + texts[0]
    for place, (word, text) in enumerate(zip(stretch, texts, strict=True)):
        result[first + place] = Word(text, word.start, word.end, word.probability, "" if place else heard)
    return Mend(first, last, stretch[0].start, stretch[-1].end, heard, read, score, term)


def dressed(meant: str, heard: str) -> str:
    """A wording with the capital, the possessive and the closing marks of what was heard."""
    tail = _TAIL.search(heard)
    marks = tail.group() if tail else ""
    core = heard.removesuffix(marks) if marks else heard
    owned = _OWNED.search(core)
    if owned and not _OWNED.search(meant):
        meant += owned.group()
    if core[:1].isupper() and meant[:1].islower():
        meant = meant[0].upper() + meant[1:]
    return meant + marks
