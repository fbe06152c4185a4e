"""Marks, the list of open notes, the trash."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from reviewer import paths
from reviewer.errors import InputError, LibraryError, SoundError
from reviewer.speech import record_file, record_notes
from tests.speech.record_rig import RATE, noise

TALK = noise(0.5)


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("REVIEWER_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


def a_note(path):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(record_file.header(TALK.nbytes) + TALK.tobytes())
    return path


def test_marks_are_on_the_disk_when_the_call_returns(tmp_path, monkeypatch):
    synced = []
    wav = tmp_path / "note.wav"
    log = record_notes.EventLog(wav)
    monkeypatch.setattr(record_notes.os, "fsync", lambda descriptor: synced.append(descriptor))
    assert log.add("mark", 2 * RATE)
    assert log.add("mark", int(3.5 * RATE), label="his hands")
    assert len(synced) == 2
    assert record_notes.read_marks(wav) == (
        record_notes.Mark(1, 2.0),
        record_notes.Mark(2, 3.5, "his hands"),
    )


def test_a_line_torn_by_a_crash_costs_only_itself(tmp_path):
    wav = tmp_path / "note.wav"
    log = record_notes.EventLog(wav)
    log.add("mark", RATE)
    log.close()
    marks = record_notes.marks_path(wav)
    marks.write_bytes(marks.read_bytes() + b'{"event": "mark", "at_s"')
    again = record_notes.EventLog(wav)
    again.add("mark", 4 * RATE)
    again.close()
    assert [mark.at_s for mark in record_notes.read_marks(wav)] == [1.0, 4.0]


def test_a_mark_the_disk_refused_is_written_with_the_next(tmp_path):
    wav = tmp_path / "note.wav"
    log = record_notes.EventLog(wav)
    whole = log._handle
    with Path("/dev/full").open("ab", buffering=0) as full:
        log._handle = full
        assert not log.add("mark", RATE)
    log._handle = whole
    assert log.add("mark", 2 * RATE)
    assert [mark.at_s for mark in record_notes.read_marks(wav)] == [1.0, 2.0]


def test_no_marks_file_means_no_marks(tmp_path):
    assert record_notes.read_marks(tmp_path / "note.wav") == ()


def test_new_notes_get_names_of_their_own():
    first = record_notes.new_path()
    a_note(first)
    second = record_notes.new_path()
    assert first != second and first.parent == second.parent == paths.recordings()


def test_the_name_given_is_checked(tmp_path):
    taken = a_note(tmp_path / "taken.wav")
    with pytest.raises(InputError, match="exists already"):
        record_notes.new_path(taken)
    with pytest.raises(InputError, match=r"must end in \.wav"):
        record_notes.new_path(tmp_path / "note.mp3")
    with pytest.raises(InputError, match="there is no folder"):
        record_notes.new_path(tmp_path / "nowhere" / "note.wav")
    assert record_notes.new_path(tmp_path / "friday") == tmp_path / "friday.wav"


def test_a_library_that_cannot_be_made_is_said(tmp_path):
    (tmp_path / "home").write_text("a file where the folder should be")
    with pytest.raises(LibraryError, match="cannot be made"):
        record_notes.new_path()


def test_an_open_note_is_listed_until_it_is_finished(tmp_path):
    wav = a_note(tmp_path / "elsewhere" / "note.wav")
    entry = record_notes.OpenNote(wav)
    assert record_notes.unfinished() == (), "it is being recorded now"
    entry.leave()
    (found,) = record_notes.unfinished()
    assert (found.path, found.duration_s) == (wav, 0.5)
    record_notes.OpenNote(wav).finish()
    assert record_notes.unfinished() == ()


def test_a_note_being_recorded_elsewhere_cannot_be_taken(tmp_path):
    wav = a_note(tmp_path / "note.wav")
    program = (
        "import sys; from pathlib import Path; from reviewer.speech.record_notes import OpenNote\n"
        "note = OpenNote(Path(sys.argv[1])); print('held', flush=True); sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program, str(wav)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as other:
        assert other.stdout.readline() == b"held\n"
        with pytest.raises(SoundError, match="another window"):
            record_notes.OpenNote(wav)
        with pytest.raises(SoundError, match="another window"):
            record_notes.recover(wav)
        assert record_notes.unfinished() == ()
        other.kill()
        other.wait()
    (found,) = record_notes.unfinished()
    assert found.path == wav


def test_recover_makes_whole_and_strikes_it_from_the_list(tmp_path):
    wav = a_note(tmp_path / "note.wav")
    record_notes.OpenNote(wav).leave()
    log = record_notes.EventLog(wav)
    log.add("mark", RATE // 4)
    log.close()
    wav.write_bytes(wav.read_bytes()[:-1001])
    recording = record_notes.recover(wav)
    assert recording.duration_s == pytest.approx(0.5 - 501 / RATE)
    assert recording.marks == (record_notes.Mark(1, 0.25),)
    assert record_file.inspect(wav).whole
    assert record_notes.unfinished() == ()


def test_recover_of_no_recording_leaves_everything_as_it_was(tmp_path):
    wav = tmp_path / "note.wav"
    wav.write_bytes(b"not sound")
    with pytest.raises(InputError, match="no WAV recording"):
        record_notes.recover(wav)
    assert wav.read_bytes() == b"not sound"


def test_entries_of_files_that_are_gone_are_dropped_but_not_of_drives_that_are(tmp_path):
    gone, away = tmp_path / "gone.wav", tmp_path / "drive" / "note.wav"
    for wav in (gone, away):
        record_notes.OpenNote(a_note(wav)).leave()
    gone.unlink()
    (tmp_path / "drive").rename(tmp_path / "unplugged")
    assert record_notes.unfinished() == ()
    (tmp_path / "unplugged").rename(tmp_path / "drive")
    assert [note.path for note in record_notes.unfinished()] == [away]


def test_a_torn_entry_does_not_stop_the_others(tmp_path, home):
    record_notes.OpenNote(a_note(tmp_path / "note.wav")).leave()
    (home / "recordings" / "open" / "torn.json").write_text('{"path": "/no')
    assert len(record_notes.unfinished()) == 1


def test_a_note_that_never_got_a_sample_is_not_offered(tmp_path):
    wav = tmp_path / "note.wav"
    wav.write_bytes(record_file.header(0))
    record_notes.EventLog(wav).close()
    record_notes.OpenNote(wav).leave()
    assert record_notes.unfinished() == ()
    assert not wav.exists() and not record_notes.marks_path(wav).exists()


def test_two_notes_of_one_name_in_two_folders_are_both_listed(tmp_path):
    for folder in ("a", "b"):
        record_notes.OpenNote(a_note(tmp_path / folder / "note.wav")).leave()
    assert {note.path.parent.name for note in record_notes.unfinished()} == {"a", "b"}


def test_the_trash_keeps_the_recording_its_marks_and_what_was_there(tmp_path, home):
    for content in (b"first", b"second"):
        wav = tmp_path / "note.wav"
        wav.write_bytes(content)
        record_notes.marks_path(wav).write_bytes(json.dumps({"event": "mark", "at_s": 1}).encode() + b"\n")
        where = record_notes.trash(wav)
        assert where.parent == home / "recordings" / "trash" and where.read_bytes() == content
        assert len(record_notes.read_marks(where)) == 1
        assert not wav.exists() and not record_notes.marks_path(wav).exists()
    assert len(list((home / "recordings" / "trash").glob("*.wav"))) == 2
