"""The figures over spoken notes, on one recording with words of our own in place of what a model heard."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from reviewer.compare.annotated import load_note
from reviewer.language.mend import MendedWords
from reviewer.language.mend_put import put_words
from reviewer.language.read import Reader
from reviewer.records import Word
from tests.annotated import NOTES
from tests.score_audio import Figures, judge, measured
from tests.spoken import AUDIO, Spoken, annotation, recordings, word_error

RECORDING = AUDIO / "dev" / "terse-2.ogg"


@pytest.fixture(scope="module")
def reader() -> Reader:
    return Reader.load(Path("none of one's own"))


@pytest.fixture(scope="module")
def exact() -> Spoken:
    note = load_note(annotation(RECORDING))
    return Spoken("terse-2", RECORDING, note, note.words, "none", False, 140.0)


def misheard(one: Spoken, was: str, heard: str) -> Spoken:
    """The first time that a word is said, another word in its place."""
    at = next(k for k, word in enumerate(one.words) if word.text == was)
    words = list(one.words)
    words[at] = replace(words[at], text=heard, probability=0.4)
    return replace(one, words=tuple(words))


def test_every_recording_has_the_note_it_was_spoken_from() -> None:
    for part in ("dev", "test"):
        files = recordings(AUDIO / part)
        assert len(files) >= 5
        assert len(files) == len(list((AUDIO / part).glob("*.ogg")))
        assert {annotation(file).parent for file in files} == {NOTES / part}


def test_exact_words_have_no_fault(exact: Spoken, reader: Reader) -> None:
    figures = Figures()
    figures.add(exact, MendedWords(exact.words, ()), reader)
    assert (figures.wrong, figures.false_mends) == (0.0, 0.0)
    assert all(kind.recall == kind.precision == 1.0 for kind in figures.kinds.values())
    assert figures.kinds["jerseys"].spoken and figures.kinds["down, dist."].spoken


def test_a_lost_term_and_a_wrong_jersey_are_counted(exact: Spoken, reader: Reader) -> None:
    words = misheard(misheard(exact, "Scoop,", "Scope,"), "Ninety-one,", "Ninety-two,").words
    figures = Figures()
    figures.add(exact, MendedWords(words, ()), reader)
    assert figures.wrong == pytest.approx(2)
    terms, jerseys = figures.kinds["terms"], figures.kinds["jerseys"]
    assert (terms.spoken - terms.true, terms.found - terms.true) == (1, 0)
    assert (jerseys.spoken - jerseys.true, jerseys.found - jerseys.true) == (1, 1)


@pytest.mark.parametrize(
    ("meant", "is_now"), [("Scoop", "right"), ("Scope", "neither"), ("Swim move", "wrong")]
)
def test_a_mend_is_judged_by_what_was_said(exact: Spoken, meant: str, is_now: str) -> None:
    one = misheard(exact, "Scoop,", "Scope,")
    at = next(k for k, word in enumerate(one.words) if word.text == "Scope,")
    result: list[Word] = list(one.words)
    assert judge(put_words(result, at, at + 1, meant, 0.9, "scoop"), one) == is_now


def test_word_error_counts_numbers_alike_however_they_are_written(exact: Spoken) -> None:
    assert word_error(misheard(exact, "seventy-four.", "74.")) == 0.0
    assert word_error(misheard(exact, "seventy-four.", "75.")) == pytest.approx(1 / 359)


def test_work_is_measured_in_a_process_of_its_own() -> None:
    found, cost = measured(sorted, [3, 1, 2])
    assert found == [1, 2, 3]
    assert cost.peak_mb > 10 and cost.wall_s >= 0
