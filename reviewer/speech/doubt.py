"""Which stretches of a transcript are not to be believed: lost, looped or invented speech.

A speech model fails silently. It drops half a minute of talk and goes on (words are missing where
there is a voice), it repeats itself (the same words again and again), or it writes a phrase over
silence or noise (words where there is no voice). All are found here by holding the words
against the voice activity; nothing is known of what the words mean. Positions are seconds on one
clock, that of the words and the voice given.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from reviewer.records import Word
from reviewer.speech.activity import Stretch

LOST_S = 2.0
"""Seconds of voice without a word that count as lost speech."""

_SLACK_S = 0.35  # word times and voice edges are each sure to about a sixth of a second
_BRIDGE_S = 0.6  # a pause for breath inside a lost stretch
_LONGEST_WORD_S = 0.9  # a model that lost speech stretches the words beside it over the hole
_LETTER_S = 0.09
_VOICED_SHARE = 0.25
_LONGEST_LOOP = 12  # words; longer loops are found by their half
_LONGEST_WORD = 40  # letters
_TOGETHER = 6
_SURE = 0.6
_BELIEVED = 0.35  # synthetic talk in noise and among voices stayed over .52 in any eight words
_SQUEEZED_TOGETHER = 5
_SQUEEZED_S = 0.06  # a word; the quickest synthetic talk measured had 0.08 over five words
_TIMES = {1: 5, 2: 4, 3: 3}
"""So many times a phrase of so many words is a loop; a coach says "go, go, go" too."""


@dataclass(frozen=True, slots=True)
class Run:
    """Words first..last (exclusive)."""

    first: int
    last: int


def lost(voice: Sequence[Stretch], words: Sequence[Word], *, least_s: float = LOST_S) -> list[Stretch]:
    """Stretches of at least `least_s` seconds of voice that no word covers."""
    holes: list[Stretch] = []
    covered = [_reach(word) for word in words]
    for piece in voice:
        holes.extend(_without(piece, covered))
    return [hole for hole, voiced_s in _bridged(holes, covered) if voiced_s >= least_s]


def loops(words: Sequence[Word]) -> list[Run]:
    """Runs in which the same few words come again and again, each run from its first to its last.

    A word too long to be one ("A-A-A-A-...") is a loop by itself.
    """
    keys = [key(word.text) for word in words]
    found: list[Run] = []
    at = 0
    while at < len(keys):
        runs = [_repeats(keys, at, size) for size in range(1, _LONGEST_LOOP + 1)]
        if len(words[at].text) > _LONGEST_WORD:
            runs.append(Run(at, at + 1))
        run = max(runs, key=lambda run: run.last)
        if run.last > at:
            found.append(run)
        at = max(at + 1, run.last)
    return found


def improbable(words: Sequence[Word]) -> list[Run]:
    """Runs of words that the model itself hardly believes, too many together to be single slips."""
    found: list[Run] = []
    for first in range(len(words) - _TOGETHER + 1):
        window = words[first : first + _TOGETHER]
        if sum(word.probability for word in window) / _TOGETHER >= _BELIEVED:
            continue
        if found and first <= found[-1].last:
            found[-1] = Run(found[-1].first, first + _TOGETHER)
        else:
            found.append(Run(first, first + _TOGETHER))
    return [_without_sure_ends(words, run) for run in found]


def squeezed(words: Sequence[Word]) -> list[Run]:
    """Runs of words in less time than anybody can say them: the same talk written a second time.

    A model that loses its place goes back and writes a passage again; where there is no sound left
    for it, all its words get the same time.
    """
    found: list[Run] = []
    for first in range(len(words) - _SQUEEZED_TOGETHER + 1):
        last = first + _SQUEEZED_TOGETHER
        if words[last - 1].end - words[first].start >= _SQUEEZED_S * _SQUEEZED_TOGETHER:
            continue
        if found and first <= found[-1].last:
            found[-1] = Run(found[-1].first, last)
        else:
            found.append(Run(first, last))
    return found


def voiceless(voice: Sequence[Stretch], words: Sequence[Word]) -> list[Run]:
    """Runs of words with no voice under them, where even slack in the times is no excuse."""
    silent = [_voiced_share(word, voice) < _VOICED_SHARE for word in words]
    found: list[Run] = []
    for number, is_silent in enumerate(silent):
        if not is_silent:
            continue
        if found and found[-1].last == number:
            found[-1] = Run(found[-1].first, number + 1)
        else:
            found.append(Run(number, number + 1))
    return found


def _without_sure_ends(words: Sequence[Word], run: Run) -> Run:
    unsure = [n for n in range(run.first, run.last) if words[n].probability < _SURE]
    return Run(unsure[0], unsure[-1] + 1)


def _reach(word: Word) -> Stretch:
    """The time that the word can honestly account for.

    A word stretched over a hole counts at its start only. Where it was really said at its end, the
    hole is heard again for nothing.
    """
    longest = min(_LONGEST_WORD_S, 0.25 + _LETTER_S * len(word.text))
    return Stretch(word.start - _SLACK_S, min(word.end, word.start + longest) + _SLACK_S)


def _without(piece: Stretch, covered: Iterable[Stretch]) -> list[Stretch]:
    """What is left of `piece` outside all of `covered`."""
    left = [piece]
    for cover in covered:
        left = [
            part
            for s in left
            for part in (
                Stretch(s.start, min(s.end, cover.start)),
                Stretch(max(s.start, cover.end), s.end),
            )
            if part.length > 0
        ]
    return left


def _bridged(holes: Sequence[Stretch], covered: Sequence[Stretch]) -> list[tuple[Stretch, float]]:
    """Holes joined over short pauses without words, each with the seconds of voice in it."""
    joined: list[tuple[Stretch, float]] = []
    for hole in holes:
        if joined:
            last, voiced_s = joined[-1]
            between = Stretch(last.end, hole.start)
            if between.length <= _BRIDGE_S and not _overlaps(between, covered):
                joined[-1] = (Stretch(last.start, hole.end), voiced_s + hole.length)
                continue
        joined.append((hole, hole.length))
    return joined


def _overlaps(piece: Stretch, others: Iterable[Stretch]) -> bool:
    return any(other.start < piece.end and piece.start < other.end for other in others)


def _voiced_share(word: Word, voice: Sequence[Stretch]) -> float:
    start, end = word.start - _SLACK_S / 2, word.end + _SLACK_S / 2
    voiced_s = sum(max(0.0, min(end, s.end) - max(start, s.start)) for s in voice)
    return voiced_s / (end - start)


def key(text: str) -> str:
    """A word without its capitals and marks, to compare it by."""
    return re.sub(r"[^\w']", "", text.lower()) or text


def _repeats(keys: Sequence[str], at: int, size: int) -> Run:
    """The run of the phrase keys[at:at+size] repeated; empty where it is not a loop."""
    phrase = keys[at : at + size]
    times = 1
    while len(phrase) == size and keys[at + times * size : at + (times + 1) * size] == phrase:
        times += 1
    return Run(at, at + times * size) if times >= _TIMES.get(size, 3) else Run(at, at)
