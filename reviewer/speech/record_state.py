"""What a recorder takes from, what it can be doing, and how it says so."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from typing import Protocol

from reviewer.speech.record_level import Level
from reviewer.speech.record_notes import Mark
from reviewer.speech.sound import RATE


class Source(Protocol):
    """Where samples come from. Blocks are int16 mono at 16 kHz, as bytes, of any length.

    name: what to call it. live: a device that runs by itself, so that sound not taken is lost and
    silence of the device means trouble; False for a file or a pipe.
    """

    @property
    def name(self) -> str: ...

    @property
    def live(self) -> bool: ...

    def open(self, take: Callable[[bytes], None], ended: Callable[[str], None]) -> None:
        """Begin. `take` gets each block; `ended` a sentence when no more will come."""

    def alive(self) -> bool:
        """Whether the device still exists; asked only after it has given nothing for a while."""

    def close(self) -> None:
        """End, within seconds. Harmless when it is not open."""


class State(Enum):
    """What a recorder is doing. CLOSED: let go of without a decision."""

    READY = "ready"
    RECORDING = "recording"
    PAUSED = "paused"
    FINISHED = "finished"
    CANCELLED = "cancelled"
    CLOSED = "closed"


@dataclass(frozen=True, slots=True)
class Status:
    """A recorder at one moment.

    clock_s: seconds recorded, by samples. saved_s: seconds of them that are on the disk itself.
    level: the loudness now. warnings: sentences about what is wrong now. problem: why it stopped
    by itself, or "". ended: why the source has no more to give, or "".
    """

    state: State
    clock_s: float
    saved_s: float
    level: Level
    warnings: tuple[str, ...]
    problem: str
    ended: str
    marks: tuple[Mark, ...]


class Arrivals:
    """Compares the samples that came with the time that passed.

    It finds a device that has fallen silent and sound that was lost because this computer was too
    busy to take it. The note's own clock never uses it.
    """

    WINDOW_S = 30.0
    LATE_S = 0.7

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._last = clock()
        self._since: float | None = None
        self._samples = 0
        self._lost_s = 0.0

    def add(self, samples: int) -> None:
        """Count a block that has just come."""
        self._last = self._clock()
        if self._since is None:
            self._since = self._last
            return
        self._samples += samples
        passed_s = self._last - self._since
        if passed_s < self.WINDOW_S:
            return
        behind_s = passed_s - self._samples / RATE
        if behind_s > self.LATE_S:
            self._lost_s += behind_s
        self._since, self._samples = self._last, 0

    @property
    def silent_s(self) -> float:
        """Seconds since the last block."""
        return self._clock() - self._last

    @property
    def lost_s(self) -> float:
        """About how many seconds of sound never came, by the windows that are complete."""
        return self._lost_s
