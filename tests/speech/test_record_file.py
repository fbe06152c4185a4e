"""The growing WAV file, and its repair after a crash at any byte."""

from __future__ import annotations

import os
import struct
import wave

import numpy as np
import pytest

from reviewer.errors import InputError
from reviewer.speech import decode, record_file
from tests.speech.record_rig import RATE, noise, wav_samples

TALK = noise(1.0)


def test_the_file_is_whole_after_every_write(tmp_path):
    path = tmp_path / "note.wav"
    file = record_file.NoteFile.create(path)
    assert len(wav_samples(path)) == 0
    for first in range(0, len(TALK), 1000):
        file.write(TALK[first : first + 1000].tobytes())
        assert np.array_equal(wav_samples(path), TALK[: first + 1000])
    file.close()
    assert record_file.inspect(path).whole


def test_the_header_is_what_the_standard_library_writes(tmp_path):
    with wave.open(str(tmp_path / "theirs.wav"), "wb") as theirs:
        theirs.setparams((1, 2, RATE, 0, "NONE", ""))
        theirs.writeframes(TALK.tobytes())
    ours = record_file.header(TALK.nbytes) + TALK.tobytes()
    assert (tmp_path / "theirs.wav").read_bytes() == ours


def test_nothing_is_ever_written_over(tmp_path):
    (tmp_path / "note.wav").write_bytes(b"an old note")
    with pytest.raises(FileExistsError):
        record_file.NoteFile.create(tmp_path / "note.wav")
    assert (tmp_path / "note.wav").read_bytes() == b"an old note"


def test_sync_reaches_the_disk_once_for_new_samples(tmp_path, monkeypatch):
    synced = []
    file = record_file.NoteFile.create(tmp_path / "note.wav")
    monkeypatch.setattr(
        record_file.os, "fsync", lambda descriptor: synced.append(os.fstat(descriptor).st_size)
    )
    file.write(TALK.tobytes())
    assert file.unsynced_samples == len(TALK)
    file.sync()
    file.sync()
    assert synced == [44 + TALK.nbytes]
    assert file.unsynced_samples == 0
    file.close()


@pytest.mark.parametrize("cut", [44, 45, 46, 47, 1001, 44 + TALK.nbytes - 1])
def test_a_file_cut_at_any_byte_is_whole_again(tmp_path, cut):
    path = tmp_path / "note.wav"
    path.write_bytes((record_file.header(TALK.nbytes) + TALK.tobytes())[:cut])
    shape = record_file.recover(path)
    assert shape.whole and shape.ours
    assert np.array_equal(wav_samples(path), TALK[: (cut - 44) // 2])


@pytest.mark.parametrize("claimed", [0, 1000, 0xFFFFFFFF])
def test_a_header_that_was_never_finished_is_set_to_what_is_there(tmp_path, claimed):
    path = tmp_path / "note.wav"
    path.write_bytes(record_file.header(0)[:40] + struct.pack("<I", claimed) + TALK.tobytes())
    before = record_file.inspect(path)
    assert not before.whole and before.duration_s == 1.0
    record_file.recover(path)
    assert np.array_equal(wav_samples(path), TALK)
    assert decode.duration(path) == pytest.approx(1.0)


def test_a_whole_file_is_not_touched(tmp_path):
    path = tmp_path / "note.wav"
    path.write_bytes(record_file.header(TALK.nbytes) + TALK.tobytes())
    os.utime(path, ns=(1, 1))
    record_file.recover(path)
    assert path.stat().st_mtime_ns == 1


def test_chunks_after_the_sound_are_no_sound(tmp_path):
    path = tmp_path / "note.wav"
    tail = struct.pack("<4sI", b"LIST", 5) + b"INFO!\0"
    path.write_bytes(record_file.header(TALK.nbytes) + TALK.tobytes() + tail)
    assert record_file.inspect(path).data == TALK.nbytes
    assert record_file.recover(path).whole
    assert path.read_bytes().endswith(tail)


def test_another_programs_stereo_file_is_recovered_by_whole_frames(tmp_path):
    path = tmp_path / "theirs.wav"
    with wave.open(str(path), "wb") as theirs:
        theirs.setparams((2, 2, 48_000, 0, "NONE", ""))
        theirs.writeframes(TALK.tobytes())
    path.write_bytes(path.read_bytes()[:-3])
    shape = record_file.recover(path)
    assert not shape.ours and shape.data % 4 == 0
    with wave.open(str(path)) as handle:
        assert handle.getnframes() == len(TALK) // 2 - 1


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "no WAV recording"),
        (b"RIFF", "no WAV recording"),
        (b"ID3" + bytes(100), "no WAV recording"),
        (record_file.header(0)[:30], "broke off before any sound"),
        (b"RIFF\0\0\0\0WAVEdata\x10\0\0\0" + bytes(16), "broke off before any sound"),
    ],
)
def test_what_is_no_recording_is_said_in_one_sentence(tmp_path, content, says):
    path = tmp_path / "note.wav"
    path.write_bytes(content)
    with pytest.raises(InputError, match=says):
        record_file.recover(path)
    assert path.read_bytes() == content


def test_a_missing_file_is_said(tmp_path):
    with pytest.raises(InputError, match="cannot be read"):
        record_file.recover(tmp_path / "gone.wav")


def test_a_note_is_gone_on_with_where_it_stopped(tmp_path):
    path = tmp_path / "note.wav"
    path.write_bytes((record_file.header(TALK.nbytes) + TALK.tobytes())[:-101])
    record_file.recover(path)
    file = record_file.NoteFile.append(path)
    assert file.samples == len(TALK) - 51
    file.write(TALK.tobytes())
    file.close()
    assert np.array_equal(wav_samples(path), np.concatenate([TALK[:-51], TALK]))


def test_a_write_beyond_what_a_wav_file_can_be_changes_nothing(tmp_path, monkeypatch):
    path = tmp_path / "note.wav"
    file = record_file.NoteFile.create(path)
    file.write(TALK.tobytes())
    monkeypatch.setattr(record_file, "MAX_DATA", TALK.nbytes + 10)
    with pytest.raises(OSError, match="as long as a WAV file can be"):
        file.write(TALK.tobytes())
    file.close()
    assert np.array_equal(wav_samples(path), TALK)
