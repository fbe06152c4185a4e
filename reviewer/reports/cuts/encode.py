"""Decoding a stretch of film to the frame, and encoding pictures and sound into a new file (PyAV).

Frame numbers come from the presentation times, so a film of uneven frame times (a phone's) is cut by
its clock. The new file has one picture a frame number and sound laid by sample count.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import Any

from reviewer.errors import InputError
from reviewer.reports.cuts.timecode import Rate

SOUND_RATE = 48_000
QUALITY = {"crf": "20", "preset": "veryfast"}


@dataclass(frozen=True, slots=True)
class Picture:
    """A decoded picture: its number from the moment's first frame, and the PyAV frame."""

    number: int
    frame: Any


@dataclass(frozen=True, slots=True)
class Sound:
    """Samples (channels x samples, float32, 48 kHz) and where they begin, in samples from the moment's
    start."""

    at: int
    samples: Any


@contextmanager
def open_film(path: Path) -> Iterator[Any]:
    """The film opened for reading. Raises InputError when it is no film."""
    import av

    try:
        container = av.open(str(path))
    except (av.error.FFmpegError, OSError) as problem:
        raise InputError(f"The film {path} cannot be read ({problem}); is it a film?") from problem
    with container:
        if not container.streams.video:
            raise InputError(f"{path} has no picture in it; name a film.")
        yield container


class Frames:
    """The pictures and sound of frames `first` (inclusive) to `end` (exclusive) of an open film."""

    def __init__(self, container: Any, rate: Rate, first: int, end: int) -> None:
        self._container = container
        self._rate = rate
        self._first = first
        self._end = end
        self._video = container.streams.video[0]
        self._audio = container.streams.audio[0] if container.streams.audio else None
        self._video.thread_type = "AUTO"
        self._zero = self._start_of(self._video)

    def __iter__(self) -> Iterator[Picture | Sound]:
        import av

        begin_s = Fraction(self._first) / self._rate.exact
        try:
            # a quarter second early, for sound that begins before its picture
            self._container.seek(int((begin_s + self._zero - Fraction(1, 4)) * av.time_base), backward=True)
            yield from self._pieces(begin_s)
        except av.error.FFmpegError as problem:
            raise InputError(
                f"The film {self._container.name} cannot be decoded ({problem}); is it whole?"
            ) from problem

    @staticmethod
    def _start_of(stream: Any) -> Fraction:
        return Fraction(stream.start_time or 0) * Fraction(stream.time_base)

    def _pieces(self, begin_s: Fraction) -> Iterator[Picture | Sound]:
        import av

        resampler = av.AudioResampler(format="fltp", layout="stereo", rate=SOUND_RATE)
        end_sample = round((Fraction(self._end - self._first) / self._rate.exact) * SOUND_RATE)
        pictures_done = False
        sound_done = self._audio is None
        for packet in self._container.demux([s for s in (self._video, self._audio) if s is not None]):
            if packet.stream.type == "video" and not pictures_done:
                for picture in self._pictures(packet):
                    pictures_done = picture.number >= self._end - self._first
                    if pictures_done:
                        break
                    if picture.number >= 0:
                        yield picture
            elif packet.stream.type == "audio" and not sound_done:
                for sound in self._sounds(packet, resampler, begin_s):
                    sound_done = sound.at >= end_sample
                    if (cut := _trimmed(sound, end_sample)) is not None:
                        yield cut
            if pictures_done and sound_done:
                return

    def _pictures(self, packet: Any) -> Iterator[Picture]:
        for frame in packet.decode():
            if frame.pts is None:
                continue
            number = round((Fraction(frame.pts) * frame.time_base - self._zero) * self._rate.exact)
            yield Picture(number - self._first, frame)

    def _sounds(self, packet: Any, resampler: Any, begin_s: Fraction) -> Iterator[Sound]:
        for frame in packet.decode():
            if frame.pts is None:
                continue
            at = round((Fraction(frame.pts) * frame.time_base - self._zero - begin_s) * SOUND_RATE)
            for piece in resampler.resample(frame):
                samples = piece.to_ndarray()
                yield Sound(at, samples)
                at += samples.shape[1]


def _trimmed(sound: Sound, end: int) -> Sound | None:
    """The part of the sound between the moment's start and `end`; None when there is none."""
    first = max(0, -sound.at)
    last = min(sound.samples.shape[1], end - sound.at)
    if last <= first:
        return None
    return Sound(sound.at + first, sound.samples[:, first:last])


class Encoder:
    """A new MP4 file being written: pictures and sound of one moment after the other."""

    def __init__(self, out: Path, like: Any, rate: Rate, chapters: list[Any]) -> None:
        import av

        source = like.streams.video[0]
        self._rate = rate
        self._container = av.open(str(out), "w", format="mp4")
        if chapters:
            # before the first packet: the header carries them
            self._container.set_chapters(chapters)
        self._video: Any = self._container.add_stream("libx264", rate=rate.exact, options=QUALITY)
        self._video.width, self._video.height = source.width // 2 * 2, source.height // 2 * 2
        self._video.pix_fmt = "yuv420p"
        self._base = 1 / rate.exact
        self._video.codec_context.time_base = self._base
        self._audio: Any = None
        if like.streams.audio:
            self._audio = self._container.add_stream("aac", rate=SOUND_RATE, layout="stereo")
        self._start = 0
        self._last = -1
        self._held: Any = None
        self._samples = 0
        self._moment_rate = rate

    def __enter__(self) -> Encoder:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if kind is None:
            self._flush()
        self._container.close()

    def add(self, piece: Picture | Sound) -> None:
        """Add a picture or sound of the moment being written."""
        if isinstance(piece, Picture):
            self._add_picture(piece)
        elif self._audio is not None:
            self._add_sound(piece)

    def begin_moment(self, rate: Rate) -> None:
        """The pieces that follow are of a moment of a film of that rate."""
        self._moment_rate = rate

    def close_moment(self, frames: int) -> None:
        """The moment had so many frames of its film; the next one begins right after them.

        Raises InputError when the film had no picture there at all.
        """
        if self._last < self._start:
            raise InputError(
                "The film ends before a moment that should be shown; check --film, the sync "
                "marks and the film times of the play list."
            )
        self._start += self._own_frames(frames)
        self._hold_until(self._start)
        self._pad(self._sample_of(self._start))

    def _own_frames(self, frames: int) -> int:
        """Frames of the moment's film as frames of this file."""
        return round(Fraction(frames) / self._moment_rate.exact * self._rate.exact)

    def _add_picture(self, piece: Picture) -> None:
        number = self._start + self._own_frames(piece.number)
        if number <= self._last:
            return
        frame = piece.frame.reformat(width=self._video.width, height=self._video.height, format="yuv420p")
        frame.pict_type = 0
        if self._last < self._start:
            # what comes before a moment's first picture is that picture, not the last moment's
            self._held = frame
        self._hold_until(number)
        self._held = frame
        self._encode_picture(number)

    def _hold_until(self, number: int) -> None:
        """Show the held picture for the numbers that the film has none for, so that none is missing."""
        if self._held is not None:
            for missing in range(self._last + 1, number):
                self._encode_picture(missing)

    def _encode_picture(self, number: int) -> None:
        # constant base and fresh numbers: the stream's own base changes when the header is written
        self._held.pts, self._held.time_base = number, self._base
        self._last = number
        self._container.mux(self._video.encode(self._held))

    def _add_sound(self, piece: Sound) -> None:
        at = self._sample_of(self._start) + piece.at
        self._pad(at)
        samples = piece.samples[:, max(0, self._samples - at) :]
        if samples.shape[1]:
            self._encode_sound(samples)

    def _sample_of(self, frame: int) -> int:
        return round(Fraction(frame) / self._rate.exact * SOUND_RATE)

    def _pad(self, to: int) -> None:
        """Silence up to a sample, where the film has none."""
        import numpy as np

        if self._audio is not None and to > self._samples:
            self._encode_sound(np.zeros((2, to - self._samples), dtype=np.float32))

    def _encode_sound(self, samples: Any) -> None:
        import av
        import numpy as np

        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(samples, dtype=np.float32), "fltp", "stereo")
        frame.sample_rate = SOUND_RATE
        frame.pts, frame.time_base = self._samples, Fraction(1, SOUND_RATE)
        self._samples += samples.shape[1]
        self._container.mux(self._audio.encode(frame))

    def _flush(self) -> None:
        self._container.mux(self._video.encode(None))
        if self._audio is not None:
            self._container.mux(self._audio.encode(None))
