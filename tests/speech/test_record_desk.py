"""One sitting at the microphone, without any screen."""

from __future__ import annotations

import math
import threading

import numpy as np
import pytest

from reviewer.errors import InputError, SoundError
from reviewer.records import Word
from reviewer.speech import record_notes, sound
from reviewer.speech.recogniser import Segment
from reviewer.speech.record_desk import Action, Desk, make_desk, meter
from reviewer.speech.record_level import Level
from reviewer.speech.record_notes import Mark
from reviewer.speech.record_plain import record_plain
from reviewer.speech.record_state import State
from tests.speech.record_rig import RATE, FakeSource, noise, wait_until, wav_samples

TALK = noise(2.0)


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("REVIEWER_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


@pytest.fixture
def source():
    return FakeSource()


@pytest.fixture
def desk(source):
    made = Desk(source)
    made.open()
    yield made
    made.close()


def left_behind(source):
    """An unfinished note of two seconds with a mark."""
    desk = Desk(source)
    desk.open()
    desk.toggle()
    source.say(TALK)
    desk.mark()
    desk.close()


def test_one_key_records_pauses_and_goes_on(desk, source):
    assert (desk.view().headline, desk.view().clock) == ("Ready", "0:00.0")
    assert desk.view().can == {Action.RECORD, Action.CHOOSE}
    desk.toggle()
    source.say(TALK)
    view = desk.view()
    assert (view.headline, view.clock) == ("Recording", "0:02.0")
    assert view.can == {Action.PAUSE, Action.MARK, Action.FINISH, Action.CANCEL, Action.CHOOSE}
    desk.toggle()
    assert desk.view().headline == "Paused" and Action.GO_ON in desk.view().can
    desk.toggle()
    assert desk.view().state is State.RECORDING
    assert np.array_equal(wav_samples(desk.finish().path), TALK)
    assert desk.view().can == frozenset()


def test_marks_are_shown_with_their_time(desk, source):
    desk.toggle()
    assert desk.view().marks_line == "No marks yet"
    for _ in range(12):
        source.say(TALK[: RATE // 10])
        desk.mark()
    assert desk.view().marks_line.startswith("Marks  … 3: 0:00.3  4: 0:00.4")
    assert desk.view().marks_line.endswith("12: 0:01.2")


def test_what_is_wrong_with_the_microphone_is_in_the_view(desk, source):
    source.say(np.zeros(RATE, np.int16))
    assert desk.view().warnings[0].startswith("No sound at all arrives: the microphone is muted")


def test_an_unfinished_note_is_offered_and_gone_on_with(source):
    left_behind(source)
    desk = Desk(source)
    desk.open()
    (note,) = desk.unfinished()
    assert record_notes.describe(note).endswith(f"{note.started:%H:%M}, 0:02.0 long, 1 mark")
    desk.resume(note)
    view = desk.view()
    assert view.headline == f"Ready to go on with {note.path.name}"
    assert (view.clock_s, view.marks) == (2.0, (Mark(1, 2.0),))
    desk.toggle()
    source.say(TALK)
    assert desk.view().clock_s == 4.0
    recording = desk.finish()
    assert recording.path == note.path and recording.duration_s == 4.0
    assert desk.unfinished() == ()
    desk.close()


def test_an_unfinished_note_can_be_kept_as_it_is(desk, source):
    left_behind(FakeSource())
    (note,) = desk.unfinished()
    recording = desk.keep(note)
    assert (recording.path, recording.duration_s, len(recording.marks)) == (note.path, 2.0, 1)
    assert desk.unfinished() == ()


def test_leaving_without_a_decision_loses_nothing(desk, source):
    desk.toggle()
    source.say(TALK)
    assert desk.begun
    desk.close()
    assert len(record_notes.unfinished()) == 1


def test_microphones_of_one_name_are_told_apart(desk, monkeypatch):
    devices = (
        sound.SoundDevice("Headset", "usb-1", "input"),
        sound.SoundDevice("Headset", "usb-2", "input"),
        sound.SoundDevice("Camera", "usb-3", "input"),
    )
    monkeypatch.setattr(sound, "list_inputs", lambda: devices)
    assert [choice.label for choice in desk.input_choices()] == [
        "System default  (now)",
        "Headset (usb-1)",
        "Headset (usb-2)",
        "Camera",
    ]


def test_a_name_that_is_taken_is_said_before_the_talk(tmp_path, source):
    (tmp_path / "friday.wav").write_bytes(b"an old note")
    with pytest.raises(InputError, match="exists already"):
        Desk(source, out=tmp_path / "friday.wav").open()
    assert not source.is_open


class Ears:
    def hear(self, audio, *, prompt="", hotwords="", beam=5):
        yield Segment((Word("anchors", 0.1, 0.6, 0.9),))


def test_words_are_shown_while_he_talks_and_the_reason_when_there_are_none(source, monkeypatch):
    monkeypatch.setattr("reviewer.speech.activity.voiced", lambda audio: [1])
    gate = threading.Event()

    def load():
        gate.wait(30)
        return Ears()

    desk = Desk(source, load_ears=load)
    desk.open()
    desk.toggle()
    assert "as soon as the speech model is loaded" in desk.view().words_note
    gate.set()
    source.say(TALK)
    wait_until(lambda: desk.view().words == "anchors", "no words")
    assert desk.view().words_note == ""
    desk.close()


def test_a_followed_recording_ends_by_itself(tmp_path):
    path = tmp_path / "other.raw"
    path.write_bytes(TALK.tobytes())
    desk = make_desk(follow=path, quiet_s=0.3)
    desk.open()
    assert desk.follows and desk.unfinished() == ()
    assert desk.view().level is None and Action.CHOOSE not in desk.view().can
    wait_until(lambda: desk.ended, "it never ended")
    assert desk.view().headline == "other.raw has not grown for 0.3 s: taken to be finished."
    assert np.array_equal(wav_samples(desk.finish().path), TALK)
    desk.close()


def test_a_followed_recording_without_sound_says_both(tmp_path):
    path = tmp_path / "other.raw"
    path.write_bytes(b"")
    desk = make_desk(follow=path, quiet_s=0.2)
    desk.open()
    wait_until(lambda: desk.ended, "it never ended")
    with pytest.raises(SoundError, match=r"taken to be finished\. Nothing was recorded"):
        desk.finish()
    desk.close()


def test_recording_without_a_screen_tells_what_goes_on_and_keeps_the_note(tmp_path):
    path = tmp_path / "other.raw"
    path.write_bytes(TALK.tobytes())
    told = []
    recording = record_plain(
        make_desk(follow=path, quiet_s=0.3, out=tmp_path / "friday.wav"),
        tell=told.append,
        should_stop=lambda: False,
    )
    assert recording.path == tmp_path / "friday.wav" and recording.duration_s == 2.0
    assert told == [
        "Taking what is recorded to other.raw.",
        "other.raw has not grown for 0.3 s: taken to be finished.",
    ]


@pytest.mark.parametrize("how", ["asked", "Ctrl-C", "lost"])
def test_recording_without_a_screen_ends_with_the_note_kept(source, how, monkeypatch):
    monkeypatch.setattr("reviewer.speech.record.STALL_S", 0.1)
    asked = []

    def should_stop():
        asked.append(1)
        if len(asked) == 1:
            source.say(TALK)
        if len(asked) == 2 and how == "Ctrl-C":
            raise KeyboardInterrupt
        if len(asked) == 2 and how == "lost":
            source.there = False
        return how == "asked" and len(asked) == 2

    told = []
    left_behind(FakeSource())
    recording = record_plain(Desk(source), tell=told.append, should_stop=should_stop)
    assert recording.duration_s == 2.0
    assert told[0].startswith("Unfinished: note-") and told[1] == "Recording."
    assert bool(recording.problems) == (how == "lost")


@pytest.mark.parametrize(
    ("level", "filled", "peak"),
    [
        (Level(), 0, None),
        (Level(0.0, 0.0), 60, 59),
        (Level(-6.0, -30.0), 30, 53),
        (Level(-60.0, -61.0), 0, None),
        (Level(-59.0, -80.0), 0, 0),
    ],
)
def test_the_meter_is_a_bar_of_sixty_decibels(level, filled, peak):
    drawn = meter(level, 60)
    assert (drawn.filled, drawn.peak) == (filled, peak)


def test_the_meter_names_its_reference():
    words = meter(Level(-0.04, -3.0103), 60).words
    assert words == "peak   0.0  RMS  -3.0  dBFS, a full-scale sine is -3.0 RMS"
    assert "-inf" in meter(Level(-math.inf, -math.inf), 60).words


def test_an_input_that_is_not_there_is_said(monkeypatch):
    monkeypatch.setattr(sound, "list_inputs", lambda: ())
    with pytest.raises(SoundError, match="no microphone on this computer"):
        make_desk(input_name="Headset")
