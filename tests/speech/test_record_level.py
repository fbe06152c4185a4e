"""Levels against published values (REFERENCE: dBFS where a full-scale square wave is 0)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from reviewer.speech import record_level as level
from tests.speech.record_rig import RATE, noise, sine

SQUARE = np.where(sine(1.0, 100.0) >= 0, 32_767, -32_768).astype(np.int16)


def pcm(values) -> np.ndarray:
    return np.clip(np.rint(values), -32_768, 32_767).astype(np.int16)


# Full-scale sine -3.0103 dBFS, square 0.0, half amplitude -6.0206 dB below, one 16-bit step -90.309:
# ITU-R BS.1770-4 names 0 dBFS sine in one channel -3.01 LKFS (quoted); the rest by formula.
@pytest.mark.parametrize(
    ("samples", "rms", "peak"),
    [
        (pcm(sine(1.0, 100.0)), -3.0103, 0.0),
        (SQUARE, 0.0, 0.0),
        (pcm(sine(1.0, 100.0) / 2), -3.0103 - 6.0206, -6.0206),
        (np.ones(1000, np.int16), -90.309, -90.309),
        (np.full(1000, -32_768, np.int16), 0.0, 0.0),
        # sine of peak 2 cut at 1: RMS -1.0679 dBFS (by formula; numpy agrees)
        (pcm(sine(1.0, 100.0) * 2), -1.0679, 0.0),
    ],
)
def test_levels_match_published_values(samples, rms, peak):
    assert level.rms_dbfs(samples) == pytest.approx(rms, abs=0.002)
    assert level.peak_dbfs(samples) == pytest.approx(peak, abs=0.002)


def test_silence_is_minus_infinity():
    assert level.rms_dbfs(np.zeros(100, np.int16)) == -math.inf
    assert level.peak_dbfs(np.zeros(0, np.int16)) == -math.inf


def test_a_clipped_sine_stands_two_thirds_of_the_time_at_full_scale():
    # sine of peak 2 cut at 1: exactly 2/3 of the time at full scale (by formula)
    clipped = pcm(sine(1.0, 100.0) * 2)
    assert np.mean((clipped >= 32_767) | (clipped <= -32_768)) == pytest.approx(2 / 3, abs=0.01)
    assert level.is_clipped(clipped)


def test_a_sine_that_only_touches_the_top_is_not_clipped():
    assert not level.is_clipped(pcm(sine(1.0, 1000.0)))


def test_two_samples_at_the_top_are_chance_and_three_are_not():
    two = np.array([0, 32_767, 32_767, 0, -32_768, 5], np.int16)
    three = np.array([0, 32_767, 32_767, 32_767, 0], np.int16)
    assert not level.is_clipped(two)
    assert level.is_clipped(three)


def fed(*pieces: np.ndarray) -> level.InputWatch:
    watch = level.InputWatch()
    for piece in pieces:
        for first in range(0, len(piece), 800):
            watch.feed(piece[first : first + 800])
    return watch


def room(seconds: float) -> np.ndarray:
    """A working microphone in a quiet room, about -70 dBFS."""
    return noise(seconds, seed=4, loudness=0.0005)


def talk(seconds: float, peak: float = 0.4) -> np.ndarray:
    return noise(seconds, seed=5, loudness=peak)


def test_the_meter_shows_the_last_third_of_a_second():
    watch = fed(talk(1.0), room(0.5))
    assert watch.level.peak_dbfs < -60
    watch = fed(room(0.5), pcm(sine(0.5, 100.0)))
    assert watch.level.rms_dbfs == pytest.approx(-3.0103, abs=0.05)


def test_a_muted_microphone_is_told_within_half_a_second():
    watch = fed(talk(2.0))
    assert watch.warnings() == ()
    watch.feed(np.zeros(int(0.55 * RATE), np.int16))
    assert watch.warnings() == (level.DEAD,)


def test_a_constant_that_is_not_zero_is_an_unplugged_input_too():
    assert fed(np.full(RATE, 37, np.int16)).warnings() == (level.DEAD,)


def test_mute_is_over_with_the_first_sound():
    assert fed(talk(1.0), np.zeros(RATE, np.int16), talk(0.1)).warnings() == ()


def test_a_microphone_that_never_gives_speech_is_told_after_three_seconds():
    assert fed(room(2.9)).warnings() == ()
    assert fed(room(3.1)).warnings() == (level.SILENT,)


def test_a_coach_who_watches_is_not_a_broken_microphone():
    assert fed(talk(2.0), room(15.0)).warnings() == ()
    assert fed(talk(2.0), room(21.0)).warnings() == (level.SILENT,)


def test_quiet_talk_is_told():
    quiet = 10 ** (-40 / 20)
    assert fed(talk(5.0, quiet)).warnings() == (level.QUIET,)
    assert fed(talk(5.0, 0.2)).warnings() == ()


def test_clipping_is_told_at_once_and_for_three_seconds():
    loud = pcm(sine(0.1) * 2)
    assert fed(talk(1.0), loud).warnings() == (level.LOUD,)
    assert fed(talk(1.0), loud, talk(2.8)).warnings() == (level.LOUD,)
    assert fed(talk(1.0), loud, talk(3.2)).warnings() == ()


def test_block_length_does_not_matter():
    piece = np.concatenate([talk(1.0), room(0.2)])
    by_block, at_once = fed(piece), level.InputWatch()
    for first in range(0, len(piece), 173):
        at_once.feed(piece[first : first + 173])
    assert at_once.level.rms_dbfs == pytest.approx(by_block.level.rms_dbfs, abs=1.0)
    assert at_once.warnings() == by_block.warnings()
