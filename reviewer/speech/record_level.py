"""How loud the microphone is, and what is wrong with it, in words.

Levels are in dBFS: 0 dB is a full-scale square wave, so a full-scale sine has a peak of 0.0 and an
RMS of -3.0 (AES17 calls that same sine 0 dB). Time is counted in samples, never by a clock.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

from reviewer.speech.sound import RATE

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Pcm = npt.NDArray[np.int16]

FULL_SCALE = 32_768
REFERENCE = "dBFS, a full-scale sine is -3.0 RMS"

FLOOR_DBFS = -60.0
"""Where a drawn level meter starts; quieter than any usable speech."""

DEAD = "No sound at all arrives: the microphone is muted, unplugged or not allowed to this program."
SILENT = "Nothing is loud enough to be speech: is this the right microphone, is it switched on?"
QUIET = "Very quiet: come closer to the microphone, or turn the input up."
LOUD = "Too loud, the sound is cut off at the top: turn the input down, or move back."

_METER_S = 0.3
_DEAD_S = 0.5
_SILENT_S = 3.0
_SILENT_AFTER_TALK_S = 20.0  # a coach who watches a rep says nothing; his microphone is not broken
_LOOK_BACK_S = 4.0
_LOUD_SHOWN_S = 3.0
_CLIP_RUN = 3  # one sample at full scale can be chance; a run is a cut-off top
_SPEECH_DBFS = -50.0  # peak of a block; room noise of a working microphone lies below
_QUIET_DBFS = -34.0  # peak over a few seconds of talk; below it words begin to get lost


@dataclass(frozen=True, slots=True)
class Level:
    """Loudness now. peak_dbfs, rms_dbfs: over the last 0.3 s, -inf for digital silence."""

    peak_dbfs: float = -math.inf
    rms_dbfs: float = -math.inf


def rms_dbfs(pcm: Pcm) -> float:
    """Root-mean-square level of int16 samples in dBFS; -inf for silence or no samples."""
    import numpy as np

    if not len(pcm):
        return -math.inf
    return _db(math.sqrt(float(np.mean(np.square(pcm, dtype=np.float64)))))


def peak_dbfs(pcm: Pcm) -> float:
    """The largest sample of int16 samples in dBFS; -inf for silence or no samples."""
    import numpy as np

    return _db(float(np.max(np.abs(pcm.astype(np.int32))))) if len(pcm) else -math.inf


def is_clipped(pcm: Pcm) -> bool:
    """Whether three or more samples after each other stand at the top or bottom of the scale."""
    import numpy as np

    at_top = (pcm >= FULL_SCALE - 1) | (pcm <= -FULL_SCALE)
    if np.count_nonzero(at_top) < _CLIP_RUN:
        return False
    run = at_top
    for shift in range(1, _CLIP_RUN):
        run = run[:-1] & at_top[shift:]
    return bool(run.any())


def _db(value: float) -> float:
    return 20 * math.log10(value / FULL_SCALE) if value > 0 else -math.inf


@dataclass(frozen=True, slots=True)
class _Block:
    samples: int
    peak: float  # dBFS
    square_sum: float


class InputWatch:
    """Follows the blocks of one microphone and says its level and what is wrong with it."""

    def __init__(self) -> None:
        self._recent: deque[_Block] = deque()
        self._recent_samples = 0
        self._total = 0
        self._dead_samples = 0
        self._last_value: int | None = None
        self._last_speech: int | None = None
        self._last_clip: int | None = None

    def feed(self, pcm: Pcm) -> None:
        """Take the next block of int16 samples, of any length."""
        import numpy as np

        if not len(pcm):
            return
        self._total += len(pcm)
        self._watch_dead(pcm)
        peak = peak_dbfs(pcm)
        self._remember(_Block(len(pcm), peak, float(np.sum(np.square(pcm, dtype=np.float64)))))
        if peak > _SPEECH_DBFS:
            self._last_speech = self._total
        if is_clipped(pcm):
            self._last_clip = self._total

    @property
    def level(self) -> Level:
        """The level over the last 0.3 s."""
        samples, square_sum, peak = 0, 0.0, -math.inf
        for block in reversed(self._recent):
            if samples >= _METER_S * RATE:
                break
            samples += block.samples
            square_sum += block.square_sum
            peak = max(peak, block.peak)
        return Level(peak, _db(math.sqrt(square_sum / samples))) if samples else Level()

    def warnings(self) -> tuple[str, ...]:
        """What is wrong now, the worst first; empty when the microphone is as it should be."""
        if self._dead_samples >= _DEAD_S * RATE:
            return (DEAD,)
        found = []
        if self._last_clip is not None and self._since(self._last_clip) < _LOUD_SHOWN_S:
            found.append(LOUD)
        if self._is_silent():
            found.append(SILENT)
        elif self._is_quiet():
            found.append(QUIET)
        return tuple(found)

    def _since(self, at: int) -> float:
        return (self._total - at) / RATE

    def _is_silent(self) -> bool:
        if self._last_speech is None:
            return self._total >= _SILENT_S * RATE
        return self._since(self._last_speech) >= _SILENT_AFTER_TALK_S

    def _is_quiet(self) -> bool:
        if self._last_speech is None or self._since(self._last_speech) > 1.0:
            return False
        enough = self._recent_samples >= _LOOK_BACK_S * RATE * 0.9
        return enough and max(block.peak for block in self._recent) < _QUIET_DBFS

    def _watch_dead(self, pcm: Pcm) -> None:
        """One value repeated is what a muted input or an unplugged jack gives; noise never is."""
        first = int(pcm[0])
        if not (pcm == first).all():
            self._dead_samples = 0
            self._last_value = None
            return
        same = self._last_value == first
        self._dead_samples = self._dead_samples + len(pcm) if same else len(pcm)
        self._last_value = first

    def _remember(self, block: _Block) -> None:
        self._recent.append(block)
        self._recent_samples += block.samples
        while self._recent_samples - self._recent[0].samples >= _LOOK_BACK_S * RATE:
            self._recent_samples -= self._recent.popleft().samples
