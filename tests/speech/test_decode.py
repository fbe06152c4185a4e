"""Decoding: every container, the file's clock, and every way a file can be no recording."""

from __future__ import annotations

import hashlib
import struct
import tracemalloc
from pathlib import Path

import numpy as np
import pytest

from reviewer.errors import InputError, Stopped
from reviewer.speech import decode

from .sounds import CODECS, Audio, save, sweep

SECONDS = 6.0


def whole(path: Path, block_s: float = 2.0) -> Audio:
    return np.concatenate(list(decode.blocks(path, block_s=block_s)))


def likeness(found: Audio, wanted: Audio) -> float:
    size = min(len(found), len(wanted))
    return float(np.corrcoef(found[:size], wanted[:size])[0, 1])


@pytest.mark.parametrize("kind", CODECS)
def test_every_container_gives_the_sound_that_was_put_in(tmp_path: Path, kind: str) -> None:
    path = save(tmp_path / f"a.{kind}", sweep(SECONDS))
    found = whole(path)
    assert found.dtype == np.float32
    assert abs(len(found) / decode.RATE - SECONDS) < 0.1
    # lossy codecs change the wave, not its place: a shift by a millisecond would fall below this
    assert likeness(found, sweep(SECONDS)) > 0.97
    measured = decode.measure(path)
    assert abs(measured.duration_s - SECONDS) < 0.1
    assert not measured.cut_off
    decode.refuse_cut_off(path, measured)


@pytest.mark.parametrize("kind", CODECS)
def test_a_span_is_that_part_of_the_whole(tmp_path: Path, kind: str) -> None:
    path = save(tmp_path / f"a.{kind}", sweep(SECONDS))
    all_of_it = whole(path)
    for start, end in ((0.0, 1.0), (3.25, 4.5), (5.0, 9.0)):
        found = decode.span(path, start, end)
        wanted = all_of_it[round(start * decode.RATE) : round(end * decode.RATE)]
        assert abs(len(found) - len(wanted)) <= 0.1 * decode.RATE
        assert likeness(found, wanted) > 0.97


def test_a_span_outside_the_recording_is_empty(tmp_path: Path) -> None:
    path = save(tmp_path / "a.wav", sweep(2))
    assert len(decode.span(path, 10.0, 11.0)) == 0
    assert len(decode.span(path, 1.0, 1.0)) == 0


def test_stereo_and_other_rates_become_mono_at_16_khz(tmp_path: Path) -> None:
    path = save(tmp_path / "a.wav", sweep(3, rate=44_100), rate=44_100, layout="stereo")
    found = whole(path)
    assert abs(len(found) - 3 * decode.RATE) < 20
    assert likeness(found, sweep(3)) > 0.99


def test_blocks_have_the_size_that_was_asked_for(tmp_path: Path) -> None:
    path = save(tmp_path / "a.flac", sweep(5))
    sizes = [len(block) for block in decode.blocks(path, block_s=2.0)]
    assert sizes == [32_000, 32_000, 16_000]


def test_memory_does_not_grow_with_the_length(tmp_path: Path) -> None:
    def most(seconds: float) -> int:
        path = save(tmp_path / f"{seconds}.flac", np.zeros(round(seconds * 8000), np.float32), rate=8000)
        tracemalloc.start()
        for _ in decode.blocks(path, block_s=5.0):
            pass
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return peak

    assert most(240) < 1.5 * most(30)


def test_sound_that_begins_late_keeps_the_clock_of_the_film(tmp_path: Path) -> None:
    path = save(tmp_path / "a.mp4", sweep(3), late_s=1.5)
    found = whole(path)
    assert abs(decode.duration(path) - 4.5) < 0.1
    start = int(np.argmax(np.abs(found) > 0.1)) / decode.RATE
    assert abs(start - 1.5) < 0.05
    assert likeness(found[round(1.5 * decode.RATE) :], sweep(3)) > 0.9


def test_the_digest_is_the_files_sha256(tmp_path: Path) -> None:
    # FIPS 180-4 example: SHA-256 of "abc" (from memory, agrees with hashlib)
    path = tmp_path / "abc"
    path.write_bytes(b"abc")
    assert decode.digest(path) == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    with pytest.raises(Stopped, match=r"stopped while reading abc"):
        decode.digest(path, should_stop=lambda: True)


def cut(path: Path, share: float = 0.6) -> Path:
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * share)])
    return path


@pytest.mark.parametrize("kind", ["wav", "flac", "mp3", "m4a", "mp4", "mov", "mkv"])
def test_a_file_cut_off_names_where_and_of_how_much(tmp_path: Path, kind: str) -> None:
    path = cut(save(tmp_path / f"a.{kind}", sweep(SECONDS), film=False))
    measured = decode.measure(path)
    assert measured.cut_off
    with pytest.raises(InputError) as refused:
        decode.refuse_cut_off(path, measured)
    told = str(refused.value)
    assert told.startswith(f"a.{kind} breaks off after 0:0{measured.duration_s:.1f} of 0:06.")
    assert "allow a broken file" in told
    # what is there can still be had
    assert likeness(whole(path), sweep(SECONDS)) > 0.97


@pytest.mark.parametrize("kind", ["ogg", "opus"])
def test_an_ogg_file_without_its_last_page_breaks_off(tmp_path: Path, kind: str) -> None:
    path = cut(save(tmp_path / f"a.{kind}", sweep(SECONDS)))
    with pytest.raises(InputError, match=r"^a\.\w+ breaks off after 0:0\d\.\d; copy it again"):
        decode.refuse_cut_off(path, decode.measure(path))


def test_a_film_without_its_index_says_so(tmp_path: Path) -> None:
    path = save(tmp_path / "a.mp4", sweep(SECONDS))
    data = path.read_bytes()
    path.write_bytes(data[: data.index(b"moov") + 100])
    with pytest.raises(InputError, match="breaks off before its index was written"):
        decode.measure(path)


def test_sound_shorter_than_the_pictures_is_whole(tmp_path: Path) -> None:
    import av

    path = tmp_path / "a.mkv"
    with av.open(str(path), "w") as container:
        pictures = container.add_stream("mpeg4", rate=10)
        pictures.width, pictures.height, pictures.pix_fmt = 64, 48, "yuv420p"
        stream = container.add_stream("pcm_s16le", rate=16_000, layout="mono")
        for number in range(80):
            frame = av.VideoFrame.from_ndarray(np.zeros((48, 64, 3), np.uint8), format="rgb24")
            frame.pts = number
            container.mux(pictures.encode(frame))
        container.mux(pictures.encode(None))
        sound = av.AudioFrame.from_ndarray(
            (sweep(2) * 32_000).astype(np.int16)[None], format="s16", layout="mono"
        )
        sound.sample_rate, sound.pts = 16_000, 0
        container.mux(stream.encode(sound))
        container.mux(stream.encode(None))
    assert not decode.measure(path).cut_off


def test_a_header_that_leaves_the_length_open_is_whole(tmp_path: Path) -> None:
    path = save(tmp_path / "a.wav", sweep(2))
    data = bytearray(path.read_bytes())
    at = data.index(b"data") + 4
    data[at : at + 4] = struct.pack("<I", 0xFFFFFFFF)
    path.write_bytes(data)
    measured = decode.measure(path)
    assert (measured.declared_s, measured.cut_off) == (None, False)


def test_damage_in_the_middle_is_a_hole_and_the_clock_goes_on(tmp_path: Path) -> None:
    path = save(tmp_path / "a.opus", sweep(20))
    data = bytearray(path.read_bytes())
    size = len(data)
    data[size * 4 // 10 : size * 6 // 10] = bytes(size * 6 // 10 - size * 4 // 10)
    path.write_bytes(data)
    recording = decode.Recording(path)
    found = np.concatenate(list(recording.blocks()))
    assert abs(len(found) / decode.RATE - 20) < 0.1
    ((start, end),) = recording.holes
    assert 5 < start < 10 < end < 15
    after = round((end + 0.5) * decode.RATE)
    assert likeness(found[after:], sweep(20)[after:]) > 0.97


@pytest.mark.parametrize(
    ("name", "data", "told"),
    [
        ("empty.wav", b"", "is empty (0 bytes)"),
        ("text.wav", b"second and eight\n" * 300, "is no recording that can be read"),
        ("noise.mp3", hashlib.shake_256(b"seed").digest(4000), "no recording|no sound"),
        ("short.ogg", b"OggS", "is no recording that can be read"),
    ],
)
def test_what_is_no_sound_is_one_sentence(tmp_path: Path, name: str, data: bytes, told: str) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(InputError) as refused:
        decode.measure(path)
        list(decode.blocks(path))
    message = str(refused.value)
    assert any(part in message for part in told.split("|"))
    assert name in message
    assert "\n" not in message


def test_a_header_without_sound(tmp_path: Path) -> None:
    path = save(tmp_path / "a.wav", sweep(1))
    data = path.read_bytes()
    path.write_bytes(data[: data.index(b"data") + 8])
    with pytest.raises(InputError, match=r"^a.wav holds no sound that can be decoded"):
        list(decode.blocks(path))


def test_a_film_without_a_sound_track(tmp_path: Path) -> None:
    import av

    path = tmp_path / "a.mp4"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("mpeg4", rate=10)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        frame = av.VideoFrame.from_ndarray(np.zeros((48, 64, 3), np.uint8), format="rgb24")
        container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    with pytest.raises(InputError, match=r"^a.mp4 has no sound track"):
        decode.measure(path)


def test_missing_and_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no file"):
        decode.measure(tmp_path / "none.wav")
    with pytest.raises(InputError, match="is a folder"):
        decode.digest(tmp_path)


def test_an_absurd_length_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = save(tmp_path / "a.wav", sweep(3))
    monkeypatch.setattr(decode, "MAX_HOURS", 2 / 3600)
    with pytest.raises(InputError, match=r"^a.wav is 0.0 hours long, more than"):
        decode.measure(path)
    with pytest.raises(InputError, match="cut it into shorter recordings"):
        list(decode.blocks(path, block_s=1.0))


def test_a_tag_in_an_old_encoding_does_not_matter(tmp_path: Path) -> None:
    path = save(tmp_path / "a.mp3", sweep(1))
    frame = b"TIT2" + struct.pack(">I", 6) + b"\0\0" + b"\x03\xff\xfe\xe9\xe8a"
    path.write_bytes(b"ID3\x04\0\0" + bytes([0, 0, 0, len(frame)]) + frame + path.read_bytes())
    assert len(whole(path)) > 15_000


@pytest.mark.parametrize(
    ("seconds", "told"), [(0, "0:00.0"), (6.54, "0:06.5"), (59.96, "1:00.0"), (3723.04, "1:02:03.0")]
)
def test_seconds_as_a_clock(seconds: float, told: str) -> None:
    assert decode.clock(seconds) == told
