"""Sound files: small ones of every container, spoilt."""

from __future__ import annotations

import io
import struct
import tracemalloc
from functools import lru_cache
from pathlib import Path

import av
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewer.errors import InputError
from reviewer.speech.decode import MAX_HOURS, RATE, Recording, measure, refuse_cut_off, span
from reviewer.speech.follow_wav import read_head
from tests.fuzz.hostile import file_of, fuzzed, result_or_sentence, spoilt

KINDS = {
    "wav": "pcm_s16le",
    "flac": "flac",
    "ogg": "libopus",
    "mp4": "aac",
    "mp3": "libmp3lame",
    "matroska": "aac",
}


@lru_cache(maxsize=8)
def sound(kind: str) -> bytes:
    """A third of a second of a tone."""
    out = io.BytesIO()
    with av.open(out, "w", format=kind) as container:
        stream = container.add_stream(KINDS[kind], rate=48_000, layout="mono")
        tone = (np.sin(np.arange(16_000) / 20) * 9000).astype(np.int16).reshape(1, -1)
        frame = av.AudioFrame.from_ndarray(tone, "s16", "mono")
        frame.sample_rate, frame.pts = 48_000, 0
        resampler = av.AudioResampler(format=stream.codec_context.format, layout="mono", rate=48_000,
                                      frame_size=stream.codec_context.frame_size or 0)  # fmt: skip
        for piece in [*resampler.resample(frame), *resampler.resample(None)]:
            container.mux(stream.encode(piece))
        container.mux(stream.encode(None))
    return out.getvalue()


def hear(path: Path) -> None:
    found = result_or_sentence(lambda: measure(path))
    if found is not None:
        assert 0 <= found.duration_s <= MAX_HOURS * 3600
        result_or_sentence(lambda: refuse_cut_off(path, found))
    heard = result_or_sentence(lambda: sum(len(block) for block in Recording(path).blocks()))
    assert heard is None or heard <= MAX_HOURS * 3600 * RATE
    piece = result_or_sentence(lambda: span(path, 0.1, 0.2))
    assert piece is None or len(piece) <= 0.11 * RATE


@pytest.mark.parametrize("kind", KINDS)
def test_the_whole_ones_are_heard(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "note"
    path.write_bytes(sound(kind))
    assert 0.3 < measure(path).duration_s < 0.45


@fuzzed(120)
@given(st.data())
def test_spoilt_sound(data: st.DataObject) -> None:
    kind = data.draw(st.sampled_from(sorted(KINDS)))
    with file_of(data.draw(spoilt([sound(kind)])), f"note.{kind}") as path:
        hear(path)


@fuzzed(60)
@given(st.data())
def test_spoilt_heads(data: st.DataObject) -> None:
    """Most of what can go wrong stands in the first bytes."""
    kind = data.draw(st.sampled_from(sorted(KINDS)))
    whole = bytearray(sound(kind))
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, min(len(whole), 400) - 4))
        whole[at : at + 4] = data.draw(
            st.sampled_from(
                [b"\xff\xff\xff\xff", b"\x7f\xff\xff\xff", b"\0\0\0\0", b"\0\0\0\1", b"moov", b"RIFF"]
            )
        )
    with file_of(bytes(whole), f"note.{kind}") as path:
        hear(path)


@fuzzed(60)
@given(st.data())
def test_a_spoilt_recording_that_is_still_growing(data: st.DataObject) -> None:
    with file_of(data.draw(spoilt([sound("wav")])), "note.wav") as path:
        result_or_sentence(lambda: read_head("note.wav", path.read_bytes()[:4096]))


def wav(rate: int = RATE, channels: int = 1, bits: int = 16, data_size: int | None = None) -> bytes:
    body = bytes(3200)
    head = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, channels, rate, rate * channels * bits // 8 & 0xFFFFFFFF,
                       channels * bits // 8 & 0xFFFF, bits)  # fmt: skip
    size = len(body) if data_size is None else data_size
    return (
        b"RIFF"
        + struct.pack("<I", 36 + len(body))
        + b"WAVE"
        + head
        + struct.pack("<4sI", b"data", size)
        + body
    )


@pytest.mark.parametrize(
    "data",
    [
        wav(rate=0),
        wav(rate=1),
        wav(rate=0xFFFFFFFF),
        wav(channels=0),
        wav(channels=65535),
        wav(bits=0),
        wav(bits=65535),
        wav(data_size=0xFFFFFFFE),
        b"RIFF\xff\xff\xff\xffWAVEfmt \xff\xff\xff\xff\1\0\1\0",
        b"RIFF\xff\xff\xff\xffWAVE" + b"junk\0\0\0\0" * 50_000,
        b"ID3\4\0\0\x7f\x7f\x7f\x7f" + bytes(100),
        b"\0\0\0\x18ftypisom\0\0\2\0isommp42" + b"\0\0\0\1mdat" + b"\xff" * 8,
        b"\0\0\0\x18ftypisom\0\0\2\0isommp42" + b"\0\0\0\x08free" * 20_000,
    ],
    ids=range(13),
)
def test_wild_heads_take_neither_time_nor_memory(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "note.wav"
    path.write_bytes(data)
    tracemalloc.start()
    hear(path)
    assert tracemalloc.get_traced_memory()[1] < 50_000_000
    tracemalloc.stop()


def test_a_clock_of_99999_hours(tmp_path: Path) -> None:
    """A container that says its second packet comes eleven years later."""
    path = tmp_path / "long.mka"
    with av.open(str(path), "w", format="matroska") as container:
        stream = container.add_stream("pcm_s16le", rate=RATE, layout="mono")
        for at in (0, 99_999 * 3600 * RATE):
            frame = av.AudioFrame.from_ndarray(np.zeros((1, 1600), np.int16), "s16", "mono")
            frame.sample_rate, frame.pts = RATE, at
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    with pytest.raises(InputError, match="hours long, more than the 12 hours"):
        measure(path)
    with pytest.raises(InputError, match="hours long, more than the 12 hours"):
        for _ in Recording(path).blocks():
            pass
    assert len(span(path, 0.0, 0.2)) == 3200
