"""Hear one chunk, and do not take the model's word for it.

The first decoding runs over the chunk with its long silences cut out, with the prompt. What is
doubtful in it - what the model itself gave up on, loops, words without a voice - is taken out.
Every stretch of voice without words is then decoded once more, alone and without a prompt: the
prompt and the talk around are what mostly makes a model skip, loop or invent. What the second
decoding cannot settle either becomes a gap. Positions are seconds from the start of the chunk.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from reviewer.records import Word
from reviewer.speech import activity, doubt
from reviewer.speech.activity import Chunk, Packed, Stretch
from reviewer.speech.decode import RATE
from reviewer.speech.doubt import Run
from reviewer.speech.recogniser import Recogniser, Segment
from reviewer.speech.transcript import Gap, Reason, Settings

_TRY_AGAIN_S = 0.8  # of voice without words; shorter ones are breaths and the edges of words
_AROUND_S = 0.3
_FEW_WORDS = 2
_LONGEST_TOLD = 400  # letters of a gap's words; only a loop is longer
_DOUBTFUL = 0.5
_STOPS = ".?!"
_LONGEST_PAUSE_S = 5.0
_SHORT_WORD_S = 0.25
_SLOWEST_LOOP_S = 0.18  # a word; faster repetition is not speech
_LONGEST_LOOP_S = 5.0


@dataclass(frozen=True, slots=True)
class _Trust:
    """What a segment must have to be believed: mean log-probability, mean probability of a word.

    A segment of fewer than `words` words is believed whatever their probability: a short verdict
    amid noise is a real one.
    """

    logprob: float
    word: float
    words: int

    def __call__(self, segment: Segment) -> bool:
        if segment.logprob < self.logprob:
            return False
        mean = sum(word.probability for word in segment.words) / max(1, len(segment.words))
        return mean >= self.word or len(segment.words) < self.words


# Seen in synthetic talk, clear, in noise and among other voices: log-probability above -0.8, words
# above .52 in any eight together. Speech played backwards, singing, crowds: -1.1 and less or .45
# and less. A short stretch alone is where a model likes best to invent.
_FIRST = _Trust(logprob=-1.0, word=0.35, words=3)
_ALONE = _Trust(logprob=-0.8, word=0.5, words=1)

Tick = Callable[[float], None]
"""Called with the second that hearing has come to; it may raise to stop."""


def listen(chunk: Chunk, ears: Recogniser, settings: Settings, *, tick: Tick) -> tuple[list[Word], list[Gap]]:
    """The words of a chunk and the stretches that could not be heard, both in order."""
    packed = Packed(chunk.audio, activity.padded(chunk.voice, len(chunk.audio) / RATE))
    segments: list[Segment] = []
    for segment in ears.hear(
        packed.audio, prompt=settings.prompt, hotwords=settings.hotwords, beam=settings.beam
    ):
        segments.append(_placed(segment, packed))
        if segments[-1].words:
            tick(segments[-1].words[-1].end)
    words, taken = _sift(segments, chunk.voice, trust=_FIRST)
    again: list[Word] = []
    for hole in doubt.lost(chunk.voice, words, least_s=_TRY_AGAIN_S):
        again.extend(_new(_once_more(hole, chunk, ears, settings), hole, words))
        tick(hole.end)
    words = sorted([*words, *again], key=lambda word: word.start)
    silent = [Gap(s.start, s.end, "not heard") for s in doubt.lost(chunk.voice, words)]
    unsettled = [gap for gap in taken if not _covered(gap, again)]
    return words, _merged([*unsettled, *silent])


def _once_more(hole: Stretch, chunk: Chunk, ears: Recogniser, settings: Settings) -> list[Word]:
    """The words of a hole heard alone; none where the model is not sure of them."""
    around = Stretch(max(0.0, hole.start - _AROUND_S), min(len(chunk.audio) / RATE, hole.end + _AROUND_S))
    packed = Packed(chunk.audio, [around])
    segments = [_placed(segment, packed) for segment in ears.hear(packed.audio, beam=settings.beam)]
    words, _ = _sift(segments, chunk.voice, trust=_ALONE, loops_may_stay=True)
    return words


def _new(found: Sequence[Word], hole: Stretch, words: Sequence[Word]) -> list[Word]:
    """What was found in a hole, without the words at its edges that were heard before.

    A word whose time was stretched over the hole comes out again when the hole is heard alone.
    """
    beside = [word for word in words if word.start < hole.end and hole.start < word.end]
    known = {doubt.key(word.text) for word in beside}
    kept = list(found)
    while kept and doubt.key(kept[-1].text) in known:
        kept.pop()
    while kept and doubt.key(kept[0].text) in known:
        kept.pop(0)
    return kept


def _sift(
    segments: Sequence[Segment],
    voice: Sequence[Stretch],
    *,
    trust: _Trust,
    loops_may_stay: bool = False,
) -> tuple[list[Word], list[Gap]]:
    """Take out guesses, loops and words without a voice; what was taken, as gaps.

    trust: which segments are more than guesses. loops_may_stay: a short loop at a speaking pace is
    kept, because it came out a second time, by another way.
    """
    taken = [_gap(s.words, "not heard") for s in segments if s.words and not trust(s)]
    words = [word for s in segments if trust(s) for word in s.words]
    guesses = [words[run.first : run.last] for run in doubt.improbable(words)]
    taken.extend(_gap(guess, "not heard") for guess in guesses)
    words = _without(words, guesses)
    loops = [words[run.first : run.last] for run in doubt.loops(words)]
    if loops_may_stay:
        loops = [loop for loop in loops if not _is_spoken(loop)]
    taken.extend(_gap(loop, "repeated") for loop in loops)
    words = _without(words, loops)
    squeezed = [words[run.first : run.last] for run in doubt.squeezed(words)]
    taken.extend(_gap(run, "repeated") for run in squeezed)
    words = _without(words, squeezed)
    early: list[Run] = []
    invented: list[list[Word]] = []
    for run in doubt.voiceless(voice, words):
        if _is_early(words, run):
            early.append(run)
        elif _is_invented(words[run.first : run.last]):
            invented.append(words[run.first : run.last])
    taken.extend(_gap(run, "invented") for run in invented)
    # an early word gets another time but stays the same word: what is invented goes first
    return _moved(words, early, invented), taken


def _is_early(words: Sequence[Word], run: Run) -> bool:
    """Whether these are first words of a sentence that the model timed into the pause before it."""
    return (
        run.last - run.first <= _FEW_WORDS
        and run.last < len(words)
        and words[run.last - 1].text[-1:] not in _STOPS
        and words[run.last].start - words[run.last - 1].end <= _LONGEST_PAUSE_S
    )


def _moved(words: Sequence[Word], early: Sequence[Run], gone: Sequence[Sequence[Word]]) -> list[Word]:
    """The words without those that are gone, early ones put where their sentence begins.

    Pauses tell where a rep ends: a word amid one would halve it.
    """
    moved = list(words)
    for run in early:
        end = words[run.last].start
        for number in reversed(range(run.first, run.last)):
            start = max(words[number].start, end - _SHORT_WORD_S)
            moved[number] = replace(words[number], start=start, end=max(start, end))
            end = start
    out = {id(word) for run in gone for word in run}
    return [now for before, now in zip(words, moved, strict=True) if id(before) not in out]


def _is_invented(run: Sequence[Word]) -> bool:
    """A word or two that the model is sure of are real words with a wrong time."""
    mean = sum(word.probability for word in run) / len(run)
    return len(run) > _FEW_WORDS or mean < _DOUBTFUL


def _is_spoken(loop: Sequence[Word]) -> bool:
    length_s = loop[-1].end - loop[0].start
    return length_s <= _LONGEST_LOOP_S and length_s / len(loop) >= _SLOWEST_LOOP_S


def _without(words: Sequence[Word], runs: Sequence[Sequence[Word]]) -> list[Word]:
    gone = {id(word) for run in runs for word in run}
    return [word for word in words if id(word) not in gone]


def _placed(segment: Segment, packed: Packed) -> Segment:
    """The segment with its words' times on the clock of the chunk."""
    words = [
        Word(word.text, *packed.original(word.start, word.end), word.probability) for word in segment.words
    ]
    return Segment(tuple(words), segment.logprob, segment.silence, segment.repetition)


def _gap(words: Sequence[Word], reason: Reason) -> Gap:
    heard = " ".join(word.text for word in words)
    if len(heard) > _LONGEST_TOLD:
        heard = f"{heard[:_LONGEST_TOLD].rsplit(' ', 1)[0]} …"
    return Gap(words[0].start, words[-1].end, reason, heard)


def _covered(gap: Gap, words: Sequence[Word]) -> bool:
    """Whether a word heard the second time stands in the gap."""
    return any(gap.start <= (word.start + word.end) / 2 <= gap.end for word in words)


def _merged(gaps: Sequence[Gap]) -> list[Gap]:
    """In order, overlapping ones as one: what was taken out gives the reason and the words."""
    found: list[Gap] = []
    for gap in sorted(gaps, key=lambda gap: (gap.start, gap.end)):
        if not found or gap.start >= found[-1].end:
            found.append(gap)
            continue
        last = found[-1]
        told = last if last.heard or not gap.heard else gap
        heard = " ".join(text for text in (last.heard, gap.heard) if text)
        found[-1] = Gap(last.start, max(last.end, gap.end), told.reason, heard)
    return found
