"""Misheard words mended: trade terms, names of the roster, and wordings that the coach taught.

A speech model writes what it knows: "ball rush" for "bull rush". Each stretch of a few heard words is
laid beside the wordings that sound like it, and read as the best of them where three things together
say so by a margin: how alike the two sound, how likely either is in film talk at that place, and how
sure the model was of what it wrote. Where the sound itself can be asked (`WordingScorer`), it has the
last word. What was heard is kept in `Word.heard`.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple, Protocol

from reviewer.language.mend_heard import HeardNote, Stretch, as_slots, as_spoken, numbers_in
from reviewer.language.mend_put import dressed, put_words
from reviewer.language.mend_talk import Talk, film_talk
from reviewer.language.mend_targets import (
    MOST_WORDS,
    Lexicon,
    Target,
    Targets,
    common_first_names,
    lexicon_of,
    name_targets,
)
from reviewer.language.mend_weigh import Reading, mend_weights, read_as
from reviewer.language.sounds import NUMBER, sounds_of_all
from reviewer.language.taught import apply_taught, left_as_heard
from reviewer.language.vocabulary import Vocabulary
from reviewer.records import Mend, NoteContext, Word


class WordingScorer(Protocol):
    """Tells how probable wordings are for a stretch of sound; see `reviewer.speech.score`."""

    def score(self, start: float, end: float, wordings: Sequence[str], /) -> list[float]:
        """Log-probability of each wording in place of the words from start to end (seconds), in nats."""


class MendedWords(NamedTuple):
    """Words after mending, as many as before, and what was mended, in order."""

    words: tuple[Word, ...]
    mends: tuple[Mend, ...]


MARGIN = 0.0
"""Log odds that a reading needs to be taken for words that a speech model wrote."""

TYPED_MARGIN = 2.0
"""The same for words that a person wrote."""

ASKED = -5.0
"""From these log odds by the words alone the sound is asked."""

LIKELY_TALK = -7.0
"""Log-probability in talk, in nats, from which words and what follows them are plain talk, no mishearing."""

MOST_ASKED = 60
"""How often the sound is asked for one note; each time costs a tenth of a second."""


def mend(
    words: Sequence[Word],
    context: NoteContext,
    vocabulary: Vocabulary,
    *,
    heard: bool = True,
    refused: Collection[tuple[str, str]] = (),
    scorer: WordingScorer | None = None,
) -> MendedWords:
    """Read misheard words as what was meant.

    heard: whether a speech model wrote the words; of words that a person wrote only known mishearings
    are mended. refused: (heard, read) pairs that the coach refused for this note, in any case.
    scorer: asks the sound where readings compete.
    """
    taught, mends = apply_taught(words, vocabulary)
    mender = Mender(lexicon_of(vocabulary, film_talk()), film_talk())
    locked = left_as_heard(taught, vocabulary)
    found = mender.mend(taught, context, locked, heard=heard, refused=_plain_pairs(refused), scorer=scorer)
    both = sorted((*mends, *found.mends), key=lambda m: m.first)
    return MendedWords(found.words, tuple(both))


def _plain_pairs(pairs: Iterable[tuple[str, str]]) -> frozenset[tuple[str, str]]:
    return frozenset((_plain(heard), _plain(read)) for heard, read in pairs)


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


@dataclass(frozen=True)
class Mender:
    """Mends with one lexicon, one idea of how people talk, and weights as in `mend_weights`."""

    lexicon: Lexicon
    talk: Talk
    weights: Mapping[str, Mapping[str, float]] = field(default_factory=mend_weights)

    def mend(
        self,
        words: Sequence[Word],
        context: NoteContext,
        locked: Collection[int] = (),
        *,
        heard: bool = True,
        refused: frozenset[tuple[str, str]] = frozenset(),
        scorer: WordingScorer | None = None,
    ) -> MendedWords:
        """As the function `mend`; locked: words that stay as they are."""
        weighed = self.weigh(self.readings(words, context, locked, heard=heard), words, scorer)
        margin = MARGIN if heard else TYPED_MARGIN
        allowed = [(gain, r) for gain, r in weighed if gain >= margin and _pair(words, r) not in refused]
        result, mends = list(words), []
        for gain, reading in apart_from_another(allowed):
            first, last = reading.stretch.first, reading.stretch.last
            mends.append(put_words(result, first, last, wording(reading), _sure(gain), reading.target.term))
        return MendedWords(tuple(result), tuple(sorted(mends, key=lambda m: m.first)))

    def weigh(
        self, readings: Iterable[Reading], words: Sequence[Word], scorer: WordingScorer | None
    ) -> list[tuple[float, Reading]]:
        """Readings with their log odds; where the sound can be asked, those it was asked about."""
        weighed = [(r.gain(self.weights["words"]), r) for r in readings]
        if scorer is None:
            return weighed
        asked = sorted((w for w in weighed if w[0] >= ASKED), key=lambda w: -w[0])[:MOST_ASKED]
        heard = [with_sound(reading, words, scorer) for _, reading in asked]
        return [(r.gain(self.weights["sound"]), r) for r in heard]

    def readings(
        self, words: Sequence[Word], context: NoteContext, locked: Collection[int] = (), *, heard: bool = True
    ) -> list[Reading]:
        """All other readings of all stretches that are worth a thought."""
        names = name_targets(context, common_first_names())
        name_index = Targets(names)
        note = HeardNote.of(words, locked, {tuple(n.text.lower().replace("-", " ").split()) for n in names})
        chances = [self.talk.likely(*_with_context(note.line, k)) for k in range(len(note.line))]
        found: list[Reading | None] = []
        for stretch in note.stretches(MOST_WORDS):
            listed = self.lexicon.listed(stretch.pieces)
            found += [self._read(stretch, target, True) for target in listed]
            first, last = note.at[stretch.first], note.at[stretch.last]
            if heard and sum(chances[first : last + 1]) < LIKELY_TALK:
                found += [self._read(stretch, target, False) for target in self._near(stretch, name_index)]
        return [reading for reading in found if reading is not None]

    def _read(self, stretch: Stretch, target: Target, listed: bool) -> Reading | None:
        return read_as(stretch, target, self.lexicon, self.talk, listed)

    def _near(self, stretch: Stretch, names: Targets) -> list[Target]:
        found: dict[int, Target] = {}
        for said in {as_spoken(stretch.pieces), as_slots(stretch.pieces)}:
            sounds = sounds_of_all(said)[0]
            for index in (self.lexicon.targets, names):
                found.update((id(target), target) for target in index.near(sounds))
        return list(found.values())


def _with_context(line: Sequence[str], k: int) -> tuple[str, str, str]:
    return line[k], line[k - 1] if k else "", line[k - 2] if k > 1 else ""


def with_sound(reading: Reading, words: Sequence[Word], scorer: WordingScorer) -> Reading:
    """The reading with what the sound says of it: how much likelier it is than what was heard, in nats."""
    stretch = words[reading.stretch.first : reading.stretch.last]
    was = " ".join(word.text.strip() for word in stretch)
    told, meant = scorer.score(stretch[0].start, stretch[-1].end, [was, dressed(wording(reading), was)])
    return replace(reading, signs={**reading.signs, "sound": meant - told})


def _pair(words: Sequence[Word], reading: Reading) -> tuple[str, str]:
    stretch = words[reading.stretch.first : reading.stretch.last]
    was = " ".join(word.text.strip() for word in stretch)
    return _plain(was), _plain(dressed(wording(reading), was))


def apart_from_another(weighed: Iterable[tuple[float, Reading]]) -> list[tuple[float, Reading]]:
    """The best readings that do not overlap, the surest first."""
    taken: set[int] = set()
    kept = []
    for gain, reading in sorted(weighed, key=_order):
        places = range(reading.stretch.first, reading.stretch.last)
        if taken.isdisjoint(places):
            taken.update(places)
            kept.append((gain, reading))
    return kept


def _order(weighed: tuple[float, Reading]) -> tuple[float, int, int, str]:
    gain, reading = weighed
    return -gain, reading.stretch.first, reading.stretch.last, reading.target.text


def wording(reading: Reading) -> str:
    """The target as it is written here: with the numbers that were heard."""
    numbers = iter(numbers_in(reading.stretch.pieces))
    return " ".join(next(numbers, word) if word == NUMBER else word for word in reading.target.text.split())


def _sure(gain: float) -> float:
    return round(1 / (1 + math.exp(-gain)), 3)
