"""The sound as the judge, with the real model on a demo recording; the cutting into phrases alone."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from reviewer import paths
from reviewer.records import Word
from reviewer.speech.models import Model
from reviewer.speech.recogniser import WhisperRecogniser
from reviewer.speech.score import PHRASE_S, WordingScorer, _dressed, _phrases

from .test_doubt import spoken

# The terse coach's demo recording from 31 s on; what is said there is in its YAML file. Times as
# the model hears them, to a tenth.
SAID = [
    *spoken("Short set on 97, a three technique.", 32.2, 0.35),
    Word("Good", 34.7, 34.9),
    Word("punch.", 34.9, 35.2),
    Word("He", 35.3, 35.4),
    Word("gets", 35.4, 35.6),
    Word("the", 35.6, 35.8),
    Word("ball", 35.8, 36.1),
    Word("rush", 36.1, 36.4),
    *spoken("and he sits down on it,", 36.4, 0.25),
]
TRADE = "Film review. Second and eight. He takes the bull rush and anchors."


@pytest.fixture(scope="module")
def scorer(real_model: Model, whisper: WhisperRecogniser) -> Iterator[WordingScorer]:
    path = paths.demo_audio() / "terse-coach.ogg"
    yield WordingScorer(path, SAID, model=real_model, prompt=TRADE, load=lambda _: whisper)


def test_the_sound_chooses_what_was_said(scorer: WordingScorer) -> None:
    ball, bull, bowl, swim = scorer.score(35.85, 36.4, ["ball rush", "bull rush", "bowl brush", "swim move"])
    assert bull == max(ball, bull, bowl, swim)
    assert bull - swim > 5.0


def test_the_sound_chooses_the_number(scorer: WordingScorer) -> None:
    scores = dict(
        zip(("97", "94", "98", "57"), scorer.score(33.2, 33.6, ["97", "94", "98", "57"]), strict=True)
    )
    assert max(scores, key=lambda number: scores[number]) == "97"
    assert scores["97"] - sorted(scores.values())[-2] > 3.0


def test_a_phrase_is_encoded_once(scorer: WordingScorer, monkeypatch: pytest.MonkeyPatch) -> None:
    encoded: list[float] = []
    real = scorer._encode_sound

    def counted(audio, *, padded):  # type: ignore[no-untyped-def]
        encoded.append(len(audio))
        return real(audio, padded=padded)

    monkeypatch.setattr(scorer, "_encode_sound", counted)
    scorer._encoded.clear()
    first = scorer.score(35.85, 36.4, ["bull rush", ""])
    assert scorer.score(35.85, 36.4, ["bull rush", ""]) == first
    scorer.score(33.2, 33.6, ["97"])
    assert len(encoded) == 1


def test_readings_come_best_first(scorer: WordingScorer) -> None:
    found = scorer.readings(35.85, 36.4, count=3)
    assert len(found) == 3
    assert [reading.score for reading in found] == sorted((r.score for r in found), reverse=True)
    assert all("rush" in reading.text for reading in found)
    assert len({reading.text for reading in found}) == 3


def test_nothing_is_loaded_before_the_first_question(tmp_path: Path) -> None:
    def load(model: Model) -> WhisperRecogniser:
        raise AssertionError("loaded too early")

    WordingScorer(tmp_path / "none.wav", SAID, load=load)


@pytest.mark.parametrize(
    ("text", "replaced", "dressed"),
    [
        ("bull rush", ["ball", "rush,"], ["bull rush,"]),
        ("bull rush.", ["ball", "rush,"], ["bull rush."]),
        ("reach", ["Each."], ["Reach."]),
        ("94", ["Ninety"], ["94"]),
        ("", ["ball"], []),
        ("duo", [], ["duo"]),
        ("  ", [], []),
    ],
)
def test_a_wording_takes_the_marks_of_what_it_replaces(
    text: str, replaced: list[str], dressed: list[str]
) -> None:
    assert _dressed(text, replaced) == dressed


def texts(words: list[Word]) -> list[str]:
    return [" ".join(word.text for word in words[first:last]) for first, last in _phrases(words)]


def test_phrases_end_at_pauses() -> None:
    words = [*spoken("second and eight"), *spoken("he wins", 3.0)]
    assert texts(words) == ["second and eight", "he wins"]


def test_long_talk_is_cut_after_a_full_stop() -> None:
    words = spoken("one two three. " * 14, pace=0.4)
    found = _phrases(words)
    assert all(words[last - 1].end - words[first].start <= PHRASE_S for first, last in found)
    assert all(words[last - 1].text == "three." for _, last in found)
    assert [n for first, last in found for n in range(first, last)] == list(range(len(words)))


def test_talk_without_a_stop_is_cut_all_the_same() -> None:
    words = spoken("one two three " * 30, pace=0.4)
    found = _phrases(words)
    assert len(found) > 2
    assert [n for first, last in found for n in range(first, last)] == list(range(len(words)))
    assert _phrases([]) == []
