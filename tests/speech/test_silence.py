"""Stretches of a recording fall silent; the rest stays, and as long."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np
import pytest

from reviewer.errors import InputError, Stopped
from reviewer.speech.decode import measure, span
from reviewer.speech.silence import silence

SECONDS = 4
FORMATS = [
    ("a.wav", "pcm_s16le", 44_100), ("a.flac", "flac", 44_100), ("a.mp3", "libmp3lame", 44_100),
    ("a.m4a", "aac", 44_100), ("a.opus", "libopus", 48_000), ("a.mka", "aac", 44_100),
]  # fmt: skip


def tone(path: Path, codec: str, rate: int, channels: int = 1) -> Path:
    """A steady tone in some format, with a title."""
    layout = "mono" if channels == 1 else "stereo"
    with av.open(str(path), "w") as out:
        out.metadata["title"] = "a name"
        stream = out.add_stream(codec, rate=rate, layout=layout)
        stream.codec_context.open(strict=False)
        size = stream.codec_context.frame_size or 1024
        sound = np.sin(np.arange(SECONDS * rate) * 2 * np.pi * 330 / rate) * 12_000
        data = np.repeat(sound.astype(np.int16), channels)[None, :]
        whole = av.AudioFrame.from_ndarray(data, format="s16", layout=layout)
        whole.sample_rate = rate
        fitted = av.AudioResampler(format=stream.codec_context.format.name, layout=layout, rate=rate)
        fifo = av.AudioFifo()
        for piece in fitted.resample(whole):
            piece.pts = None
            fifo.write(piece)
        while (frame := fifo.read(size)) or (frame := fifo.read(0, partial=True)):
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return path


def loudness(path: Path, start: float, end: float) -> float:
    return float(np.sqrt(np.mean(span(path, start, end) ** 2)))


@pytest.mark.parametrize(("name", "codec", "rate"), FORMATS, ids=[name for name, *_ in FORMATS])
@pytest.mark.parametrize("channels", [1, 2])
def test_spans_fall_silent_in_every_format(
    tmp_path: Path, name: str, codec: str, rate: int, channels: int
) -> None:
    before = tone(tmp_path / name, codec, rate, channels)
    after = tmp_path / f"after-{name}"
    silence(before, after, [(1.0, 2.0), (2.9, 3.1)])
    # a codec smears an edge over a few hundredths of a second
    for start, end in ((1.03, 1.97), (2.93, 3.07)):
        assert loudness(after, start, end) < 0.003
    for start, end in ((0.1, 0.97), (2.03, 2.87), (3.13, 3.9)):
        assert loudness(after, start, end) == pytest.approx(loudness(before, start, end), rel=0.1)
    one, two = measure(before), measure(after)
    assert two.duration_s == pytest.approx(one.duration_s, abs=0.03)
    assert (two.container, two.codec, two.channels) == (one.container, one.codec, one.channels)
    assert b"a name" not in after.read_bytes()


def test_uncompressed_sound_keeps_every_other_sample(tmp_path: Path) -> None:
    before = tone(tmp_path / "a.wav", "pcm_s16le", 16_000)
    silence(before, tmp_path / "b.wav", [(1.0, 1.5)])
    one, two = span(before, 0, SECONDS), span(tmp_path / "b.wav", 0, SECONDS)
    one[16_000:24_000] = 0
    assert np.array_equal(one, two)


def test_unsigned_sound_rests_in_the_middle(tmp_path: Path) -> None:
    before = tone(tmp_path / "a.wav", "pcm_u8", 16_000)
    silence(before, tmp_path / "b.wav", [(1.0, 1.5)])
    assert loudness(tmp_path / "b.wav", 1.0, 1.5) == 0


def test_what_is_no_recording(tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_text("no sound")
    with pytest.raises(InputError, match=r"a\.wav cannot be written with silence in it"):
        silence(tmp_path / "a.wav", tmp_path / "b.wav", [(0, 1)])


def test_it_can_be_stopped(tmp_path: Path) -> None:
    before = tone(tmp_path / "a.wav", "pcm_s16le", 16_000)
    with pytest.raises(Stopped):
        silence(before, tmp_path / "b.wav", [(0, 1)], should_stop=lambda: True)
