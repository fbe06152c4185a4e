"""Stretches of a recording made silent; everything else in it stays as it was, and as long."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from reviewer.errors import InputError, Stopped

_ENCODERS = {"mp3": "libmp3lame", "mp3float": "libmp3lame", "opus": "libopus", "vorbis": "libopus"}
"""FFmpeg's encoders whose names differ from their decoders'; Vorbis has none that is any good, and
whatever holds it holds Opus too."""

_OPUS_RATE = 48_000


def silence(
    source: Path,
    target: Path,
    spans: Sequence[tuple[float, float]],
    *,
    should_stop: Callable[[], bool] | None = None,
) -> None:
    """Write `source` to `target` with zeros in some stretches (seconds), in the same format.

    The sound is written anew, pictures are copied as they are, titles and other tags are left out (they
    may hold names). Uncompressed sound keeps every other sample. Raises InputError where the file cannot
    be read or its format cannot be written here, Stopped.
    """
    import av

    try:
        with av.open(str(source.resolve()), metadata_errors="replace") as before:
            stream = next(iter(before.streams.audio), None)
            if stream is None:
                raise InputError(f"{source.name} has no sound track")
            with av.open(str(target), "w", format=_format(before, source)) as after:
                _copy(before, stream, after, spans, should_stop)
    except (av.error.FFmpegError, ValueError, OSError) as error:
        raise InputError(
            f"{source.name} cannot be written with silence in it ({error}); cut or delete it by hand"
        ) from error


def _format(container: Any, source: Path) -> str:
    names = container.format.name.split(",")
    if len(names) == 1:
        return str(names[0])
    ending = source.suffix.lower().lstrip(".")
    fitting = {"m4a": "ipod", "mov": "mov", "webm": "webm", "mkv": "matroska"}.get(ending, "mp4")
    return fitting if fitting in {*names, "ipod"} else str(names[0])


def _copy(
    before: Any,
    stream: Any,
    after: Any,
    spans: Sequence[tuple[float, float]],
    should_stop: Callable[[], bool] | None,
) -> None:
    context = stream.codec_context
    name = _ENCODERS.get(context.name, context.name)
    rate = _OPUS_RATE if name == "libopus" else context.sample_rate
    sound = after.add_stream(name, rate=rate, layout=context.layout.name)
    if context.bit_rate and not context.name.startswith("pcm"):
        sound.codec_context.bit_rate = context.bit_rate
    pictures = {
        video.index: after.add_stream_from_template(video)
        for video in before.streams.video
        if not video.disposition & video.disposition.attached_pic
    }
    writer = _Writer(after, sound, context, spans, float(before.start_time or 0) / 1_000_000)
    for packet in before.demux(stream, *(before.streams[index] for index in pictures)):
        if should_stop is not None and should_stop():
            raise Stopped("stopped; nothing was changed")
        if packet.stream.index in pictures:
            if packet.dts is not None:
                packet.stream = pictures[packet.stream.index]
                after.mux(packet)
            continue
        for frame in packet.decode():
            writer.write(frame)
    writer.end()


class _Writer:
    """Frames in, silence laid over them, packets out."""

    def __init__(
        self, after: Any, sound: Any, context: Any, spans: Sequence[tuple[float, float]], zero_s: float
    ) -> None:
        import av

        self._after, self._sound, self._spans, self._zero_s = after, sound, spans, zero_s
        self._rate = context.sample_rate
        wanted = sound.codec_context.format.name if sound.codec_context.format else context.format.name
        self._resampler = av.AudioResampler(
            format=wanted, layout=context.layout.name, rate=sound.codec_context.sample_rate, frame_size=0
        )
        self._fifo = av.AudioFifo()
        self._at = 0

    def write(self, frame: Any) -> None:
        """Silence what falls into a span, then encode."""
        start_s = float(frame.time - self._zero_s) if frame.time is not None else self._at / self._rate
        self._at += frame.samples
        frame = _silenced(frame, start_s, self._spans)
        frame.pts = None
        for piece in self._resampler.resample(frame):
            self._encode(piece)

    def _encode(self, piece: Any) -> None:
        context = self._sound.codec_context
        if not context.is_open:
            context.open(strict=False)
        piece.pts = None
        self._fifo.write(piece)
        size = context.frame_size
        while size and (full := self._fifo.read(size)) is not None:
            self._after.mux(self._sound.encode(full))
        if not size and (rest := self._fifo.read(0, partial=True)) is not None:
            self._after.mux(self._sound.encode(rest))

    def end(self) -> None:
        """Write what is left."""
        for piece in self._resampler.resample(None):
            self._encode(piece)
        if (rest := self._fifo.read(0, partial=True)) is not None:
            self._after.mux(self._sound.encode(rest))
        self._after.mux(self._sound.encode(None))


def _silenced(frame: Any, start_s: float, spans: Sequence[tuple[float, float]]) -> Any:
    import av

    rate, count = frame.sample_rate, frame.samples
    hit = [
        (max(0, round((a - start_s) * rate)), min(count, round((b - start_s) * rate)))
        for a, b in spans
        if b > start_s and a < start_s + count / rate
    ]
    if not hit:
        return frame
    sound = frame.to_ndarray().copy()
    # unsigned 8-bit sound rests at 128
    rest = 128 if frame.format.name in ("u8", "u8p") else 0
    channels = 1 if frame.format.is_planar else len(frame.layout.channels)
    for first, last in hit:
        sound[:, first * channels : last * channels] = rest
    quiet = av.AudioFrame.from_ndarray(sound, format=frame.format.name, layout=frame.layout.name)
    quiet.sample_rate = rate
    return quiet
