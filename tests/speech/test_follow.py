"""Following what another program records: growing files and named pipes."""

from __future__ import annotations

import os
import struct
import threading
import wave

import numpy as np
import pytest

from reviewer.errors import InputError
from reviewer.speech import record_notes
from reviewer.speech.follow import Follower
from reviewer.speech.follow_wav import Converter, SampleForm
from reviewer.speech.record import Recorder
from reviewer.speech.record_file import NoteFile, header
from tests.speech.record_rig import RATE, noise, sine, wait_until, wav_samples

TALK = noise(3.0)
FAST = {"quiet_s": 0.6, "poll_s": 0.01}


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("REVIEWER_HOME", str(tmp_path / "home"))


def recording(source):
    recorder = Recorder(source)
    recorder.open()
    return recorder


def followed(recorder):
    wait_until(lambda: recorder.status().ended != "", "it never ended")
    why = recorder.status().ended
    return wav_samples(recorder.finish().path), why


def grow(path, pieces, recorder):
    """Add pieces one by one, each once the one before has been taken."""
    with path.open("ab") as handle:
        for piece in pieces:
            before = recorder.status().clock_s
            handle.write(piece)
            handle.flush()
            wait_until(lambda before=before: recorder.status().clock_s > before, "a piece was not taken")


@pytest.mark.parametrize("claimed", [0, 0xFFFFFFFF, 2000])
def test_a_growing_wav_file_is_taken_from_its_first_sample_until_it_rests(tmp_path, claimed):
    path = tmp_path / "other.wav"
    data = TALK.tobytes()
    path.write_bytes(header(0)[:40] + struct.pack("<I", claimed) + data[:3001])
    recorder = recording(Follower(path, **FAST))
    grow(path, [data[3001:20_000], data[20_000:50_001], data[50_001:]], recorder)
    taken, why = followed(recorder)
    assert np.array_equal(taken, TALK)
    assert why == "other.wav has not grown for 0.6 s: taken to be finished."


def test_a_file_written_by_the_standard_library_with_notes_at_its_end(tmp_path):
    path = tmp_path / "other.wav"
    handle = path.open("wb")
    writer = wave.open(handle, "wb")  # noqa: SIM115
    writer.setparams((1, 2, RATE, 0, "NONE", ""))
    writer.writeframesraw(TALK[:RATE].tobytes())
    handle.flush()
    recorder = recording(Follower(path, **FAST))
    wait_until(lambda: recorder.status().clock_s == 1.0, "the beginning was not taken")
    writer.writeframesraw(TALK[RATE:].tobytes())
    writer.close()
    handle.seek(0, os.SEEK_END)
    handle.write(struct.pack("<4sI", b"LIST", 26) + b"INFOISFT" + struct.pack("<I", 14) + b"some recorder\0")
    handle.close()
    taken, _ = followed(recorder)
    assert np.array_equal(taken, TALK)


def test_our_own_growing_recording_can_be_followed(tmp_path):
    file = NoteFile.create(tmp_path / "other.wav")
    recorder = recording(Follower(tmp_path / "other.wav", **FAST))
    for first in range(0, len(TALK), RATE):
        file.write(TALK[first : first + RATE].tobytes())
        wait_until(lambda want=first / RATE + 1: recorder.status().clock_s == want, "not taken")
    file.close()
    assert np.array_equal(followed(recorder)[0], TALK)


def test_raw_samples_are_taken_byte_for_byte(tmp_path):
    path = tmp_path / "other.raw"
    data = TALK.tobytes()
    path.write_bytes(data[:5])
    recorder = recording(Follower(path, **FAST))
    grow(path, [data[5:1000], data[1000:]], recorder)
    assert np.array_equal(followed(recorder)[0], TALK)


@pytest.mark.parametrize("as_wav", [True, False])
def test_a_named_pipe_is_taken_until_its_writer_closes_it(tmp_path, as_wav):
    path = tmp_path / "pipe"
    os.mkfifo(path)
    recorder = recording(Follower(path, **FAST))
    assert recorder.status().ended == "", "a pipe without a writer yet is only waiting"

    def write():
        with path.open("wb") as pipe:
            pipe.write((header(0xFFFF0000) if as_wav else b"") + TALK.tobytes())

    writer = threading.Thread(target=write)
    writer.start()
    taken, why = followed(recorder)
    writer.join()
    assert np.array_equal(taken, TALK)
    assert why == "The program that wrote to pipe has finished."


def test_finish_takes_what_is_there_and_lets_the_other_program_go_on(tmp_path):
    path = tmp_path / "pipe"
    os.mkfifo(path)
    recorder = recording(Follower(path, **FAST))
    with path.open("wb", buffering=0) as pipe:
        pipe.write(TALK[:20_000].tobytes())
        kept = wav_samples(recorder.finish().path)
    assert np.array_equal(kept, TALK[:20_000])


def test_a_pipe_that_never_ends_can_be_finished(tmp_path):
    path = tmp_path / "pipe"
    os.mkfifo(path)
    recorder = recording(Follower(path, **FAST))
    stop = threading.Event()

    def write():
        with path.open("wb", buffering=0) as pipe:
            while not stop.is_set():
                try:
                    pipe.write(TALK[:1600].tobytes())
                except BrokenPipeError:
                    return

    writer = threading.Thread(target=write)
    writer.start()
    wait_until(lambda: recorder.status().clock_s > 1, "nothing came")
    assert recorder.finish().duration_s > 1
    stop.set()
    writer.join()


def test_a_pause_leaves_out_what_the_other_program_records_meanwhile(tmp_path):
    path = tmp_path / "other.raw"
    path.write_bytes(TALK[:RATE].tobytes())
    recorder = recording(Follower(path, quiet_s=60, poll_s=0.01))
    wait_until(lambda: recorder.status().clock_s == 1.0, "not taken")
    recorder.pause()
    source = recorder.source
    with path.open("ab") as handle:
        handle.write(TALK[RATE : 2 * RATE].tobytes())
    seen = []
    take = source._take
    source._take = lambda block: (take(block), seen.append(block))
    with path.open("ab") as handle:
        handle.write(noise(0.01).tobytes())
    wait_until(lambda: len(seen) > 0, "not read")
    recorder.go_on()
    with path.open("ab") as handle:
        handle.write(TALK[2 * RATE :].tobytes())
    wait_until(lambda: recorder.status().clock_s >= 2.0, "not taken")
    assert np.array_equal(wav_samples(recorder.finish().path)[-RATE:], TALK[2 * RATE :])


def test_a_file_cut_short_by_the_other_program_keeps_what_was_taken(tmp_path):
    path = tmp_path / "other.raw"
    path.write_bytes(TALK.tobytes())
    recorder = recording(Follower(path, quiet_s=60, poll_s=0.01))
    wait_until(lambda: recorder.status().clock_s == 3.0, "not taken")
    path.write_bytes(b"")
    taken, why = followed(recorder)
    assert np.array_equal(taken, TALK)
    assert "cut short or begun anew" in why


def test_a_wav_file_without_sound_yet_is_waited_for(tmp_path):
    path = tmp_path / "other.wav"
    path.write_bytes(header(0)[:20])
    recorder = recording(Follower(path, quiet_s=60, poll_s=0.01))
    grow(path, [header(0)[20:] + TALK.tobytes()], recorder)
    assert np.array_equal(wav_samples(recorder.finish().path), TALK)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"OggS" + bytes(100), "is Ogg: only WAV or raw sound"),
        (b"ID3\x04" + bytes(100), "is MP3: only WAV or raw sound"),
    ],
)
def test_compressed_files_are_refused_before_anything_is_made(tmp_path, content, says):
    path = tmp_path / "other.wav"
    path.write_bytes(content)
    with pytest.raises(InputError, match=says):
        recording(Follower(path, **FAST))
    assert record_notes.unfinished() == ()


def test_compressed_sound_inside_a_wav_file_is_told(tmp_path):
    path = tmp_path / "other.wav"
    adpcm = struct.pack("<HHIIHH", 17, 1, RATE, 8000, 256, 4)
    path.write_bytes(b"RIFF\0\0\0\0WAVEfmt " + struct.pack("<I", 16) + adpcm + b"data\0\0\0\0" + bytes(500))
    recorder = recording(Follower(path, **FAST))
    wait_until(lambda: recorder.status().ended != "", "never told")
    assert "holds compressed sound (WAV form 17, 4 bits)" in recorder.status().ended
    recorder.close()


def test_what_is_no_file_is_said(tmp_path):
    with pytest.raises(InputError, match="is a folder"):
        Follower(tmp_path)
    with pytest.raises(InputError, match=r"no file .* yet; start the other program"):
        Follower(tmp_path / "gone.wav")


@pytest.mark.parametrize(
    ("kind", "dtype", "scale"),
    [
        ("u8", "u1", 127.0),
        ("s16", "<i2", 32_767.0),
        ("s32", "<i4", 2**31 - 1.0),
        ("flt", "<f4", 1.0),
        ("dbl", "<f8", 1.0),
    ],
)
@pytest.mark.parametrize(("rate", "channels"), [(48_000, 2), (44_100, 1), (16_000, 2)])
def test_other_forms_become_ours(kind, dtype, scale, rate, channels):
    tone = np.sin(2 * np.pi * 440 * np.arange(2 * rate) / rate) * 0.5
    values = tone * scale + (128 if kind == "u8" else 0)
    data = np.repeat(np.rint(values) if scale > 1 else values, channels).astype(dtype).tobytes()
    converter = Converter(SampleForm(kind, rate, channels))
    out = b"".join(converter.feed(data[first : first + 9973]) for first in range(0, len(data), 9973))
    ours = np.frombuffer(out + converter.flush(), np.int16)
    assert abs(len(ours) - 2 * RATE) <= 32
    wanted = sine(2.0, 440.0) / 2
    middle = slice(1000, 30_000)
    assert np.corrcoef(ours[middle], wanted[middle])[0, 1] > 0.999
    assert np.abs(ours[middle]).max() == pytest.approx(16_384, rel=0.03)


def test_24_bit_samples_become_ours():
    data = b"".join(struct.pack("<i", int(value) << 8)[:4][1:] for value in TALK[:5000].astype(int) * 256)
    ours = Converter(SampleForm("s24", RATE, 1))
    out = np.frombuffer(ours.feed(data) + ours.flush(), np.int16)
    assert np.abs(out.astype(int) - TALK[:5000]).max() <= 1


@pytest.mark.parametrize("form", [("mp3", RATE, 1), ("s16", 10, 1), ("s16", RATE, 0)])
def test_forms_that_cannot_be_are_said(form):
    with pytest.raises(InputError):
        SampleForm(*form)
