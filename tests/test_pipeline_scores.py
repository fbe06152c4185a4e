"""Asking the sound: once for each wording, kept beside the transcript, stopped at will; refusals hold."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

from reviewer import paths, store
from reviewer.errors import Stopped
from reviewer.language.read import Reader
from reviewer.pipeline import HearWith, grade_note
from reviewer.pipeline.scores import KeptScorer
from tests.speech.fakes import MODEL
from tests.speech.sounds import save, sweep
from tests.talk import CONTEXT
from tests.test_pipeline import Speaker


class Sound:
    """A scorer that likes short wordings; it counts what it was asked."""

    def __init__(self) -> None:
        self.asked: list[str] = []

    def __call__(self) -> Sound:
        return self

    def score(self, start: float, end: float, wordings: Sequence[str], /) -> list[float]:
        self.asked += wordings
        return [-float(len(wording)) for wording in wordings]


def test_each_question_is_asked_once_in_a_recordings_life(tmp_path: Path) -> None:
    sound, path = Sound(), tmp_path / "note.scores"
    first = KeptScorer(path, sound)
    assert first.score(1.0, 2.0, ["bull rush", "ball rush"]) == [-9.0, -9.0]
    assert first.score(1.0, 2.0, ["ball rush", "rush"]) == [-9.0, -4.0]
    assert sound.asked == ["bull rush", "ball rush", "rush"]
    first.keep()
    later = KeptScorer(path, sound)
    assert later.score(1.0, 2.0, ["rush", "bull rush"]) == [-4.0, -9.0]
    assert len(sound.asked) == 3
    # the same words at another place are another question
    later.score(5.0, 6.0, ["rush"])
    assert len(sound.asked) == 4


@pytest.mark.parametrize("content", ["", "{", "[1]", '{"1.000 2.000 rush": "loud"}', "\x00"])
def test_a_damaged_file_of_answers_is_asked_anew(tmp_path: Path, content: str) -> None:
    path, sound = tmp_path / "note.scores", Sound()
    path.write_text(content, "utf-8")
    assert KeptScorer(path, sound).score(1.0, 2.0, ["rush"]) == [-4.0]
    assert sound.asked == ["rush"]


def test_answers_that_cannot_be_kept_are_no_error(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    scorer = KeptScorer(tmp_path / "file" / "note.scores", Sound())
    scorer.score(1.0, 2.0, ["rush"])
    scorer.keep()
    assert scorer.score(1.0, 2.0, ["rush"]) == [-4.0]


def test_asking_can_be_stopped_and_goes_on(tmp_path: Path) -> None:
    sound, path = Sound(), tmp_path / "note.scores"
    scorer = KeptScorer(path, sound, should_stop=lambda: bool(sound.asked))
    scorer.score(1.0, 2.0, ["rush"])
    with pytest.raises(Stopped, match="grade it again to go on"):
        scorer.score(3.0, 4.0, ["swim"])
    assert KeptScorer(path, Sound()).score(1.0, 2.0, ["rush"]) == [-4.0]


@pytest.fixture
def library(own_home: Path) -> Iterator[store.Library]:
    with store.Library.open() as book:
        yield book


@pytest.fixture
def recording(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    from reviewer.speech import activity
    from reviewer.speech.activity import Stretch

    monkeypatch.setattr(activity, "voiced", lambda audio: (Stretch(0.0, len(audio) / 16_000),))
    return save(tmp_path / "note.wav", sweep(5))


def test_a_recording_is_mended_by_its_sound(
    library: store.Library, recording: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The real recogniser is replaced where it is loaded, so that the pass is the real one."""
    from reviewer.speech import recogniser, score

    asked: list[tuple[Any, ...]] = []

    class Scorer(Sound):
        def __init__(self, *where: Any, **how: Any) -> None:
            super().__init__()
            asked.append(where)

    monkeypatch.setattr(recogniser, "WhisperRecogniser", Speaker())
    monkeypatch.setattr(score, "WordingScorer", Scorer)
    monkeypatch.setattr(
        "tests.test_pipeline.TEXT", "First and ten. He sees the ball rush and anchors. That's a win."
    )
    graded = grade_note(recording, CONTEXT, library=library, how=HearWith(model=MODEL))
    assert asked == [(recording, asked[0][1])]
    assert [word.text for word in asked[0][1]][-3:] == ["That's", "a", "win."]
    assert len(list(paths.transcripts().glob("*.scores"))) == 1
    assert graded.rows
    # the second time nothing is left to ask
    grade_note(recording, CONTEXT, library=library, how=HearWith(model=MODEL))
    assert len(asked) == 1


def test_a_mend_that_was_refused_is_not_made_again(
    library: store.Library, recording: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        "tests.test_pipeline.TEXT", "First and ten. He sees the ball rush and anchors. That's a win."
    )
    how = HearWith(model=MODEL, load=Speaker())
    reader = Reader.load(own_vocabulary=Path("none of one's own"))
    first = grade_note(recording, CONTEXT, library=library, reader=reader, how=how)
    assert first.note is not None
    assert [row.moves for row in first.rows] == [["bull rush"]]
    (mend,) = [mend for mend in first.reading.mends if "bull" in mend.read]
    store.refuse_mend(library, first.note, mend.heard, mend.read)
    again = grade_note(recording, CONTEXT, library=library, reader=reader, how=how)
    assert again.note == first.note
    assert [mend for mend in again.reading.mends if "bull" in mend.read] == []
    assert [row.moves for row in again.reading.rows] == [[]]
