"""Lost, looped and invented speech, each from word times and voice alone."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewer.records import Word
from reviewer.speech import doubt
from reviewer.speech.activity import Stretch
from reviewer.speech.doubt import Run


def spoken(text: str, start: float = 0.0, pace: float = 0.4, probability: float = 0.9) -> list[Word]:
    return [
        Word(word, start + n * pace, start + (n + 1) * pace - 0.05, probability)
        for n, word in enumerate(text.split())
    ]


def test_talk_that_is_covered_loses_nothing() -> None:
    words = spoken("second and eight inside zone he wins the rep")
    assert doubt.lost([Stretch(0.0, 3.6)], words) == []


def test_a_stretch_without_words_is_lost() -> None:
    words = [*spoken("second and eight"), *spoken("he wins", start=12.0)]
    (hole,) = doubt.lost([Stretch(0.0, 6.0), Stretch(6.3, 13.0)], words)
    assert hole.start == pytest.approx(1.5, abs=0.1)
    assert hole.end == pytest.approx(11.65, abs=0.1)


def test_a_pause_is_not_lost() -> None:
    words = [*spoken("second and eight"), *spoken("he wins", start=12.0)]
    assert doubt.lost([Stretch(0.0, 1.3), Stretch(12.0, 12.8)], words) == []


def test_a_word_stretched_over_the_hole_does_not_hide_it() -> None:
    words = [*spoken("second and"), Word("eight", 0.8, 9.0), *spoken("he wins", start=9.0)]
    (hole,) = doubt.lost([Stretch(0.0, 9.8)], words)
    assert hole.length > 6


def test_breaths_do_not_add_up_over_words() -> None:
    voice = [Stretch(n * 1.0, n * 1.0 + 0.95) for n in range(20)]
    words = [Word("win", n * 1.0 + 0.3, n * 1.0 + 0.6) for n in range(20)]
    assert doubt.lost(voice, words, least_s=0.8) == []


def test_no_words_at_all_loses_every_voice() -> None:
    voice = [Stretch(1.0, 4.0), Stretch(20.0, 21.0)]
    assert doubt.lost(voice, []) == [Stretch(1.0, 4.0)]
    assert doubt.lost(voice, [], least_s=0.5) == voice


@given(
    st.lists(st.tuples(st.floats(0.0, 3.0), st.floats(0.1, 5.0)), max_size=8),
    st.lists(st.tuples(st.floats(0.0, 30.0), st.floats(0.0, 2.0)), max_size=12),
)
def test_what_is_lost_is_voice_and_apart(
    pieces: list[tuple[float, float]], spans: list[tuple[float, float]]
) -> None:
    voice, at = [], 0.0
    for pause, length in pieces:
        voice.append(Stretch(at + pause + 0.2, at + pause + 0.2 + length))
        at = voice[-1].end
    words = sorted((Word("win", start, start + length) for start, length in spans), key=lambda w: w.start)
    found = doubt.lost(voice, words, least_s=1.0)
    for hole in found:
        inside = sum(max(0.0, min(hole.end, v.end) - max(hole.start, v.start)) for v in voice)
        assert inside >= 1.0 - 1e-6
        assert not any(hole.start < word.start + 0.01 < hole.end for word in words)
    assert all(a.end <= b.start for a, b in pairwise(found))
    # more words never lose more
    assert (
        sum(h.length for h in doubt.lost(voice, words[:-1], least_s=0.0))
        >= sum(h.length for h in doubt.lost(voice, words, least_s=0.0)) - 1e-6
    )


@pytest.mark.parametrize(
    ("text", "looped"),
    [
        ("he wins the rep and he wins the next rep", []),
        ("go go go get him", []),
        ("jump set, jump set, jump set. He wins", []),
        ("jump set, jump set, jump set, Jump set. He wins", ["jump set, jump set, jump set, Jump set."]),
        ("no no no no no good", ["no no no no no"]),
        ("he wins the rep he wins the rep he wins the rep", ["he wins the rep " * 3]),
        ("well he wins the rep he wins the rep", []),
        ("set A-A-A-A-A-A-A-A-A-A-A-A-A-A-A-A-A-A-A-A-A-A win", ["A-" * 21 + "A"]),
    ],
)
def test_loops(text: str, looped: list[str]) -> None:
    words = spoken(text)
    found = [" ".join(word.text for word in words[run.first : run.last]) for run in doubt.loops(words)]
    assert found == [part.strip() for part in looped]


def test_two_loops_are_two() -> None:
    words = spoken("no no no no no he wins yes yes yes yes yes")
    assert doubt.loops(words) == [Run(0, 5), Run(7, 12)]


def test_words_over_silence_have_no_voice() -> None:
    words = [*spoken("he wins"), *spoken("thanks for watching", start=10.0)]
    assert doubt.voiceless([Stretch(0.0, 0.8)], words) == [Run(2, 5)]


def test_an_edge_that_is_a_little_off_is_no_invention() -> None:
    assert doubt.voiceless([Stretch(0.3, 2.0)], spoken("second and eight")) == []
    assert doubt.voiceless([], []) == []


def test_a_few_words_the_model_doubts_are_a_guess_and_one_is_not() -> None:
    sure, guessed = spoken("second and eight inside zone"), spoken("and you owe me the rest", 3.0, 0.3, 0.2)
    assert doubt.improbable([*sure, *guessed]) == [Run(5, 11)]
    one = [*sure, Word("stunt", 3.0, 3.4, 0.01), *spoken("he picks it up well", 4.0)]
    assert doubt.improbable(one) == []
    assert doubt.improbable(guessed[:3]) == []


def test_a_passage_written_twice_in_no_time_is_squeezed() -> None:
    again = [Word(word.text, 2.0, 2.0, 0.95) for word in spoken("second and eight inside zone")]
    words = [*spoken("second and eight inside zone"), *again, *spoken("he wins", 2.1)]
    assert doubt.squeezed(words) == [Run(5, 10)]


def test_quick_talk_is_not_squeezed() -> None:
    # the quickest five words of the synthetic talk measured: 0.38 s
    assert doubt.squeezed(spoken("and it's the one you", pace=0.076 + 0.01)) == []
    assert doubt.squeezed([Word("he", 1.0, 1.0), Word("is", 1.0, 1.0)]) == []
