"""Words while he talks: the cutting into utterances, and the thread that hears them."""

from __future__ import annotations

import threading

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reviewer.errors import ModelError, SoundError
from reviewer.records import Word
from reviewer.speech import decode, live
from reviewer.speech.live import LiveWords
from reviewer.speech.live_cut import CONTEXT_S, MAX_S, UtteranceCutter
from reviewer.speech.recogniser import Segment
from reviewer.speech.record import Recorder
from reviewer.speech.sound_play import to_int16
from tests.speech.conftest import CLIP_S
from tests.speech.record_rig import RATE, FakeSource, noise, wait_until
from tests.speech.test_recogniser import error_rate

ROOM = 0.0005


def talk(seconds, seed=1):
    return noise(seconds, seed, 0.3)


def room(seconds, seed=99):
    return noise(seconds, seed, ROOM)


def cut(pcm, block=800):
    cutter = UtteranceCutter()
    found = []
    for first in range(0, len(pcm), block):
        found += cutter.feed(first, pcm[first : first + block])
    return found + cutter.flush()


def own(utterance):
    return utterance.pcm[utterance.context :]


def test_each_sentence_becomes_one_utterance():
    pcm = np.concatenate([room(1.0), talk(2.0), room(1.0), talk(1.5), room(2.0), talk(0.4), room(1.0)])
    found = cut(pcm)
    assert [round(len(own(one)) / RATE) for one in found] == [3, 2, 1]
    for one, (start, end) in zip(found, [(1.0, 3.0), (4.0, 5.5), (7.5, 7.9)], strict=True):
        assert start - 0.6 <= one.start / RATE < start, "a moment before the first sound is kept"
        assert one.end / RATE > end
        assert np.array_equal(own(one), pcm[one.start : one.end])


def test_an_utterance_comes_with_the_sound_before_it():
    pcm = np.concatenate([talk(4.0), room(0.7), talk(4.0), room(0.7), talk(2.0), room(0.7)])
    first, second, third = cut(pcm)
    assert first.context == 0
    assert second.context == second.start and third.context == CONTEXT_S * RATE
    for one in (second, third):
        assert np.array_equal(one.pcm, pcm[one.start - one.context : one.end])


def test_talk_without_a_pause_is_cut_where_it_is_quietest():
    dip = (talk(0.12) * 0.05).astype(np.int16)
    pcm = np.concatenate([room(0.3), talk(3.9), dip, talk(3.0), room(1.0)])
    first, second = cut(pcm)
    assert 4.2 * RATE <= first.end <= 4.4 * RATE, "in the dip"
    assert second.start == first.end


def test_the_short_end_of_a_talk_that_was_cut_is_not_taken_for_a_click():
    pcm = np.concatenate([room(0.5), talk(4.8), room(1.0)])
    found = cut(pcm)
    assert len(found) == 2 and found[1].start == found[0].end


def test_silence_and_clicks_are_no_utterance():
    assert cut(room(10.0)) == []
    assert cut(np.zeros(10 * RATE, np.int16)) == []
    assert cut(np.concatenate([room(2.0), talk(0.06), room(2.0)])) == []


def test_steady_film_noise_behind_the_talk_does_not_hide_its_pauses():
    steady = noise(14.0, 7, 0.02)
    pcm = steady.copy()
    for start in (2.0, 6.0, 10.0):
        pcm[int(start * RATE) : int((start + 2) * RATE)] += talk(2.0)
    found = [one for one in cut(pcm) if own(one).astype(float).std() > 2000]
    assert len(found) == 3


@settings(max_examples=20, deadline=None)
@given(
    lengths=st.lists(st.floats(0.1, 7.0), min_size=1, max_size=8),
    block=st.integers(400, 5000),
)
def test_every_loud_sample_is_in_exactly_one_utterance(lengths, block):
    pieces = [
        talk(seconds, index + 1) if index % 2 == 0 else room(seconds)
        for index, seconds in enumerate([*lengths, 1.0] if len(lengths) % 2 else lengths)
    ]
    pcm = np.concatenate(pieces)
    found = cut(pcm, block)
    covered = np.zeros(len(pcm), int)
    for one in found:
        assert np.array_equal(own(one), pcm[one.start : one.end])
        assert one.end - one.start <= (MAX_S + 0.1) * RATE
        covered[one.start : one.end] += 1
    assert covered.max(initial=0) <= 1
    at = 0
    for index, piece in enumerate(pieces):
        if index % 2 == 0 and len(piece) > 0.3 * RATE:
            assert covered[at : at + len(piece)].all(), "talk was left out"
        at += len(piece)


def test_a_jump_in_the_recording_ends_an_utterance():
    cutter = UtteranceCutter()
    assert cutter.feed(0, talk(1.0)) == []
    (first,) = cutter.feed(10 * RATE, talk(0.1))
    assert (first.start, first.end) == (0, RATE)
    (second,) = cutter.flush() or cutter.feed(10 * RATE + RATE // 10, talk(0.5)) or cutter.flush()
    assert second.start >= 10 * RATE and second.context <= RATE


class FakeEars:
    """Hears one word per second of sound, named by how loud that second is."""

    def __init__(self):
        self.heard = []
        self.may_go_on = threading.Event()
        self.may_go_on.set()

    def hear(self, audio, *, prompt="", hotwords="", beam=5):
        self.may_go_on.wait(30)
        self.heard.append((len(audio) / RATE, prompt, hotwords))
        for second in range(int(len(audio) / RATE + 0.5)):
            piece = audio[second * RATE : (second + 1) * RATE]
            if np.abs(piece).max() > 0.1:
                yield Segment((Word(f"w{second}", second + 0.2, second + 0.8, 0.9),))


@pytest.fixture
def ears():
    return FakeEars()


def listening(ears, **more):
    return LiveWords(lambda: ears, has_voice=lambda audio: True, **more)


def say(words, at, pcm):
    for first in range(0, len(pcm), 800):
        words.feed(at + first, pcm[first : first + 800].tobytes())
    return at + len(pcm)


def test_words_appear_while_the_talk_goes_on_with_times_of_the_recording(ears):
    words = listening(ears, prompt="jump set", hotwords="stunt")
    at = say(words, 0, np.concatenate([talk(2.0), room(1.0)]))
    wait_until(lambda: len(words.words) == 2, "no words while he talks")
    assert [word.start for word in words.words] == [0.2, 1.2]
    assert words.text == "w0 w1"
    at = say(words, at, np.concatenate([talk(2.0), room(1.0)]))
    wait_until(lambda: len(words.words) == 4, "no words for the second sentence")
    starts = [word.start for word in words.words]
    assert starts == sorted(starts), "the words of the context are not said twice"
    assert ears.heard[0][1:] == ("jump set", "stunt")
    assert words.note == "" and words.heard_s > 4
    words.close()


def test_the_last_words_appear_without_a_pause_after_them(ears):
    words = listening(ears)
    say(words, 0, talk(1.0))
    wait_until(lambda: words.text != "", "the end of the talk was not heard")
    words.close()


def test_what_waits_is_heard_together(ears):
    ears.may_go_on.clear()
    words = listening(ears)
    say(words, 0, np.concatenate([piece for seed in range(5) for piece in (talk(2.0, seed + 1), room(0.7))]))
    ears.may_go_on.set()
    wait_until(lambda: words.heard_s > 12, "not all was heard")
    assert len(ears.heard) < 5
    assert len(words.words) >= 10
    words.close()


def test_a_computer_too_slow_leaves_words_out_and_says_so(ears):
    ears.may_go_on.clear()
    words = listening(ears)
    at = say(words, 0, np.concatenate([talk(2.0), room(0.7)]))
    for seed in range(30):
        at = say(words, at, np.concatenate([talk(2.0, seed + 1), room(0.7)]))
    ears.may_go_on.set()
    wait_until(lambda: words.heard_s > 78, "it never caught up")
    assert words.note == live.BEHIND and "…" in words.text
    words.close()


def test_sound_without_a_voice_is_not_heard(ears):
    words = LiveWords(lambda: ears, has_voice=lambda audio: False)
    say(words, 0, np.concatenate([talk(2.0), room(1.0)]))
    wait_until(lambda: words.heard_s > 2, "never looked at")
    assert words.words == () and ears.heard == []
    words.close()


@pytest.mark.parametrize(
    "error", [ModelError("the speech model base is damaged; install it again"), RuntimeError("out of memory")]
)
def test_without_a_model_the_recording_goes_on_and_the_reason_is_shown(tmp_path, monkeypatch, error):
    monkeypatch.setenv("REVIEWER_HOME", str(tmp_path))

    def broken():
        raise error

    words = LiveWords(broken)
    wait_until(lambda: words.note != live.LOADING, "never told")
    assert words.note == f"No words while you talk: {error}"
    source = FakeSource()
    recorder = Recorder(source, on_samples=words.feed)
    recorder.open()
    recorder.start()
    source.say(talk(1.0))
    assert recorder.finish().duration_s == 1.0
    words.close()


def test_it_says_that_the_model_is_loading():
    gate = threading.Event()

    def slow():
        gate.wait(30)
        raise ModelError("gone")

    words = LiveWords(slow)
    assert words.note == live.LOADING
    gate.set()
    words.close()


def test_a_recorder_feeds_it(ears, tmp_path, monkeypatch):
    monkeypatch.setenv("REVIEWER_HOME", str(tmp_path))
    words = listening(ears)
    source = FakeSource()
    recorder = Recorder(source, on_samples=words.feed)
    recorder.open()
    recorder.start()
    source.say(np.concatenate([talk(2.0), room(1.0)]))
    wait_until(lambda: len(words.words) == 2, "no words")
    recorder.finish()
    words.close()


def test_nothing_recorded_still_says_so_with_live_words(ears, tmp_path, monkeypatch):
    monkeypatch.setenv("REVIEWER_HOME", str(tmp_path))
    words = listening(ears)
    recorder = Recorder(FakeSource(), on_samples=words.feed)
    recorder.open()
    with pytest.raises(SoundError, match="Nothing was recorded"):
        recorder.finish()
    words.close()


def test_the_real_model_hears_real_talk_as_it_comes(whisper, clip):
    words = LiveWords(lambda: whisper)
    audio = decode.span(clip, 0.0, CLIP_S)
    say(words, 0, to_int16(audio))
    wait_until(lambda: words.heard_s > CLIP_S - 2, "the end was not heard", 120)
    # live words are rough: on two demo recordings about 6 % of them were wrong
    assert error_rate(words.words) < 0.25
    assert all(0 <= word.start <= word.end <= CLIP_S + 0.5 for word in words.words)
    words.close()
