"""Annotated notes as a speech model would write them: fewer stops, commas for periods, digits.

Word for word the same talk, so the annotation holds; only the writing is a machine's.
"""

from __future__ import annotations

import dataclasses
import random

from reviewer.compare.annotated import AnnotatedNote
from reviewer.language.numbers import read_numbers
from reviewer.language.tokens import tokenize
from reviewer.records import Word

THINKING = 0.03
"""Share of sentence ends within a block at which the speaker stops to think."""


def as_heard(note: AnnotatedNote, joined: float = 0.5, slow_s: float = 0.0, seed: int = 11) -> AnnotatedNote:
    """The note with a machine's punctuation and numbers.

    joined: share of sentence ends written as a comma (half of them) or not at all. slow_s: mean
    seconds of pause added between blocks, and at times within one; 0 leaves the times as they were.
    """
    rng = random.Random(f"{seed}{note.slug}")
    ends = {last - 1 for _, _, last in note.blocks}
    words: list[Word] = []
    lower_next = False
    late = 0.0
    for k, word in enumerate(note.words):
        word = dataclasses.replace(word, start=word.start + late, end=word.end + late)
        if slow_s and (k in ends or (word.text[-1:] == "." and rng.random() < THINKING)):
            late += slow_s * rng.uniform(0.3, 1.7)
        text = _digits(word.text)
        if lower_next:
            text, lower_next = text[:1].lower() + text[1:], False
        stop = text[-1:] in ".?!" and len(text) > 1
        if stop and rng.random() < (joined * 0.4 if k in ends else joined):
            if rng.random() < 0.5:
                text, lower_next = text[:-1] + ",", True
            else:
                text = text[:-1]
        words.append(dataclasses.replace(word, text=text))
    return dataclasses.replace(note, words=tuple(words))


def _digits(text: str) -> str:
    """ "ninety-four," as "94,": only where the whole word is one number over nine."""
    core = text.rstrip(".,?!;:")
    numbers = read_numbers(tokenize([Word(core, 0, 0)]).tokens) if core[:1].isalpha() else []
    whole = [n for n in numbers if (n.first, n.last) == (0, len(tokenize([Word(core, 0, 0)]).tokens))]
    if whole and not whole[0].ordinal and not whole[0].plural and whole[0].value >= 10:
        return whole[0].digits + text[len(core) :]
    return text


def with_digressions(
    note: AnnotatedNote, pool: list[tuple[Word, ...]], share: float = 0.3, seed: int = 5
) -> AnnotatedNote:
    """The note with talk that belongs to no rep put in between some of its blocks.

    pool: stretches of such talk, from other notes. The rest is said word for word as before.
    """
    rng = random.Random(f"{seed}{note.slug}")
    words: list[Word] = []
    blocks: list[tuple[int | None, int, int]] = []
    moved: dict[int, int] = {}
    late = 0.0
    for rep, first, last in note.blocks:
        if blocks and rng.random() < share:
            aside = rng.choice(pool)
            begin = note.words[first].start + late
            shift = begin - aside[0].start
            start = len(words)
            words += [dataclasses.replace(w, start=w.start + shift, end=w.end + shift) for w in aside]
            blocks.append((None, start, len(words)))
            late += aside[-1].end - aside[0].start + rng.uniform(0.4, 1.4)
        start = len(words)
        for k in range(first, last):
            moved[k] = len(words)
            word = note.words[k]
            words.append(dataclasses.replace(word, start=word.start + late, end=word.end + late))
        blocks.append((rep, start, len(words)))
    reps = tuple(dataclasses.replace(r, words=frozenset(moved[w] for w in r.words)) for r in note.reps)
    return dataclasses.replace(note, words=tuple(words), reps=reps, blocks=tuple(blocks))


def digressions(notes: list[AnnotatedNote]) -> list[tuple[Word, ...]]:
    """The talk of these notes that belongs to no rep, introductions and closings left out."""
    return [n.words[a:b] for n in notes for rep, a, b in n.blocks[1:-1] if rep is None and b - a > 8]
