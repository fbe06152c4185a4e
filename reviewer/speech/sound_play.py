"""Play a stretch of a recording, slower or faster if wanted, without changing the voice's pitch."""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Generator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reviewer.errors import InputError, SoundError
from reviewer.speech import decode, sound

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Samples = npt.NDArray[np.int16] | npt.NDArray[np.float32]
    Pcm = npt.NDArray[np.int16]

SPEEDS = (0.25, 4.0)
"""Slowest and fastest playing, as a share of the spoken speed."""

_PERIOD_MS = 100
_PERIODS = 10  # a busy computer may keep the speaker waiting this long before the voice stutters
_AHEAD_MS = _PERIOD_MS * _PERIODS
# A device that has just been opened swallows its first few milliseconds and, when it is closed, what
# was handed over and not yet heard; silence around the span is lost in their place.
_LEAD_MS = 50
_TAIL_MS = _AHEAD_MS + 100
_CLOSE_S = 1.0


class Playback:
    """A span being played. It plays on by itself; the caller may watch it, wait or stop it."""

    def __init__(self, pcm: Pcm, *, speed: float, device: sound.SoundDevice | None) -> None:
        self._span_s = len(pcm) / sound.RATE
        self._pcm = stretch(pcm, speed)
        self._speed = speed
        self._handed_over = 0  # samples of the span, silence after it included
        self._began = 0.0
        self._ended = threading.Event()
        self._closed = threading.Event()
        self._device: Any = sound.open_playback(device, _PERIOD_MS, _PERIODS)
        feed = self._feed()
        next(feed)
        try:
            self._device.start(feed)
        except Exception as error:
            self._close()
            raise SoundError(
                "The sound cannot be played: the speaker refused to start; check it and try again."
            ) from error
        threading.Thread(target=self._close_at_end, name="playback", daemon=True).start()

    @property
    def position_s(self) -> float:
        """About how many seconds of the span, at its spoken speed, have been heard."""
        if not self._began:
            return 0.0
        # how far ahead of what is heard a system takes samples differs; time passes the same for all
        heard_s = min(self._handed_over / sound.RATE, time.monotonic() - self._began)
        return min(heard_s * self._speed, self._span_s)

    @property
    def playing(self) -> bool:
        """Whether there is still sound to come."""
        return not self._ended.is_set()

    def wait(self, timeout_s: float | None = None) -> bool:
        """Wait until the span has been heard to its end, or was stopped; False when time ran out."""
        return self._closed.wait(timeout_s)

    def stop(self) -> None:
        """End at once. Harmless when it has ended already."""
        self._ended.set()
        self._closed.wait(_CLOSE_S)

    def _close_at_end(self) -> None:
        self._ended.wait()
        self._close()

    def _close(self) -> None:
        # a speaker that was unplugged may never answer; nobody must wait for it
        closer = threading.Thread(target=self._device.close, daemon=True)
        closer.start()
        closer.join(_CLOSE_S)
        self._closed.set()

    def _feed(self) -> Generator[bytes, int, None]:
        import numpy as np

        lead = np.zeros(_LEAD_MS * sound.RATE // 1000, np.int16)
        sounding = np.concatenate([lead, self._pcm])
        end = len(sounding) + _TAIL_MS * sound.RATE // 1000
        at = 0
        frames = yield b""
        self._began = time.monotonic()
        while at < end:
            piece = sounding[at : at + frames].tobytes()
            at += frames
            self._handed_over = max(0, at - len(lead))
            frames = yield piece.ljust(frames * sound.SAMPLE_BYTES, b"\0")
        self._ended.set()
        while True:
            frames = yield bytes(frames * sound.SAMPLE_BYTES)


def play_samples(
    samples: Samples, *, speed: float = 1.0, device: sound.SoundDevice | None = None
) -> Playback:
    """Start to play samples (16 kHz mono, int16, or float in -1..1) and return at once.

    Raises InputError for a speed outside `SPEEDS` or no samples, SoundError without a speaker.
    """
    if not SPEEDS[0] <= speed <= SPEEDS[1]:
        raise InputError(f"speed {speed:g} is outside {SPEEDS[0]:g} to {SPEEDS[1]:g}; 1 is as spoken")
    pcm = to_int16(samples)
    if not len(pcm):
        raise InputError("there is no sound in that span; choose another start or end")
    return Playback(pcm, speed=speed, device=device)


def play_span(
    path: Path,
    start_s: float,
    end_s: float,
    *,
    speed: float = 1.0,
    device: sound.SoundDevice | None = None,
) -> Playback:
    """Start to play a recording from one time to another (seconds) and return at once.

    Raises InputError where the file cannot be read or has no sound there, SoundError without a speaker.
    """
    if end_s <= start_s:
        raise InputError(f"a span must end after it starts, not {start_s:g} to {end_s:g} s")
    return play_samples(decode.span(path, start_s, end_s), speed=speed, device=device)


def to_int16(samples: Samples) -> Pcm:
    """Samples as 16-bit integers; floats beyond -1..1 are held at full scale."""
    import numpy as np

    if samples.dtype == np.int16:
        return samples.reshape(-1).astype(np.int16, copy=False)
    held: Pcm = np.clip(np.rint(samples.reshape(-1) * 32768.0), -32768, 32767).astype(np.int16)
    return held


def stretch(pcm: Pcm, speed: float) -> Pcm:
    """The same talk at another speed, the pitch unchanged (FFmpeg's `atempo`, a WSOLA time stretch).

    pcm: 16 kHz mono int16. The result has about len(pcm) / speed samples.
    """
    import av
    import numpy as np

    if speed == 1.0:
        return pcm
    graph = av.filter.Graph()
    links = [
        graph.add_abuffer(sample_rate=sound.RATE, format="s16", layout="mono"),
        *[graph.add("atempo", f"{factor:.6f}") for factor in _tempo_steps(speed)],
        graph.add("aformat", f"sample_fmts=s16:sample_rates={sound.RATE}:channel_layouts=mono"),
        graph.add("abuffersink"),
    ]
    graph.link_nodes(*links).configure()
    frame = av.AudioFrame.from_ndarray(pcm.reshape(1, -1), format="s16", layout="mono")
    frame.sample_rate = sound.RATE
    frame.pts = 0
    graph.push(frame)
    graph.push(None)
    out: list[Pcm] = []
    with contextlib.suppress(av.error.EOFError, av.error.BlockingIOError):
        while True:
            out.append(graph.pull().to_ndarray().reshape(-1).astype(np.int16, copy=False))
    return np.concatenate(out) if out else np.zeros(0, np.int16)


def _tempo_steps(speed: float) -> list[float]:
    """One filter goes down to half speed only; two after each other go lower."""
    return [speed] if speed >= 0.5 else [0.5, speed / 0.5]
