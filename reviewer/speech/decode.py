"""Any audio file as 16 kHz mono float32: block by block, or one span of it.

Times are seconds on the file's own clock, counted from where the file starts: a sound track that
begins late, or a stretch that cannot be decoded, becomes zeros of the same length, so that a time
here is the time a player shows. Decoding is PyAV's (FFmpeg); how a file tells that it has been cut
off is in `reviewer.speech.endings`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reviewer.errors import InputError, Stopped
from reviewer.speech import endings

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Audio = npt.NDArray[np.float32]

RATE = 16_000
"""Samples a second of everything that this module returns."""

MAX_HOURS = 12.0
"""Longest recording taken. A longer one is a mistake, or a job for several notes."""

_BLOCK_S = 30.0
_CLOCK_SLACK_S = 0.05  # containers round times; less than this is no hole
_HOLE_S = 0.5  # a longer jump of the clock is lost sound, though the decoder reports no error
_CUT_SLACK_S = 0.5  # a declared length may run past the last sample by a frame or two
_SEEK_LEAD_S = 1.0  # codecs need some sound before the span to decode its start correctly


@dataclass(frozen=True, slots=True)
class Measured:
    """What a file holds, found without decoding it.

    duration_s: seconds of sound that the file really holds. declared_s: seconds that it says it
    holds, None where it does not say. cut_off: the file ends before its own end.
    container, codec: FFmpeg's short names. rate: samples a second. channels: how many.
    """

    duration_s: float
    declared_s: float | None
    cut_off: bool
    container: str
    codec: str
    rate: int
    channels: int


@dataclass
class Recording:
    """One sound file, decoded from the start.

    path: the file. holes: stretches (start, end) in seconds that could not be decoded and are
    zeros in what `blocks` gave; complete once `blocks` has run to its end.
    """

    path: Path
    holes: list[tuple[float, float]] = field(default_factory=list)

    def blocks(self, *, block_s: float = _BLOCK_S) -> Iterator[Audio]:
        """The whole file as arrays of `block_s` seconds (the last one shorter).

        Raises InputError where the file cannot be opened, holds no sound or is absurdly long.
        """
        import numpy as np

        self.holes.clear()
        size = max(1, round(block_s * RATE))
        waiting: list[Audio] = []
        have = total = 0
        with _opened(self.path) as (container, stream):
            for _, piece in _pieces(container, stream, self.holes):
                waiting.append(piece)
                have += len(piece)
                total += len(piece)
                _refuse_absurd(self.path, total / RATE)
                while have >= size:
                    joined = np.concatenate(waiting)
                    yield joined[:size]
                    waiting, have = [joined[size:]], have - size
        if have:
            yield np.concatenate(waiting)
        if not total:
            raise InputError(f"{self.path.name} holds no sound that can be decoded; export it again")


def blocks(path: Path, *, block_s: float = _BLOCK_S) -> Iterator[Audio]:
    """The file as arrays of `block_s` seconds at 16 kHz mono; memory does not grow with its length.

    Raises InputError as `Recording.blocks` does.
    """
    return Recording(Path(path)).blocks(block_s=block_s)


def span(path: Path, start_s: float, end_s: float) -> Audio:
    """The sound between two times, in seconds. Shorter than asked where the file ends before.

    Raises InputError where the file cannot be opened.
    """
    import numpy as np

    first, last = max(0, round(start_s * RATE)), max(0, round(end_s * RATE))
    kept: list[Audio] = []
    with _opened(Path(path)) as (container, stream):
        sought = start_s > 2 * _SEEK_LEAD_S and _seek(container, start_s - _SEEK_LEAD_S)
        for at, piece in _pieces(container, stream, [], sought=sought):
            if at + len(piece) > first:
                kept.append(piece[max(0, first - at) : max(0, last - at)])
            if at + len(piece) >= last:
                break
    return np.concatenate(kept) if kept else np.zeros(0, np.float32)


def duration(path: Path) -> float:
    """Seconds of sound in the file. Raises InputError where it cannot be opened."""
    return measure(path).duration_s


def measure(path: Path) -> Measured:
    """Read the file's packets, without decoding, for how long it is and whether it is whole.

    Raises InputError where it is missing, empty, a folder, no sound or absurdly long.
    """
    import av

    path = Path(path)
    with _opened(path) as (container, stream):
        t0 = _clock_zero(container)
        end_s = 0.0
        try:
            for packet in container.demux(stream):
                if packet.pts is not None:
                    end_s = max(end_s, float((packet.pts + (packet.duration or 0)) * packet.time_base) - t0)
        except av.error.FFmpegError:
            pass  # what follows the break cannot be read; the comparison below tells of it
        declared = endings.declared_seconds(path, container, stream)
        context = stream.codec_context
        found = Measured(
            duration_s=end_s,
            declared_s=declared,
            cut_off=endings.no_proper_end(path) or (declared is not None and declared - end_s > _CUT_SLACK_S),
            container=container.format.name,
            codec=context.name,
            rate=context.sample_rate,
            channels=context.channels,
        )
    _refuse_absurd(path, found.duration_s)
    return found


def refuse_cut_off(path: Path, found: Measured) -> None:
    """Raise InputError, naming where the file breaks off, when it ends before its own end."""
    if not found.cut_off:
        return
    of = f" of {clock(found.declared_s)}" if found.declared_s else ""
    raise InputError(
        f"{path.name} breaks off after {clock(found.duration_s)}{of}; copy it again from where it was "
        f"recorded, or allow a broken file to use the part that is there"
    )


def digest(path: Path, *, should_stop: Callable[[], bool] | None = None) -> str:
    """SHA-256 of the file's bytes, in hexadecimal. Raises InputError where it cannot be read."""
    path = Path(path)
    _refuse_missing(path)
    found = hashlib.sha256()
    try:
        with path.open("rb") as handle:
            while block := handle.read(1 << 22):
                if should_stop is not None and should_stop():
                    raise Stopped(f"stopped while reading {path.name}; nothing was heard yet")
                found.update(block)
    except OSError as error:
        raise InputError(
            f"{path} cannot be read ({error.strerror}); check the drive and try again"
        ) from error
    return found.hexdigest()


def clock(seconds: float) -> str:
    """Seconds as a person reads them: 0:06.5, 12:03.0, 1:02:03.0."""
    tenths = round(seconds * 10)
    minutes, rest = divmod(tenths, 600)
    hours, minutes = divmod(minutes, 60)
    tail = f"{rest // 10:02d}.{rest % 10}"
    return f"{hours}:{minutes:02d}:{tail}" if hours else f"{minutes}:{tail}"


def _refuse_missing(path: Path) -> None:
    if path.is_dir():
        raise InputError(f"{path} is a folder; name one recording inside it")
    try:
        size = path.stat().st_size
    except FileNotFoundError:
        raise InputError(f"there is no file {path}; check the name and the folder") from None
    except OSError as error:
        raise InputError(f"{path} cannot be read ({error.strerror}); check its permissions") from error
    if size == 0:
        raise InputError(f"{path} is empty (0 bytes); record or copy it again")


def _refuse_absurd(path: Path, seconds: float) -> None:
    if seconds > MAX_HOURS * 3600:
        raise InputError(
            f"{path.name} is {seconds / 3600:.1f} hours long, more than the {MAX_HOURS:g} hours that are "
            f"taken; cut it into shorter recordings"
        )


@contextmanager
def _opened(path: Path) -> Iterator[tuple[Any, Any]]:
    import av

    _refuse_missing(path)
    try:
        # a tag in some old encoding must not keep a recording from being heard
        container = av.open(str(path.resolve()), metadata_errors="replace")
    except PermissionError as error:
        raise InputError(f"{path} cannot be read ({error.strerror}); check its permissions") from error
    except (av.error.FFmpegError, OSError) as error:
        raise _no_recording(
            path,
            f"{path.name} is no recording that can be read, or is damaged at its start; "
            f"give a wav, flac, mp3, m4a, ogg, opus, mp4, mov or mkv file",
        ) from error
    try:
        stream = next(iter(container.streams.audio), None)
        if stream is None or stream.codec_context is None:
            raise _no_recording(path, f"{path.name} has no sound track; give the recording of the talk")
        yield container, stream
    finally:
        container.close()


def _no_recording(path: Path, told: str) -> InputError:
    if endings.lost_index(path):
        told = (
            f"{path.name} breaks off before its index was written, so none of it can be read; "
            f"copy it again from where it was recorded"
        )
    return InputError(told)


def _clock_zero(container: Any) -> float:
    """Seconds on the container's clock at which the file starts to play."""
    return (container.start_time or 0) / 1_000_000


def _seek(container: Any, to_s: float) -> bool:
    """Move to a place at or before `to_s` that can be decoded; False where it cannot be searched."""
    import av

    try:
        container.seek(int((to_s + _clock_zero(container)) * 1_000_000), backward=True)
    except av.error.FFmpegError:
        return False
    return True


def _pieces(
    container: Any, stream: Any, holes: list[tuple[float, float]], *, sought: bool = False
) -> Iterator[tuple[int, Audio]]:
    """Decoded sound as (first sample, samples) at 16 kHz, with zeros where the clock jumps.

    After a search the first frame's own time is where the sound begins.
    """
    resampler = _Resampler()
    t0 = _clock_zero(container)
    at = 0
    expected_s: float | None = None if sought else 0.0  # of the next frame, on the file's clock
    damaged = False
    for frame in _frames(container, stream):
        if frame is None:
            damaged = True
            continue
        time_s = frame.time - t0 if frame.time is not None else expected_s or 0.0
        if expected_s is None:
            expected_s, at = time_s, round(time_s * RATE)
        gap_s = time_s - expected_s
        if gap_s > (_CLOCK_SLACK_S if expected_s else 0.0):
            if damaged or (expected_s and gap_s > _HOLE_S):
                holes.append((expected_s, time_s))
            for piece in chain(resampler.flush(), _zeros(gap_s)):
                yield at, piece
                at += len(piece)
            expected_s = time_s
        damaged = False
        expected_s += frame.samples / frame.sample_rate
        for piece in resampler.feed(frame):
            yield at, piece
            at += len(piece)
    for piece in resampler.flush():
        yield at, piece
        at += len(piece)


def _zeros(seconds: float) -> Iterator[Audio]:
    """Silence in pieces, so that a wild time stamp cannot ask for all the memory at once."""
    import numpy as np

    left = round(seconds * RATE)
    while left > 0:
        step = min(left, 60 * RATE)
        yield np.zeros(step, np.float32)
        left -= step


def _frames(container: Any, stream: Any) -> Iterator[Any]:
    """Decoded frames; None for each packet that could not be decoded."""
    import av

    try:
        for packet in container.demux(stream):
            try:
                yield from packet.decode()
            except av.error.FFmpegError:
                yield None
    except av.error.FFmpegError:
        yield None


class _Resampler:
    """FFmpeg's resampler, rebuilt when the sound changes its form halfway through a file."""

    def __init__(self) -> None:
        self._inner: Any = None
        self._form: tuple[Any, ...] = ()

    def feed(self, frame: Any) -> Iterator[Audio]:
        import av

        form = (frame.sample_rate, frame.layout.name, frame.format.name)
        if form != self._form:
            yield from self.flush()
            self._inner = av.AudioResampler(format="flt", layout="mono", rate=RATE)
            self._form = form
        frame.pts = None  # the clock is kept by the caller
        for out in self._inner.resample(frame):
            yield out.to_ndarray().reshape(-1)

    def flush(self) -> Iterator[Audio]:
        if self._inner is not None:
            for out in self._inner.resample(None):
                yield out.to_ndarray().reshape(-1)
        self._inner, self._form = None, ()
