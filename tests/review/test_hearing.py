"""Which stretch is played, and what is said where nothing can be played."""

from __future__ import annotations

from pathlib import Path

import pytest

from reviewer import paths, store
from reviewer.errors import InputError, SoundError
from reviewer.review import hearing
from reviewer.review.session import Session
from reviewer.review.slots import BY_ID
from reviewer.speech import sound_play
from tests.screens.evening import add_evening


@pytest.fixture
def spoken(library: store.Library, home: Path) -> Session:
    """The evening as a recording that lies in the library's folder."""
    paths.recordings().mkdir(parents=True)
    (paths.recordings() / "half.wav").write_bytes(b"RIFF")
    return Session(library, add_evening(library, kind="audio", source="elsewhere/half.wav", digest="spoken"))


def test_a_note_of_text_says_that_there_is_nothing_to_hear(session: Session) -> None:
    with pytest.raises(InputError, match="This note came as text: there is no recording to hear"):
        hearing.stretch_of(session)


def test_a_recording_that_is_gone_is_named(spoken: Session) -> None:
    (paths.recordings() / "half.wav").unlink()
    with pytest.raises(InputError, match=r"The recording half\.wav is gone; put it back at"):
        hearing.stretch_of(spoken)


def test_the_row_is_played_from_its_first_word_to_its_last(spoken: Session) -> None:
    rep = spoken.state.reps[2]
    first, last = rep.stretches[0]
    found = hearing.stretch_of(spoken)
    assert found.path == paths.recordings() / "half.wav"
    assert found.start_s == pytest.approx(spoken.words[first].start - hearing.EDGE_S)
    assert found.end_s == pytest.approx(spoken.words[last - 1].end + hearing.EDGE_S)


def test_the_field_under_the_cursor_is_played_with_a_little_around(spoken: Session) -> None:
    assert spoken.row is not None
    (said,) = spoken.row.current.evidence["games"]
    found = hearing.stretch_of(spoken, BY_ID["games"])
    assert (found.start_s, found.end_s) == (said.start - hearing.AROUND_S, said.end + hearing.AROUND_S)
    assert found.name == "the words for games"


def test_a_field_without_words_plays_the_row(spoken: Session) -> None:
    assert hearing.stretch_of(spoken, BY_ID["labels"]) == hearing.stretch_of(spoken)


class Played:
    """Stands in for a span being played."""

    def __init__(self) -> None:
        self.playing = True
        self.position_s = 1.5

    def stop(self) -> None:
        self.playing = False


def test_one_stretch_at_a_time_and_the_second_heard(spoken: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[float, float, float]] = []
    made: list[Played] = []

    def play_span(path: Path, start_s: float, end_s: float, *, speed: float = 1.0) -> Played:
        asked.append((start_s, end_s, speed))
        made.append(Played())
        return made[-1]

    monkeypatch.setattr(sound_play, "play_span", play_span)
    player = hearing.Player()
    stretch = hearing.stretch_of(spoken)
    assert player.play(stretch) == "Playing rep 3, 0:37–0:59; h stops it."
    assert player.at_s == stretch.start_s + 1.5
    assert "slower" in player.play(stretch, hearing.SLOWER)
    assert not made[0].playing
    assert [speed for _, _, speed in asked] == [1.0, hearing.SLOWER]
    assert player.stop()
    assert not player.stop()
    assert player.at_s is None


def test_without_a_speaker_a_plain_sentence(spoken: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    def play_span(*_: object, **__: object) -> None:
        raise SoundError("There is no speaker or headphone on this computer: plug one in, then try again.")

    monkeypatch.setattr(sound_play, "play_span", play_span)
    with pytest.raises(SoundError, match="no speaker"):
        hearing.Player().play(hearing.stretch_of(spoken))
