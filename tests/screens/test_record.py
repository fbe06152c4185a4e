"""The recording screen, driven by keys and mouse."""

from __future__ import annotations

import asyncio
import subprocess
import sys
import textwrap
from contextlib import asynccontextmanager

import numpy as np
import pytest
from textual import events
from textual.widgets import Button, OptionList

from reviewer.errors import ReviewerError, SoundError
from reviewer.screens.record import RecordApp, RecordScreen, record_session
from reviewer.screens.record_terminal import screen_to_itself
from reviewer.speech import record_notes
from reviewer.speech.record_desk import Desk, InputChoice, loudness, make_desk
from reviewer.speech.record_level import Level
from reviewer.speech.record_state import State
from tests.speech.record_rig import RATE, FakeSource, noise, wav_samples

TALK = noise(2.0, loudness=0.2)
SIZES = [(80, 24), (120, 40)]


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("REVIEWER_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


@pytest.fixture
def source():
    return FakeSource()


@asynccontextmanager
async def shown(desk, size=(80, 24)):
    desk.open()
    app = RecordApp(desk)
    try:
        async with app.run_test(size=size) as pilot:
            await pilot.pause()
            yield app, pilot
    finally:
        desk.close()


async def until(true, otherwise):
    for _ in range(3000):
        if true():
            return
        await asyncio.sleep(0.01)
    raise AssertionError(otherwise)


def text(app, name):
    return str(app.screen.query_one(name).render())


def buttons(app):
    return [str(button.label) for button in app.screen.query(Button) if button.display]


async def test_a_note_by_keys(source):
    desk = Desk(source)
    async with shown(desk) as (app, pilot):
        await pilot.press("space")
        source.say(TALK)
        await pilot.press("m")
        await pilot.press("space")
        assert desk.view().state is State.PAUSED
        await pilot.press("space", "f")
    recording = app.return_value
    assert np.array_equal(wav_samples(recording.path), TALK)
    assert [mark.at_s for mark in recording.marks] == [2.0]


async def test_a_note_by_mouse(source):
    desk = Desk(source)
    async with shown(desk) as (app, pilot):
        await pilot.click("#do-record")
        source.say(TALK)
        await pilot.click("#do-mark")
        await pilot.click("#do-pause")
        await pilot.click("#do-go_on")
        await pilot.click("#do-finish")
    assert app.return_value.duration_s == 2.0 and len(app.return_value.marks) == 1


@pytest.mark.parametrize("size", SIZES)
async def test_everything_is_on_the_screen_and_each_key_shown_is_true(source, size):
    desk = Desk(source)
    async with shown(desk, size) as (app, pilot):
        assert buttons(app) == ["Record (space)", "Input (i)", "Leave (q)"]
        await pilot.press("m", "f", "x")
        assert desk.view().state is State.READY and app.screen.is_current, "keys not shown do nothing"
        await pilot.press("space")
        source.say(TALK)
        await until(lambda: text(app, "#clock") == "0:02.0", "the clock stands")
        assert buttons(app) == [
            "Pause (space)",
            "Mark (m)",
            "Finish (f)",
            "Cancel (x)",
            "Input (i)",
            "Leave (q)",
        ]
        for button in app.screen.query(Button):
            if button.display:
                assert app.screen.region.contains_region(button.region), f"{button.label} is cut off"
                assert button.region.width >= len(str(button.label)), f"{button.label} is cut off"
        for name in ("#headline", "#clock", "#input", "LevelBar", "#words", "#marks"):
            assert app.screen.region.contains_region(app.screen.query_one(name).region), name
        assert text(app, "#headline") == "● Recording"
        assert "dBFS, a full-scale sine is -3.0 RMS" in text(app, "LevelBar")
        await pilot.press("space")
        await until(lambda: "Go on (space)" in buttons(app), "the label does not follow")


async def test_cancel_asks_and_can_be_taken_back(source):
    desk = Desk(source)
    async with shown(desk) as (app, pilot):
        await pilot.press("space")
        source.say(TALK)
        await pilot.press("x")
        await until(lambda: len(app.screen.query(OptionList)) == 1, "it was not asked")
        await pilot.press("b")
        await until(lambda: isinstance(app.screen, RecordScreen), "the question stays")
        assert desk.view().state is State.RECORDING
        await pilot.press("x")
        await until(lambda: len(app.screen.query(OptionList)) == 1, "it was not asked")
        await pilot.press("escape")
        await until(lambda: isinstance(app.screen, RecordScreen), "the question stays")
        assert desk.view().state is State.RECORDING
        await pilot.press("x")
        await until(lambda: len(app.screen.query(OptionList)) == 1, "it was not asked")
        await pilot.press("x")
    assert app.return_value.cancelled and app.return_value.path.parent.name == "trash"
    assert app.return_value.path.exists()


@pytest.mark.parametrize("key", ["q", "escape", "ctrl+q", "ctrl+c"])
async def test_leaving_before_the_start_needs_no_question(source, key):
    async with shown(Desk(source)) as (app, pilot):
        await pilot.press(key)
    assert app.return_value is None and not source.is_open


@pytest.mark.parametrize("key", ["q", "ctrl+q", "ctrl+c"])
async def test_leaving_a_note_asks_and_loses_nothing(source, key):
    async with shown(Desk(source)) as (app, pilot):
        await pilot.press("space")
        source.say(TALK)
        await pilot.press(key)
        await until(lambda: len(app.screen.query(OptionList)) == 1, "it was not asked")
        await pilot.press("l")
    assert app.return_value is None
    (note,) = record_notes.unfinished()
    assert note.duration_s == 2.0


async def test_an_unfinished_note_is_offered_at_the_next_start(source):
    desk = Desk(source)
    desk.open()
    desk.toggle()
    source.say(TALK)
    desk.close()
    async with shown(Desk(source)) as (app, pilot):
        await until(lambda: len(app.screen.query(OptionList)) == 1, "it was not offered")
        await pilot.press("g")
        await until(lambda: "Ready to go on with" in text(app.screen_stack[1], "#headline"), "not taken up")
        await until(lambda: isinstance(app.screen, RecordScreen), "the question stays")
        await pilot.press("space")
        source.say(TALK)
        await pilot.press("f")
    assert app.return_value.duration_s == 4.0


@pytest.mark.parametrize(("key", "kept"), [("f", True), ("l", False)])
async def test_an_unfinished_note_can_be_kept_or_left_for_later(source, key, kept):
    desk = Desk(source)
    desk.open()
    desk.toggle()
    source.say(TALK)
    desk.close()
    async with shown(Desk(source)) as (app, pilot):
        await until(lambda: len(app.screen.query(OptionList)) == 1, "it was not offered")
        await pilot.press(key)
        if not kept:
            await until(lambda: isinstance(app.screen, RecordScreen), "the question stays")
            await pilot.press("q")
    assert (app.return_value is not None) is kept
    assert len(record_notes.unfinished()) == (0 if kept else 1)


async def test_another_microphone_can_be_chosen_while_talking(source, monkeypatch):
    choices = (InputChoice("System default", None), InputChoice("Headset", None))
    headset = FakeSource("Headset")
    monkeypatch.setattr(Desk, "input_choices", lambda self: choices)
    monkeypatch.setattr(Desk, "choose", lambda self, device: self._recorder.change_source(headset))
    desk = Desk(source)
    async with shown(desk) as (app, pilot):
        await pilot.press("space")
        source.say(TALK[:RATE])
        await pilot.press("i")
        await until(lambda: len(app.screen.query(OptionList)) == 1, "no list")
        await pilot.press("down", "enter")
        await until(lambda: isinstance(app.screen, RecordScreen), "the list stays")
        headset.say(TALK[RATE:])
        await until(lambda: "Headset" in text(app, "#input"), "the new name is not shown")
        await pilot.press("f")
    assert np.array_equal(wav_samples(app.return_value.path), TALK)


async def test_warnings_stand_on_the_screen_in_words(source):
    async with shown(Desk(source)) as (app, pilot):
        source.say(np.zeros(RATE, np.int16))
        await until(lambda: "muted, unplugged" in text(app, "#warnings"), "no word of the mute")
        await pilot.press("q")


async def test_a_key_that_is_refused_says_why_and_the_note_goes_on(source, monkeypatch):
    desk = Desk(source)

    def refused(self):
        raise SoundError("The disk is full: the first 0:02.0 are kept.")

    async with shown(desk) as (app, pilot):
        monkeypatch.setattr(Desk, "toggle", refused)
        await pilot.press("space")
        await until(lambda: len(app._notifications) == 1, "no word of it")
        assert next(iter(app._notifications)).message.startswith("The disk is full")
        await pilot.press("q")


async def test_a_followed_file_ends_the_screen_by_itself(tmp_path):
    path = tmp_path / "other.raw"
    path.write_bytes(TALK.tobytes())
    async with shown(make_desk(follow=path, quiet_s=0.3)) as (app, _):
        await until(lambda: app.return_value is not None, "it never ended")
    assert np.array_equal(wav_samples(app.return_value.path), TALK)


async def test_a_followed_file_without_sound_ends_with_the_reason(tmp_path):
    path = tmp_path / "other.raw"
    path.write_bytes(b"")
    async with shown(make_desk(follow=path, quiet_s=0.3)) as (app, _):
        await until(lambda: app.return_value is not None, "it never ended")
    assert isinstance(app.return_value, ReviewerError)
    assert "Nothing was recorded" in str(app.return_value)


def test_a_session_without_a_terminal_follows_and_returns_the_note(tmp_path):
    path = tmp_path / "other.raw"
    path.write_bytes(TALK.tobytes())
    told = []
    recording = record_session(follow=path, quiet_s=0.3, on_screen=False, tell=told.append)
    assert recording.duration_s == 2.0 and told


def test_a_session_without_a_microphone_is_one_sentence(monkeypatch, tmp_path, home):
    monkeypatch.setenv("PULSE_SERVER", f"unix:{tmp_path}/nobody")
    for on_screen in (True, False):
        with pytest.raises(SoundError, match="no microphone on this computer"):
            record_session(live=False, on_screen=on_screen)
    assert record_notes.unfinished() == ()


def test_noise_from_c_goes_to_the_log_and_the_screen_keeps_the_terminal(tmp_path):
    program = textwrap.dedent(
        """
        import os, sys
        from pathlib import Path
        from reviewer.screens.record_terminal import screen_to_itself
        with screen_to_itself(Path(sys.argv[1])):
            os.write(2, b"ALSA lib pcm.c: underrun occurred\\n")
            sys.__stderr__.write("the screen")
        os.write(2, b" and after")
        """
    )
    log = tmp_path / "screen.log"
    done = subprocess.run([sys.executable, "-c", program, str(log)], capture_output=True, text=True)
    assert done.stderr == "the screen and after"
    assert log.read_text() == "ALSA lib pcm.c: underrun occurred\n"


def test_a_log_that_cannot_be_made_does_not_stop_the_screen(tmp_path):
    (tmp_path / "file").write_text("no folder")
    with screen_to_itself(tmp_path / "file" / "screen.log"):
        pass


async def test_escape_and_a_key_typed_quickly_are_two_keys(source):
    """A terminal hands them over as one key with alt."""
    desk = Desk(source, load_ears=None)
    async with shown(desk) as (app, pilot):
        await pilot.press("space")
        source.say(TALK)
        await pilot.press("x")
        await until(lambda: not isinstance(app.screen, RecordScreen), "nothing was asked")
        app.post_message(events.Key("alt+m", None))
        await until(lambda: len(desk.view().marks_line) > len("No marks yet"), "no mark was set")
        assert isinstance(app.screen, RecordScreen)


@pytest.mark.parametrize(
    ("peak", "word"), [(-70.0, "silence"), (-40.0, "quiet"), (-12.0, "good"), (-0.5, "too loud")]
)
def test_the_level_is_said_in_a_word_too(peak, word):
    """Common practice, no source."""
    assert loudness(Level(peak, peak - 6)) == word
