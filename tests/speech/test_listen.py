"""One chunk, heard twice where needed; the recogniser plays a script."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from reviewer.records import Word
from reviewer.speech.activity import Chunk, Stretch
from reviewer.speech.decode import RATE
from reviewer.speech.listen import listen
from reviewer.speech.recogniser import Segment
from reviewer.speech.transcript import Settings

from .sounds import Audio
from .test_doubt import spoken


class Script:
    """Answers the first question with `first`, the others with `again`; remembers the questions."""

    def __init__(self, first: list[Segment], again: list[Segment] | None = None) -> None:
        self.answers = [first]
        self.again = again or []
        self.asked: list[tuple[float, str, str]] = []

    def hear(self, audio: Audio, *, prompt: str = "", hotwords: str = "", beam: int = 5) -> Iterator[Segment]:
        self.asked.append((round(len(audio) / RATE, 2), prompt, hotwords))
        yield from self.answers.pop() if self.answers else self.again

    def language(self, audio: Audio) -> tuple[str, float]:
        return "en", 1.0


def said(
    text: str, start: float = 0.0, *, pace: float = 0.4, logprob: float = -0.2, p: float = 0.9
) -> Segment:
    return Segment(tuple(spoken(text, start, pace, p)), logprob)


def hear(
    script: Script, length_s: float, *voice: tuple[float, float]
) -> tuple[str, list[tuple[object, ...]]]:
    chunk = Chunk(100.0, np.zeros(round(length_s * RATE), np.float32), tuple(Stretch(*v) for v in voice))
    settings = Settings(prompt="Second and eight.", hotwords="duo")
    words, gaps = listen(chunk, script, settings, tick=lambda _: None)
    assert [w.start for w in words] == sorted(w.start for w in words)
    return (
        " ".join(word.text for word in words),
        [(round(gap.start), round(gap.end), gap.reason, gap.heard) for gap in gaps],
    )


GOOD = "second and eight inside zone he wins the rep"


def test_good_talk_is_heard_once_with_the_prompt() -> None:
    script = Script([said(GOOD)])
    assert hear(script, 4.0, (0.0, 3.6)) == (GOOD, [])
    assert script.asked == [(4.0, "Second and eight.", "duo")]


def test_lost_speech_is_heard_again_alone_without_prompt_and_hotwords() -> None:
    script = Script([said("second and eight"), said("he wins", 6.0)], [said("jump set on him", 0.3)])
    text, gaps = hear(script, 7.0, (0.0, 1.2), (2.5, 4.4), (6.0, 6.8))
    assert text == "second and eight jump set on him he wins"
    assert gaps == []
    assert script.asked[1:] == [(2.5, "", "")]


def test_lost_speech_that_stays_lost_is_a_gap() -> None:
    script = Script([said("second and eight"), said("he wins", 9.0)])
    text, gaps = hear(script, 10.0, (0.0, 1.2), (3.0, 7.0), (9.0, 9.8))
    assert text == "second and eight he wins"
    assert gaps == [(3, 7, "not heard", "")]


def test_a_word_stretched_over_the_hole_is_not_written_twice() -> None:
    first = Segment((*spoken("second and"), Word("eight,", 0.8, 4.6, 0.9), *spoken("he wins", 4.6)), -0.2)
    script = Script([first], [said("inside zone and eight", 0.3)])
    text, gaps = hear(script, 6.0, (0.0, 5.4))
    assert text == "second and eight, inside zone and he wins"
    assert gaps == []


def test_a_short_one_is_tried_but_no_gap() -> None:
    script = Script([said("second and eight")])
    assert hear(script, 8.0, (0.0, 1.2), (5.0, 6.2)) == ("second and eight", [])
    assert len(script.asked) == 2


@pytest.mark.parametrize("doubtful", [{"logprob": -1.3}, {"p": 0.2}])
def test_a_guess_is_no_talk_but_is_not_thrown_away(doubtful: dict[str, float]) -> None:
    guess = said("thanks for watching us all", 3.0, **doubtful)  # type: ignore[arg-type]
    script = Script([said("second and eight"), guess])
    text, gaps = hear(script, 8.0, (0.0, 1.2), (3.0, 5.1))
    assert text == "second and eight"
    assert gaps == [(3, 5, "not heard", "thanks for watching us all")]


def test_a_guess_is_replaced_by_what_is_heard_alone() -> None:
    guess = said("thanks for watching us all", 3.0, logprob=-1.3)
    script = Script([said("second and eight"), guess], [said("he wins the rep clean", 0.3)])
    assert hear(script, 8.0, (0.0, 1.2), (3.0, 5.1)) == ("second and eight he wins the rep clean", [])


def test_a_second_hearing_must_be_surer_than_the_first() -> None:
    script = Script([said("second and eight")], [said("you owe me", 0.3, p=0.4)])
    assert hear(script, 8.0, (0.0, 1.2), (5.0, 6.4)) == ("second and eight", [])


def test_a_loop_is_taken_out_and_the_talk_under_it_heard() -> None:
    loop = said("jump set, " * 12, 2.0, pace=0.15)
    script = Script([said("second and eight"), loop], [said("he takes the inside rush well", 0.3)])
    text, gaps = hear(script, 6.0, (0.0, 1.2), (2.0, 5.6))
    assert text == "second and eight he takes the inside rush well"
    assert gaps == []


def test_a_loop_over_noise_is_a_gap_with_its_words() -> None:
    loop = said("jump set, " * 12, 2.0, pace=0.15)
    text, gaps = hear(Script([said("second and eight"), loop], [loop]), 6.0, (0.0, 1.2), (2.0, 5.6))
    assert text == "second and eight"
    assert gaps == [(2, 6, "repeated", ("jump set, " * 12).strip())]


def test_what_was_really_said_again_and_again_stays() -> None:
    again = said("go go go go go go", 0.3)
    script = Script([said("second and eight"), said("go go go go go go", 2.0)], [again])
    text, gaps = hear(script, 6.0, (0.0, 1.2), (2.0, 4.4))
    assert (text, gaps) == ("second and eight go go go go go go", [])


def test_a_closing_phrase_over_silence_is_invented() -> None:
    script = Script([said(GOOD), said("thanks for watching", 3.75, pace=0.02)])
    text, gaps = hear(script, 4.0, (0.0, 3.5))
    assert text == GOOD
    assert gaps == [(4, 4, "invented", "thanks for watching")]


@pytest.mark.parametrize("probability", [0.98, 0.2])
def test_a_first_word_timed_into_the_pause_goes_where_its_sentence_begins(probability: float) -> None:
    early = Word("But", 1.9, 2.1, probability)
    script = Script([said("second and"), Segment((early, *spoken("he wins it", 2.9)), -0.2)])
    chunk = Chunk(0.0, np.zeros(6 * RATE, np.float32), (Stretch(0.0, 1.15), Stretch(3.1, 4.1)))
    words, gaps = listen(chunk, script, Settings(), tick=lambda _: None)
    assert [word.text for word in words] == ["second", "and", "But", "he", "wins", "it"]
    assert (words[2].start, words[2].end) == (pytest.approx(2.65), pytest.approx(2.9))
    assert gaps == []


@pytest.mark.parametrize(("probability", "stays"), [(0.98, True), (0.2, False)])
def test_one_word_far_from_any_voice_stays_when_the_model_is_sure(probability: float, stays: bool) -> None:
    script = Script([said("second and eight"), Segment((Word("Done.", 1.9, 2.1, probability),), -0.2)])
    text, gaps = hear(script, 6.0, (0.0, 1.2), (3.0, 3.3))
    assert text == ("second and eight Done." if stays else "second and eight")
    assert [gap[2:] for gap in gaps] == ([] if stays else [("invented", "Done.")])


def test_a_short_verdict_in_noise_is_no_guess() -> None:
    script = Script([said("second and eight"), said("Win.", 2.0, p=0.2)])
    assert hear(script, 3.0, (0.0, 1.2), (2.0, 2.4)) == ("second and eight Win.", [])


def test_a_gap_keeps_no_endless_loop() -> None:
    loop = said("no good " * 400, 0.0, pace=0.05)
    _, gaps = hear(Script([loop]), 40.0, (0.0, 40.0))
    ((_, _, reason, heard),) = gaps
    assert reason == "repeated"
    assert str(heard).endswith(" …")
    assert len(str(heard)) <= 402


def test_the_caller_may_stop_it_between_segments() -> None:
    def stop(seconds: float) -> None:
        raise InterruptedError(seconds)

    chunk = Chunk(0.0, np.zeros(4 * RATE, np.float32), (Stretch(0.0, 3.6),))
    with pytest.raises(InterruptedError):
        listen(chunk, Script([said(GOOD)]), Settings(), tick=stop)


def test_a_passage_written_twice_is_said_once() -> None:
    again = Segment(tuple(Word(word, 3.6, 3.6, 0.95) for word in GOOD.split()), -0.2)
    text, gaps = hear(Script([said(GOOD), again]), 4.0, (0.0, 3.6))
    assert text == GOOD
    assert gaps == [(4, 4, "repeated", GOOD)]
