"""The recorder, fed by a source without any sound system."""

from __future__ import annotations

import struct
import subprocess
import sys
import textwrap

import numpy as np
import pytest

from reviewer.errors import InputError, SoundError
from reviewer.speech import record, record_file, record_notes, record_state, record_writer
from reviewer.speech.record import Recorder, State
from tests.speech.record_rig import RATE, FakeSource, noise, wait_until, wav_samples

TALK = noise(3.0)


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("REVIEWER_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


@pytest.fixture
def source():
    return FakeSource()


@pytest.fixture
def recorder(source):
    made = Recorder(source)
    made.open()
    yield made
    made.close()


def test_what_is_said_is_in_the_file(recorder, source):
    recorder.start()
    source.say(TALK)
    recording = recorder.finish()
    assert np.array_equal(wav_samples(recording.path), TALK)
    assert recording.duration_s == 3.0 and not recording.problems and not recording.cancelled
    assert not source.is_open
    assert record_notes.unfinished() == ()


def test_the_half_second_before_the_key_is_kept_and_no_more(recorder, source):
    source.say(TALK)
    recorder.start()
    source.say(TALK[:1600])
    kept = wav_samples(recorder.finish().path)
    assert np.array_equal(kept, np.concatenate([TALK[-RATE // 2 :], TALK[:1600]]))


def test_a_pause_leaves_out_what_is_said_then_but_for_the_half_second_before_going_on(recorder, source):
    recorder.start()
    source.say(TALK[:RATE])
    recorder.pause()
    source.say(noise(2.0, seed=9))
    source.say(TALK[RATE : RATE + RATE // 2])
    recorder.go_on()
    source.say(TALK[RATE + RATE // 2 :])
    recording = recorder.finish()
    assert np.array_equal(wav_samples(recording.path), TALK)
    events = [event["event"] for event in record_notes.read_events(recording.path)]
    assert events == ["start", "pause", "go_on", "finish"]


def test_going_on_at_once_does_not_repeat_what_was_recorded_before_the_pause(recorder, source):
    recorder.start()
    source.say(TALK[:RATE])
    recorder.pause()
    recorder.go_on()
    source.say(TALK[RATE:])
    assert np.array_equal(wav_samples(recorder.finish().path), TALK)


def test_marks_carry_the_clock_of_the_samples(recorder, source):
    assert recorder.mark() is None, "nothing is recorded yet"
    recorder.start()
    source.say(TALK[: RATE // 2])
    recorder.mark()
    source.say(TALK[: 2 * RATE])
    recorder.mark("second angle")
    assert recorder.status().clock_s == 2.5
    on_disk = record_notes.read_marks(recorder.path)
    recording = recorder.finish()
    assert (
        recording.marks
        == on_disk
        == (
            record_notes.Mark(1, 0.5),
            record_notes.Mark(2, 2.5, "second angle"),
        )
    )


def test_no_more_than_a_second_is_ever_off_the_disk(recorder, source, monkeypatch):
    synced = [0]
    real = record_file.os.fsync

    def fsync(descriptor):
        real(descriptor)
        synced.append(record_file.os.fstat(descriptor).st_size)

    recorder.start()
    monkeypatch.setattr(record_file.os, "fsync", fsync)
    for second in range(1, 6):
        source.say(noise(1.0, seed=second))
        wait_until(
            lambda want=second: max(synced) >= 44 + (want - 1) * RATE * 2, "a second stayed off the disk"
        )
    wait_until(lambda: max(synced) == 44 + 5 * RATE * 2, "silence kept the last words off the disk")
    assert recorder.status().saved_s == 5.0


def test_cancel_moves_to_the_trash_and_deletes_nothing(recorder, source, home):
    recorder.start()
    source.say(TALK)
    recorder.mark()
    was = recorder.path
    recording = recorder.cancel()
    assert recording.cancelled and recording.path.parent == home / "recordings" / "trash"
    assert np.array_equal(wav_samples(recording.path), TALK)
    assert len(record_notes.read_marks(recording.path)) == 1
    assert not was.exists()
    assert record_notes.unfinished() == ()


@pytest.mark.parametrize("end", ["finish", "cancel"])
def test_a_note_without_a_sample_is_no_note(recorder, end, home):
    recorder.start()
    with pytest.raises(SoundError, match="Nothing was recorded"):
        getattr(recorder, end)()
    assert not list((home / "recordings").glob("*.*"))
    assert record_notes.unfinished() == ()


def test_finishing_twice_is_said(recorder, source):
    recorder.start()
    source.say(TALK)
    recorder.finish()
    with pytest.raises(SoundError, match="ended already"):
        recorder.finish()


def test_a_note_let_go_is_offered_and_gone_on_with(source):
    first = Recorder(source)
    first.open()
    first.start()
    source.say(TALK)
    first.mark()
    first.close()
    (left,) = record_notes.unfinished()
    assert left.duration_s == 3.0 and len(left.marks) == 1

    again = Recorder(source)
    again.resume(left.path)
    again.open()
    again.start()
    source.say(TALK)
    again.mark()
    recording = again.finish()
    assert recording.path == left.path
    assert np.array_equal(wav_samples(recording.path), np.concatenate([TALK, TALK]))
    assert [(mark.number, mark.at_s) for mark in recording.marks] == [(1, 3.0), (2, 6.0)]
    assert record_notes.unfinished() == ()


def test_a_note_in_another_programs_form_is_not_gone_on_with(source, tmp_path):
    path = tmp_path / "theirs.wav"
    theirs = record_file.header(TALK.nbytes).replace(struct.pack("<I", RATE), struct.pack("<I", 44_100), 1)
    path.write_bytes(theirs + TALK.tobytes())
    before = path.read_bytes()
    recorder = Recorder(source)
    recorder.resume(path)
    recorder.open()
    with pytest.raises(SoundError, match="another program"):
        recorder.start()
    recorder.close()
    assert path.read_bytes() == before


def test_a_name_that_is_taken_is_refused_and_the_old_file_kept(source, tmp_path):
    (tmp_path / "friday.wav").write_bytes(b"an old note")
    recorder = Recorder(source, out=tmp_path / "friday.wav")
    recorder.open()
    with pytest.raises(InputError, match="exists already"):
        recorder.start()
    recorder.close()
    assert (tmp_path / "friday.wav").read_bytes() == b"an old note"


def test_a_lost_microphone_is_told_and_the_note_goes_on_with_another(recorder, source, monkeypatch):
    monkeypatch.setattr(record, "STALL_S", 0.05)
    recorder.start()
    source.say(TALK)
    wait_until(lambda: "is it switched on" in " ".join(recorder.status().warnings), "no word of the stall")
    assert recorder.status().state is State.RECORDING
    source.there = False
    wait_until(lambda: recorder.status().state is State.PAUSED, "the loss was not noticed")
    status = recorder.status()
    assert status.problem.startswith('"Desk microphone" is gone: what was said until then is kept.')
    assert status.clock_s == 3.0
    with pytest.raises(SoundError):
        recorder.go_on()
    spare = FakeSource("Headset")
    recorder.change_source(spare)
    recorder.go_on()
    spare.say(TALK)
    recording = recorder.finish()
    assert np.array_equal(wav_samples(recording.path), np.concatenate([TALK, TALK]))
    assert recording.problems == (status.problem,)
    lost = [event for event in record_notes.read_events(recording.path) if event["event"] == "lost"]
    assert [event["at_s"] for event in lost] == [3.0]


def test_the_same_microphone_plugged_in_again_goes_on(recorder, source, monkeypatch):
    monkeypatch.setattr(record, "STALL_S", 0.05)
    recorder.start()
    source.say(TALK)
    source.there = False
    wait_until(lambda: recorder.status().problem != "", "the loss was not noticed")
    source.there = True
    recorder.go_on()
    assert recorder.status().problem == "" and recorder.status().state is State.RECORDING
    source.say(TALK)
    assert recorder.finish().duration_s == 6.0


def test_a_microphone_lost_before_the_start_is_told_after_it(recorder, source, monkeypatch):
    monkeypatch.setattr(record, "STALL_S", 0.05)
    source.say(TALK)
    source.there = False
    wait_until(lambda: recorder.status().warnings != (), "no word of the stall")
    recorder.start()
    wait_until(lambda: recorder.status().problem != "", "the loss was not noticed")
    assert recorder.finish().duration_s == 0.5


def test_a_choice_that_cannot_be_opened_is_tried_again_at_the_start(recorder, source):
    headset = FakeSource("Headset")
    headset.there = False
    with pytest.raises(SoundError, match="Headset"):
        recorder.change_source(headset)
    with pytest.raises(SoundError, match="Headset"):
        recorder.start()
    assert recorder.status().state is State.READY
    headset.there = True
    recorder.start()
    headset.say(TALK)
    assert recorder.finish().duration_s == 3.0


def test_a_microphone_changed_while_talking_leaves_no_hole(recorder, source):
    recorder.start()
    source.say(TALK[:RATE])
    other = FakeSource("Headset")
    recorder.change_source(other)
    assert not source.is_open
    source.push(TALK[:800].tobytes())  # a device that has not noticed its closing
    other.say(TALK[RATE:])
    assert np.array_equal(wav_samples(recorder.finish().path), TALK)


def test_a_source_that_is_no_device_is_taken_from_its_first_sample(tmp_path):
    pipe = FakeSource("a pipe", live=False)
    recorder = Recorder(pipe)
    recorder.open()
    pipe.say(TALK)
    pipe.end("The other program has finished.")
    assert recorder.status().ended == "The other program has finished."
    assert recorder.status().warnings == ()
    assert np.array_equal(wav_samples(recorder.finish().path), TALK)


def test_a_source_that_cannot_be_opened_leaves_nothing_behind(home):
    for live in (True, False):
        absent = FakeSource(live=live)
        absent.there = False
        with pytest.raises(SoundError):
            Recorder(absent).open()
    assert not list((home / "recordings").glob("*.wav"))
    assert record_notes.unfinished() == ()


def test_the_longest_note_stops_itself_and_is_kept(recorder, source, monkeypatch):
    monkeypatch.setattr(record, "MAX_SAMPLES", 2 * RATE)
    recorder.start()
    source.say(TALK)
    assert recorder.status().problem == "A note holds at most 12 hours: finish this one."
    with pytest.raises(SoundError, match="at most 12 hours"):
        recorder.go_on()
    assert recorder.finish().duration_s == 2.0


def test_a_nearly_full_disk_is_told_in_minutes(recorder, source, monkeypatch):
    recorder.start()
    usage = record.shutil.disk_usage("/")
    monkeypatch.setattr(record.shutil, "disk_usage", lambda path: usage._replace(free=5 * 60 * RATE * 2))
    assert recorder.status().warnings == ("The disk is nearly full: room for about 5 more minutes.",)


DISK_FULL = """
    import resource, sys
    import numpy as np
    from reviewer.speech.record import Recorder
    from tests.speech.record_rig import FakeSource, noise, wait_until, wav_samples

    source, talk = FakeSource(), noise(4.0)
    recorder = Recorder(source)
    recorder.open()
    recorder.start()
    source.say(talk[:32000])
    wait_until(lambda: recorder.status().saved_s == 2.0, "not saved")
    # the kernel refuses to let any file grow beyond this
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (44 + 64000 + 9999, hard))
    source.say(talk[32000:])
    wait_until(lambda: recorder.status().problem, "no word of it")
    print(recorder.status().problem, recorder.status().state.value, len(wav_samples(recorder.path)))
    if sys.argv[1] == "go on":
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        recorder.go_on()
    recording = recorder.finish()
    kept = wav_samples(recording.path)
    print(np.array_equal(kept, talk[: len(kept)]), len(kept), len(recording.problems))
"""


@pytest.mark.parametrize(("then", "samples"), [("finish", 36_999), ("go on", 64_000)])
def test_a_disk_that_takes_no_more_keeps_what_was_recorded(then, samples):
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(DISK_FULL), then], capture_output=True, text=True
    )
    first, last = done.stdout.splitlines()
    assert first == (
        "The disk refuses the recording (File too large): the first 0:02.3 are kept. "
        "Put it right and go on, or finish. paused 36999"
    ), done.stderr
    assert last == f"True {samples} 1"


def test_a_full_disk_has_its_own_sentence():
    error = OSError(record_writer.errno.ENOSPC, "No space left on device")
    assert record_writer._sentence(error, 61 * RATE) == (
        "The disk is full: the first 1:01.0 are kept. Free some space and go on, or finish."
    )


def test_samples_are_passed_on_after_they_are_written(source):
    taken = []
    recorder = Recorder(source, on_samples=lambda before, block: taken.append((before, block)))
    recorder.open()
    recorder.start()
    source.say(TALK)
    recorder.finish()
    assert b"".join(block for _, block in taken) == TALK.tobytes()
    assert [before for before, _ in taken] == list(np.cumsum([0, *[len(b) // 2 for _, b in taken]])[:-1])


def test_lost_sound_is_found_by_comparing_with_the_time_that_passed():
    now = [0.0]
    arrivals = record_state.Arrivals(clock=lambda: now[0])
    for _ in range(1200):  # a minute in blocks of 50 ms
        arrivals.add(800)
        now[0] += 0.05
    assert arrivals.lost_s == 0.0
    now[0] += 3.0  # nothing came for three seconds, and nothing was made up for
    for _ in range(620):
        arrivals.add(800)
        now[0] += 0.05
    assert arrivals.lost_s == pytest.approx(3.0, abs=0.1)


def test_blocks_keep_their_order_however_often_writing_is_tried_again(tmp_path):
    """`retry` from another thread while the writer is at work: what was said first stays first."""
    from reviewer.speech.record_file import NoteFile
    from reviewer.speech.record_writer import NoteWriter

    path = tmp_path / "note.wav"
    writer = NoteWriter(
        NoteFile.create(path), refused=lambda why: None, each_round=lambda: None, on_samples=None
    )
    for first in range(0, len(TALK), 160):
        writer.put(TALK[first : first + 160].tobytes())
        assert writer.retry()
    writer.stop()
    assert np.array_equal(wav_samples(path), TALK)
