"""Wordings that the coach taught: what was heard put into the words he means.

They stand in the user's own vocabulary as terms of the group "wording": `id` is what is meant
("ninety-four", "Umber"), `mishearings` are the words as heard. Where both are the same words, they are
left as heard by every mend that follows.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from reviewer.language.vocabulary import Vocabulary
from reviewer.records import Mend, Word

WORDING = "wording"
"""The group of a taught wording."""

_PIECES = re.compile(r"[^\W_]+(?:'[^\W_]+)?")
_TAIL = re.compile(r"[^\w'\"]+$")


def pieces(text: str) -> tuple[str, ...]:
    """The plain words of a text in lower case; hyphens part words, other signs are dropped."""
    return tuple(_PIECES.findall(text.replace("’", "'").casefold()))


def apply_taught(words: Sequence[Word], vocabulary: Vocabulary) -> tuple[tuple[Word, ...], tuple[Mend, ...]]:
    """The words with every taught wording in its place, and each such place as a mend.

    The number of words stays. Of two wordings that begin at one word the longer is taken.
    """
    taught = _taught(vocabulary)
    result = list(words)
    mends: list[Mend] = []
    at = 0
    while at < len(words) and taught:
        last, meant = _match(words, at, taught)
        if last == at:
            at += 1
            continue
        if meant and pieces(meant) != _joined(words[at:last]):
            mends.append(_put(result, at, last, meant))
        at = last
    return tuple(result), tuple(mends)


def left_as_heard(words: Sequence[Word], vocabulary: Vocabulary) -> frozenset[int]:
    """The indices of words that the coach taught to leave as heard."""
    taught = {heard: meant for heard, meant in _taught(vocabulary).items() if pieces(meant) == heard}
    found: set[int] = set()
    for at in range(len(words) if taught else 0):
        last, _ = _match(words, at, taught)
        found.update(range(at, last))
    return frozenset(found)


def _taught(vocabulary: Vocabulary) -> dict[tuple[str, ...], str]:
    return {
        heard: term.id
        for term in vocabulary.group(WORDING)
        for said in term.mishearings
        if (heard := pieces(said))
    }


def _match(words: Sequence[Word], at: int, taught: dict[tuple[str, ...], str]) -> tuple[int, str]:
    """The end of the longest taught wording that begins at a word, and what it means; (at, "") for none."""
    longest = max(map(len, taught), default=0)
    found, meant = at, ""
    said: tuple[str, ...] = ()
    for last in range(at, len(words)):
        # a mend in force already says what these words are
        if words[last].heard is not None:
            break
        said = (*said, *pieces(words[last].text))
        if len(said) > longest:
            break
        if said in taught:
            found, meant = last + 1, taught[said]
        if words[last].text.rstrip("\"')").endswith((".", "?", "!")):
            break
    return found, meant


def _joined(words: Iterable[Word]) -> tuple[str, ...]:
    return tuple(piece for word in words for piece in pieces(word.text))


def _put(result: list[Word], first: int, last: int, meant: str) -> Mend:
    stretch = result[first:last]
    heard = " ".join(word.text.strip() for word in stretch)
    tail = _TAIL.search(stretch[-1].text)
    read = meant + (tail.group() if tail else "")
    # the last word takes what is left, so that the number of words stays
    texts = read.split(maxsplit=len(stretch) - 1)
    texts += [""] * (len(stretch) - len(texts))
    if stretch[0].text.startswith("\n"):
        texts[0] = "\n" + texts[0]
    for place, (word, text) in enumerate(zip(stretch, texts, strict=True)):
        was = heard if place == 0 else ""
        result[first + place] = Word(text, word.start, word.end, word.probability, was)
    return Mend(first, last, stretch[0].start, stretch[-1].end, heard, read, 1.0)
