"""Recording and playing for real, through a private PulseAudio with virtual devices."""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pytest

from reviewer.errors import InputError, SoundError
from reviewer.speech import record_level, record_notes, sound, sound_play
from reviewer.speech.record import Recorder, State
from reviewer.speech.record_file import NoteFile
from reviewer.speech.record_mic import Microphone
from tests.speech.record_rig import (
    RATE,
    VirtualSound,
    noise,
    sine,
    wait_until,
    wav_samples,
    without_lead,
)


@pytest.fixture(scope="module")
def virtual():
    # a socket's path may have about a hundred characters, fewer than pytest's folders do
    with tempfile.TemporaryDirectory(prefix="sound") as folder:
        rig = VirtualSound(Path(folder))
        yield rig
        rig.stop()


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch, virtual):
    monkeypatch.setenv("REVIEWER_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("PULSE_SERVER", virtual.server)
    return tmp_path / "home"


@pytest.fixture
def no_server(monkeypatch, tmp_path):
    monkeypatch.setenv("PULSE_SERVER", f"unix:{tmp_path}/nobody")


class Counted(Microphone):
    """A microphone that counts the samples that were taken from it."""

    def __init__(self, name=None):
        super().__init__(sound.find_input(name) if name else None)
        self.count = 0

    def open(self, take, ended):
        def counted(block):
            self.count += len(block) // 2
            take(block)

        super().open(counted, ended)

    def taken(self):
        return self.count


@pytest.fixture
def pipe():
    return Counted("pipe")


@pytest.fixture
def recorder(pipe):
    made = Recorder(pipe)
    made.open()
    yield made
    made.close()


PUSH = np.zeros(4800, np.int16)  # up to one block stays in the virtual microphone


def captured(recorder, count):
    """A device begins with a block of silence, which counts too."""
    return lambda: recorder.status().clock_s * RATE >= count + 2 * 800


def test_devices_are_listed_by_name_and_key(virtual):
    assert [device.id for device in sound.list_inputs()] == [
        "pipe",
        "mic",
        "mic_in.monitor",
        "speaker.monitor",
    ]
    assert {device.id for device in sound.list_outputs()} == {"mic_in", "speaker"}
    assert sound.find_input("PIPE").id == "pipe"
    assert sound.find_input("remapped").id == "mic", "part of a name that only one has"
    with pytest.raises(SoundError, match=r"fits several devices; .*speaker\.monitor"):
        sound.find_input("monitor of null output")
    with pytest.raises(SoundError, match='no device "kazoo"; there are: "Unix FIFO source'):
        sound.find_input("kazoo")


def test_every_sample_said_is_in_the_file_in_its_place(virtual, recorder, pipe):
    talk = noise(5.0)
    recorder.start()
    with virtual.speaking() as speech:
        speech.say(np.concatenate([talk, PUSH]), pipe.taken)
        wait_until(captured(recorder, len(talk)), "the talk did not arrive")
    heard = without_lead(wav_samples(recorder.finish().path))
    assert np.array_equal(heard[: len(talk)], talk)


def test_the_first_syllable_is_there_when_talk_and_key_come_together(virtual, recorder, pipe):
    talk = noise(1.0, seed=2)
    with virtual.speaking() as speech:
        speech.say(talk[: RATE // 4], pipe.taken)
        wait_until(lambda: recorder.status().level.peak_dbfs > -20, "nothing was heard before the key")
        recorder.start()
        speech.say(np.concatenate([talk[RATE // 4 :], PUSH]), pipe.taken)
        wait_until(captured(recorder, len(talk)), "the talk did not arrive")
    heard = without_lead(wav_samples(recorder.finish().path))
    assert np.array_equal(heard[: len(talk)], talk)


def test_a_file_played_into_a_sound_card_is_recorded_true(virtual, tmp_path):
    talk = noise(2.0, seed=3)
    raw = tmp_path / "talk.raw"
    raw.write_bytes(talk.tobytes())
    microphone = Counted("mic")
    recorder = Recorder(microphone)
    recorder.open()
    # a null sink that nobody reads sleeps; wait until it delivers
    wait_until(lambda: microphone.count > 0, "the virtual sound card never woke")
    recorder.start()
    subprocess.run(
        [*("paplay", "--raw", "--device=mic_in", "--rate=16000", "--channels=1", "--format=s16le"), raw],
        check=True,
    )
    wait_until(lambda: recorder.status().level.peak_dbfs < -90, "the talk never ended")
    recorded = wav_samples(recorder.finish().path)
    heard = without_lead(recorded)[: len(talk)]
    assert np.corrcoef(heard.astype(float), talk.astype(float))[0, 1] > 0.99999


def test_the_level_shown_is_that_of_the_sound(virtual, recorder, pipe):
    with virtual.speaking() as speech:
        speech.say((sine(1.0, 1000.0) / 2).astype(np.int16), pipe.taken)
        # half a full-scale sine: -3.0103 (published for the full one) - 6.0206 dBFS (by formula)
        wait_until(lambda: abs(recorder.status().level.rms_dbfs + 9.0309) < 0.05, "the level is wrong")
        speech.say(np.zeros(RATE, np.int16), pipe.taken)
        wait_until(lambda: recorder.status().warnings == (record_level.DEAD,), "no word of the mute")


def test_a_microphone_pulled_out_keeps_the_note_and_goes_on_when_it_is_back(virtual, recorder, pipe):
    talk = noise(1.0, seed=6)
    recorder.start()
    with virtual.speaking() as speech:
        speech.say(np.concatenate([talk, PUSH]), pipe.taken)
        wait_until(captured(recorder, len(talk)), "the talk did not arrive")
    virtual.unplug("pipe")
    wait_until(lambda: recorder.status().state is State.PAUSED, "the loss was not noticed")
    assert '"Unix FIFO source' in recorder.status().problem and "is gone" in recorder.status().problem
    with pytest.raises(SoundError, match='no device "pipe"'):
        recorder.go_on()
    virtual.plug_in_pipe()
    recorder.go_on()
    with virtual.speaking() as speech:
        speech.say(np.concatenate([talk, PUSH]), pipe.taken)
        wait_until(lambda: recorder.status().clock_s >= 2.35, "the second talk did not arrive")
    recording = recorder.finish()
    sound_only = wav_samples(recording.path)
    assert np.array_equal(sound_only[sound_only != 0][: 2 * RATE], np.concatenate([talk, talk]))
    assert len(recording.problems) == 1


KILLED = """
    import sys
    from pathlib import Path
    from reviewer.speech import sound
    from reviewer.speech.record import Recorder
    from reviewer.speech.record_mic import Microphone
    recorder = Recorder(Microphone(sound.find_input("pipe")), out=Path(sys.argv[1]))
    recorder.open()
    recorder.start()
    print("recording", flush=True)
    sys.stdin.readline()
    recorder.mark()
    print("marked", flush=True)
    sys.stdin.read()
"""


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_killed_at_any_moment_at_most_one_second_is_missing(virtual, tmp_path, seed):
    rest = random.Random(seed).uniform(0.1, 2.4)
    talk = noise(3.0, seed=seed)
    path = tmp_path / "note.wav"
    program = "\n".join(line[4:] for line in KILLED.splitlines())
    with (
        subprocess.Popen(
            [sys.executable, "-c", program, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
        ) as process,
        virtual.speaking() as speech,
    ):
        assert process.stdout.readline() == b"recording\n"
        speech.say(talk[: RATE // 4])
        process.stdin.write(b"\n")
        process.stdin.flush()
        assert process.stdout.readline() == b"marked\n"
        speech.say(talk[RATE // 4 : RATE // 4 + int(rest * RATE)])
        process.kill()
        process.wait()
    (left,) = record_notes.unfinished()
    assert left.path == path and len(left.marks) == 1
    wav_samples(path)  # plays as it stands
    recording = record_notes.recover(path)
    kept = wav_samples(path)
    assert len(kept) / RATE == recording.duration_s
    heard = without_lead(kept)
    assert len(heard) >= speech.said - RATE, f"killed after {speech.said / RATE:.2f} s of talk"
    assert np.array_equal(heard[: speech.said], talk[: len(heard)])
    assert 0 < recording.marks[0].at_s < 1.0
    assert record_notes.unfinished() == ()


def test_what_is_heard_is_exactly_the_span(virtual, tmp_path):
    talk = noise(2.0, seed=7)
    path = tmp_path / "note.wav"
    file = NoteFile.create(path)
    file.write(talk.tobytes())
    file.close()
    speaker = sound.find_output("speaker")
    with virtual.listening() as heard:
        playing = sound_play.play_span(path, 0.5, 1.25, device=speaker)
        assert playing.playing
        assert playing.wait(20)
        assert playing.position_s == 0.75 and not playing.playing
        span = talk[RATE // 2 : RATE // 4 * 5]
        wait_until(lambda: len(without_lead(heard())) >= len(span), "the end was not heard")
        everything = without_lead(heard())
    assert np.array_equal(everything[: len(span)], span)
    assert not everything[len(span) :].any()


def test_stop_is_heard_at_once(virtual):
    with virtual.listening() as heard:
        playing = sound_play.play_samples(noise(60.0), device=sound.find_output("speaker"))
        wait_until(lambda: len(without_lead(heard())) > 0, "nothing was heard")
        playing.stop()
        assert not playing.playing and playing.position_s < 30
        wait_until(lambda: len(heard()) and not heard()[-800:].any(), "it never fell silent")
    playing.stop()


def test_without_a_sound_system_each_way_says_one_sentence(no_server, home, capfd):
    assert sound.list_inputs() == () and sound.list_outputs() == ()
    with pytest.raises(SoundError, match="There is no microphone on this computer"):
        sound.find_input("pipe")
    with pytest.raises(SoundError, match="There is no microphone on this computer"):
        Recorder(Microphone()).open()
    with pytest.raises(SoundError, match="There is no speaker or headphone"):
        sound_play.play_samples(noise(0.1))
    assert capfd.readouterr().err == "", "C libraries must not write over the screen"
    assert not home.exists()


def test_the_system_default_is_listened_to_when_none_is_named_and_missed_when_it_goes(virtual, monkeypatch):
    monkeypatch.setenv("PULSE_SOURCE", "pipe")
    pipe = Counted()
    recorder = Recorder(pipe)
    recorder.open()
    recorder.start()
    with virtual.speaking() as speech:
        speech.say(noise(0.5), pipe.taken)
        wait_until(lambda: recorder.status().level.peak_dbfs > -20, "the default was not heard")
    virtual.unplug("pipe")
    # the sound server may put another input in its place, which here gives nothing but silence
    wait_until(
        lambda: recorder.status().problem or recorder.status().warnings == (record_level.DEAD,),
        "the loss was not noticed",
    )
    recorder.close()
    virtual.plug_in_pipe()


@pytest.mark.parametrize("speed", [0.25, 0.5, 0.75, 1.5, 2.0])
def test_slower_is_longer_at_the_same_pitch(speed):
    tone = (sine(2.0, 440.0) / 2).astype(np.int16)
    slow = sound_play.stretch(tone, speed)
    assert len(slow) == pytest.approx(len(tone) / speed, rel=0.03)
    spectrum = np.abs(np.fft.rfft(slow * np.hanning(len(slow))))
    assert spectrum.argmax() * RATE / len(slow) == pytest.approx(440.0, abs=2.0)


def test_spoken_speed_is_untouched():
    talk = noise(0.5)
    assert np.array_equal(sound_play.stretch(talk, 1.0), talk)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: sound_play.play_samples(noise(0.1), speed=9), "speed 9 is outside 0.25 to 4"),
        (lambda: sound_play.play_samples(np.zeros(0, np.int16)), "no sound in that span"),
        (lambda: sound_play.play_span(Path("x.wav"), 2.0, 2.0), "must end after it starts"),
        (lambda: sound_play.play_span(Path("gone.wav"), 1.0, 2.0), "no file gone.wav"),
    ],
)
def test_what_cannot_be_played_is_said(call, says):
    with pytest.raises(InputError, match=says):
        call()


def test_floats_are_held_at_full_scale():
    floats = np.array([0.0, 0.5, 1.0, -1.0, 1.7], np.float32)
    assert sound_play.to_int16(floats).tolist() == [0, 16_384, 32_767, -32_768, 32_767]
