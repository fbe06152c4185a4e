"""Where in the sound somebody speaks, and where a long recording may be cut.

Positions are seconds from the start of the array that was given. Voice activity is found by the
detector that faster-whisper carries.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from reviewer.speech.decode import RATE

if TYPE_CHECKING:
    from reviewer.speech.decode import Audio

CHUNK_S = 90.0
"""Most seconds that are held and heard at once."""

_VOICE = 0.3
"""The detector's probability from which sound is a voice. At its own half it misses whole sentences of talk
over a telephone band (a quarter of the words of one recording, clear to the ear and to the speech model)."""

_VOICE_GOES_ON = 0.15
_SHORTEST_PAUSE_MS = 200
_SHORTEST_VOICE_MS = 100
_KEEP_SILENCE_S = 2.0  # shorter pauses stay as they are; longer ones are cut out before decoding
_PAD_S = 0.4  # silence kept on both sides of a stretch, so that no consonant is lost
_FLOOR_FRAME_S = 0.1


@dataclass(frozen=True, slots=True)
class Stretch:
    """A piece of sound, in seconds."""

    start: float
    end: float

    @property
    def length(self) -> float:
        """Seconds."""
        return self.end - self.start


@dataclass(frozen=True)
class Chunk:
    """A piece of a recording, cut in a pause: where it starts, its sound, where it has voice.

    `voice` counts from the start of the chunk.
    """

    start: float
    audio: Audio
    voice: tuple[Stretch, ...]

    @property
    def end(self) -> float:
        """Seconds from the start of the recording."""
        return self.start + len(self.audio) / RATE


def voiced(audio: Audio) -> tuple[Stretch, ...]:
    """Stretches with a voice, apart where the voice pauses for a fifth of a second or more."""
    from faster_whisper.vad import VadOptions, get_speech_timestamps

    options = VadOptions(
        threshold=_VOICE,
        neg_threshold=_VOICE_GOES_ON,
        min_silence_duration_ms=_SHORTEST_PAUSE_MS,
        min_speech_duration_ms=_SHORTEST_VOICE_MS,
        speech_pad_ms=0,
    )
    found = get_speech_timestamps(audio, options)
    return tuple(Stretch(piece["start"] / RATE, piece["end"] / RATE) for piece in found)


def chunks(blocks: Iterable[Audio], *, skip_samples: int = 0, most_s: float | None = None) -> Iterator[Chunk]:
    """Cut a stream of sound into chunks of at most `most_s` seconds, each cut in a pause.

    most_s: `CHUNK_S` when None. skip_samples: leave out so much at the start (what an earlier pass
    has done). The cuts depend on nothing but the sound after that point, so a pass that goes on
    makes the cuts that the first one would have made.
    """
    import numpy as np

    size = round((CHUNK_S if most_s is None else most_s) * RATE)
    held: Audio = np.zeros(0, np.float32)
    start = skip_samples
    for block in blocks:
        dropped = min(skip_samples, len(block))
        skip_samples -= dropped
        held = np.concatenate([held, block[dropped:]])
        while len(held) > size:
            voice = voiced(held[:size])
            cut = _cut_sample(held[:size], voice)
            yield Chunk(start / RATE, held[:cut], _clip(voice, cut / RATE))
            held, start = held[cut:], start + cut
    if len(held):
        yield Chunk(start / RATE, held, voiced(held))


def padded(voice: Sequence[Stretch], length_s: float) -> list[Stretch]:
    """Voice with the short pauses inside and a little silence around: what is to be decoded."""
    joined: list[Stretch] = []
    for stretch in voice:
        if joined and stretch.start - joined[-1].end < _KEEP_SILENCE_S:
            joined[-1] = Stretch(joined[-1].start, stretch.end)
        else:
            joined.append(stretch)
    return [Stretch(max(0.0, s.start - _PAD_S), min(length_s, s.end + _PAD_S)) for s in joined]


class Packed:
    """Sound with its long silences cut out; the one owner of the step between the two clocks."""

    def __init__(self, audio: Audio, stretches: Sequence[Stretch]) -> None:
        """stretches: what to keep of `audio`, in order and apart."""
        import numpy as np

        self._kept = [(round(s.start * RATE), round(s.end * RATE)) for s in stretches]
        pieces = [audio[first:last] for first, last in self._kept]
        self.audio: Audio = np.concatenate(pieces) if pieces else np.zeros(0, np.float32)

    def original(self, start: float, end: float) -> tuple[float, float]:
        """Times in the packed sound as times in the sound before packing.

        The middle decides to which kept stretch both belong; they never reach outside it.
        """
        middle = round((start + end) / 2 * RATE)
        before = 0
        for number, (first, last) in enumerate(self._kept):
            if middle < before + last - first or number == len(self._kept) - 1:
                shift = (first - before) / RATE
                low, high = first / RATE, last / RATE
                return min(max(start + shift, low), high), min(max(end + shift, low), high)
            before += last - first
        return start, end


def _clip(voice: Sequence[Stretch], end_s: float) -> tuple[Stretch, ...]:
    return tuple(Stretch(s.start, min(s.end, end_s)) for s in voice if s.start < end_s)


def _cut_sample(audio: Audio, voice: Sequence[Stretch]) -> int:
    """Where to cut, in samples: amid the longest pause of the second half, else where it is quietest."""
    from itertools import pairwise

    half_s = len(audio) / RATE / 2
    edges = [*voice, Stretch(len(audio) / RATE, len(audio) / RATE)]
    pauses = [Stretch(a.end, b.start) for a, b in pairwise(edges)] if voice else []
    late = [pause for pause in pauses if pause.start >= half_s and pause.length > 0]
    if late:
        longest = max(late, key=lambda pause: pause.length)
        return round((longest.start + longest.end) / 2 * RATE)
    if not voice or voice[-1].end < half_s:
        return len(audio)
    return _quietest_sample(audio)


def _quietest_sample(audio: Audio) -> int:
    import numpy as np

    frame = round(_FLOOR_FRAME_S * RATE)
    half = len(audio) // 2
    tail = audio[half : half + (len(audio) - half) // frame * frame].reshape(-1, frame)
    loudness = np.square(tail).mean(axis=1)
    return half + int(loudness.argmin()) * frame + frame // 2
