"""Small recordings made in the test, in every container that is read."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import numpy.typing as npt

Audio = npt.NDArray[np.float32]

CODECS = {
    "wav": "pcm_s16le",
    "flac": "flac",
    "mp3": "libmp3lame",
    "m4a": "aac",
    "ogg": "libopus",
    "opus": "libopus",
    "mkv": "aac",
    "mov": "aac",
    "mp4": "aac",
}
FILMS = {"mp4", "mov", "mkv"}


def sweep(seconds: float, rate: int = 16_000, level: float = 0.5) -> Audio:
    """A tone that rises from 200 Hz by 100 Hz a second: no two places of it look alike."""
    t = np.arange(round(seconds * rate)) / rate
    return (level * np.sin(2 * np.pi * (200 * t + 50 * t * t))).astype(np.float32)


def tones(*pieces: tuple[float, float], rate: int = 16_000) -> Audio:
    """Pieces of (seconds, level), one after another; level 0 is silence."""
    parts = [level * np.sin(2 * np.pi * 220 * np.arange(round(s * rate)) / rate) for s, level in pieces]
    return np.concatenate(parts).astype(np.float32)


def save(
    path: Path,
    audio: Audio,
    *,
    rate: int = 16_000,
    layout: str = "mono",
    film: bool | None = None,
    late_s: float = 0.0,
) -> Path:
    """Encode by the file's ending. film: with pictures. late_s: the sound begins after the pictures."""
    kind = path.suffix[1:]
    film = kind in FILMS if film is None else film
    options = {"movflags": "+faststart"} if kind in {"mp4", "m4a", "mov"} else {}
    with av.open(str(path), "w", options=options) as container:
        pictures = container.add_stream("mpeg4", rate=10) if film else None
        if pictures is not None:
            pictures.width, pictures.height, pictures.pix_fmt = 64, 48, "yuv420p"
        real_rate = 48_000 if CODECS[kind] == "libopus" else rate
        stream = container.add_stream(CODECS[kind], rate=real_rate, layout=layout)
        if pictures is not None:
            for number in range(round((len(audio) / rate + late_s) * 10)):
                frame = av.VideoFrame.from_ndarray(np.zeros((48, 64, 3), np.uint8), format="rgb24")
                frame.pts, frame.time_base = number, Fraction(1, 10)
                container.mux(pictures.encode(frame))
            container.mux(pictures.encode(None))
        channels = stream.codec_context.layout.nb_channels
        resampler = av.AudioResampler(
            format=stream.codec_context.format, layout=layout, rate=real_rate, frame_size=stream.frame_size
        )
        whole = av.AudioFrame.from_ndarray(
            np.repeat(audio[:, None], channels, 1).reshape(1, -1), format="flt", layout=layout
        )
        whole.sample_rate, whole.pts, whole.time_base = rate, round(late_s * rate), Fraction(1, rate)
        for frame in (*resampler.resample(whole), *resampler.resample(None), None):
            container.mux(stream.encode(frame))
    return path
