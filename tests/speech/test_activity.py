"""Chunks cut in pauses, silence cut out and times put back."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewer.speech import activity, decode
from reviewer.speech.activity import Packed, Stretch
from reviewer.speech.decode import RATE

from .fakes import loud
from .sounds import Audio, tones


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(activity, "voiced", loud)
    monkeypatch.setattr(activity, "CHUNK_S", 20.0)


def blocks(audio: Audio, seconds: float) -> list[Audio]:
    size = round(seconds * RATE)
    return [audio[at : at + size] for at in range(0, len(audio), size)]


TALK = tones((12, 0.5), (2, 0.0), (3, 0.5), (0.5, 0.0), (14, 0.5), (1, 0.0), (5, 0.5))


def test_cuts_fall_into_the_longest_late_pause() -> None:
    found = list(activity.chunks(blocks(TALK, 3.0)))
    assert [(chunk.start, chunk.end) for chunk in found] == [(0.0, 13.0), (13.0, 32.0), (32.0, 37.5)]
    assert np.array_equal(np.concatenate([chunk.audio for chunk in found]), TALK)
    assert [len(chunk.voice) for chunk in found] == [1, 2, 1]


@pytest.mark.parametrize("seconds", [0.7, 5.0, 100.0])
def test_cuts_do_not_depend_on_the_blocks(seconds: float) -> None:
    wanted = [(chunk.start, chunk.end) for chunk in activity.chunks(blocks(TALK, 3.0))]
    assert [(chunk.start, chunk.end) for chunk in activity.chunks(blocks(TALK, seconds))] == wanted


def test_going_on_makes_the_same_cuts() -> None:
    whole = list(activity.chunks(blocks(TALK, 3.0)))
    rest = list(activity.chunks(blocks(TALK, 4.0), skip_samples=round(whole[0].end * RATE)))
    assert [(chunk.start, chunk.end) for chunk in rest] == [(c.start, c.end) for c in whole[1:]]
    assert np.array_equal(rest[0].audio, whole[1].audio)
    assert list(activity.chunks(blocks(TALK, 4.0), skip_samples=len(TALK))) == []


def test_without_a_pause_the_cut_is_where_it_is_quietest() -> None:
    audio = tones((14, 0.5), (0.3, 0.02), (20, 0.5))
    first = next(iter(activity.chunks(blocks(audio, 3.0))))
    assert first.end == pytest.approx(14.15, abs=0.1)


def test_silence_is_cut_at_full_length() -> None:
    found = list(activity.chunks(blocks(tones((45, 0.0)), 3.0)))
    assert [len(chunk.audio) / RATE for chunk in found] == [20.0, 20.0, 5.0]
    assert all(chunk.voice == () for chunk in found)


def test_short_pauses_stay_and_long_ones_go() -> None:
    voice = [Stretch(1.0, 2.0), Stretch(3.5, 4.0), Stretch(9.0, 10.0)]
    kept = [(round(s.start, 2), round(s.end, 2)) for s in activity.padded(voice, 10.2)]
    assert kept == [(0.6, 4.4), (8.6, 10.2)]


def test_packed_times_go_back_to_where_they_were() -> None:
    audio = np.arange(10 * RATE, dtype=np.float32)
    packed = Packed(audio, [Stretch(1.0, 2.0), Stretch(5.0, 8.0)])
    assert len(packed.audio) == 4 * RATE
    assert packed.original(0.25, 0.5) == (1.25, 1.5)
    assert packed.original(1.25, 1.5) == (5.25, 5.5)
    # a word over the seam belongs to the side where its middle is
    assert packed.original(0.8, 1.1) == (1.8, 2.0)
    assert packed.original(0.95, 1.3) == (5.0, 5.3)
    assert packed.original(3.9, 4.4) == (7.9, 8.0)


@given(st.lists(st.tuples(st.integers(1, 300), st.integers(1, 300)), min_size=1, max_size=6), st.data())
def test_every_packed_sample_comes_from_where_its_time_says(
    pieces: list[tuple[int, int]], data: st.DataObject
) -> None:
    stretches, at = [], 0
    for pause, length in pieces:
        stretches.append(Stretch((at + pause) / 100, (at + pause + length) / 100))
        at += pause + length
    audio = np.arange((at + 50) * RATE // 100, dtype=np.float32)
    packed = Packed(audio, stretches)
    sample = data.draw(st.integers(0, len(packed.audio) - 1))
    start, _ = packed.original(sample / RATE, sample / RATE)
    assert abs(audio[min(round(start * RATE), len(audio) - 1)] - packed.audio[sample]) <= 1


def test_talk_over_a_telephone_band_is_a_voice() -> None:
    # three sentences of a recording of 250 to 3600 Hz that the detector, left as it comes, does not hear
    recording = Path(__file__).parents[1] / "audio" / "dev" / "mixed-2.ogg"
    audio = decode.span(recording, 40.0, 60.0)
    heard_s = sum(stretch.length for stretch in activity.voiced(audio))
    assert heard_s > 12
