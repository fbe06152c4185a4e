"""The pass over a recording: kept, resumed, never repeated; the model is a fake."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from reviewer import paths
from reviewer.errors import InputError, LibraryError, Stopped
from reviewer.speech import activity
from reviewer.speech.passes import language_note
from reviewer.speech.transcribe import hear
from reviewer.speech.transcript import Transcript

from .fakes import MODEL, FakeEars, loud
from .sounds import save, tones

# four words of 1.0, 1.1, 1.2 ... seconds a minute, with pauses of 4 s and, each minute, 20 s
TALK = [
    piece
    for number in range(12)
    for piece in ((1.0 + number / 10, 0.5), (20.0 if number % 4 == 3 else 4.0, 0.0))
]
SAID = [f"t{10 + number}" for number in range(12)]


@pytest.fixture(autouse=True)
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(paths.HOME_VARIABLE, str(tmp_path / "home"))
    monkeypatch.setattr(activity, "voiced", loud)
    monkeypatch.setattr(activity, "CHUNK_S", 40.0)


@pytest.fixture
def talk(tmp_path: Path) -> Path:
    return save(tmp_path / "talk.flac", tones(*TALK))


def texts(transcript: Transcript) -> list[str]:
    return [word.text for word in transcript.words if "." not in word.text]


def kept_files() -> list[str]:
    return sorted(path.suffix for path in paths.transcripts().iterdir())


def test_words_stand_at_their_place_in_the_recording(talk: Path) -> None:
    heard = hear(talk, model=MODEL, load=FakeEars())
    assert texts(heard) == SAID
    at = 0.0
    starts = []
    for seconds, level in TALK:
        if level:
            starts.append(at)
        at += seconds
    assert [word.start for word in heard.words if "." not in word.text] == pytest.approx(starts, abs=0.06)
    assert heard.duration_s == pytest.approx(at, abs=0.01)
    assert heard.gaps == ()
    assert (heard.model, heard.model_digest) == ("fake", "0" * 64)


def test_the_long_silences_are_not_given_to_the_model(talk: Path) -> None:
    ears = FakeEars()
    hear(talk, model=MODEL, load=ears)
    voice = sum(seconds for seconds, level in TALK if level)
    assert len(ears.seconds) > 2
    assert sum(ears.seconds) < voice + 12 * 0.8 + 0.5


def test_nothing_is_heard_twice(talk: Path, tmp_path: Path) -> None:
    first = hear(talk, model=MODEL, load=FakeEars())
    ears = FakeEars()
    told: list[tuple[float, float]] = []
    copy = tmp_path / "another name.flac"
    copy.write_bytes(talk.read_bytes())
    again = hear(copy, model=MODEL, load=ears, progress=lambda done, total: told.append((done, total)))
    assert again == first
    assert ears.loaded == 0
    assert told == [(first.duration_s, first.duration_s)]
    assert kept_files() == [".json"]


def test_another_prompt_or_model_is_another_pass(talk: Path) -> None:
    hear(talk, model=MODEL, load=FakeEars())
    ears = FakeEars()
    hear(talk, model=MODEL, load=ears, prompt="Second and eight.")
    assert ears.prompts[0] == "Second and eight."
    ears = FakeEars()
    hear(talk, model=type(MODEL)("other", Path("other"), "1" * 64), load=ears)
    assert ears.loaded == 1
    assert kept_files() == [".json"] * 3


def test_a_model_that_loses_speech_with_a_prompt_gets_none(talk: Path) -> None:
    tiny = type(MODEL)("tiny.en", Path("tiny"), "2" * 64)
    ears = FakeEars()
    heard = hear(talk, model=tiny, load=ears, prompt="Second and eight.", hotwords="duo")
    assert set(ears.prompts) == {""}
    assert heard.settings.prompt == ""
    assert hear(talk, model=tiny, load=FakeEars()) == heard


def test_a_damaged_kept_transcript_is_heard_again(talk: Path) -> None:
    first = hear(talk, model=MODEL, load=FakeEars())
    (kept,) = paths.transcripts().iterdir()
    for damaged in ("", "{", json.dumps({"format": 0}), json.dumps({"format": 1, "words": 3})):
        kept.write_text(damaged)
        assert hear(talk, model=MODEL, load=FakeEars()) == first


@pytest.mark.parametrize("workers", [1, 2])
def test_a_stopped_pass_goes_on_and_gives_the_same_words(talk: Path, workers: int) -> None:
    whole = hear(talk, model=MODEL, load=FakeEars(), cache=paths.home() / "elsewhere")
    seconds: list[float] = []
    stops = 0
    while True:
        ears = FakeEars()
        ears.workers = workers
        try:
            again = hear(talk, model=MODEL, load=ears, should_stop=lambda: len(ears.seconds) >= workers)  # noqa: B023
        except Stopped as stopped:
            assert "what was heard is kept" in str(stopped)
            stops += 1
            continue
        finally:
            seconds.extend(ears.seconds)
        break
    assert again == whole
    assert stops >= (2 if workers == 1 else 1)
    # what was heard before a stop is not heard again
    assert sorted(seconds) == sorted(seconds_heard(talk))
    assert kept_files() == [".json"]


def test_a_stop_before_the_first_word(talk: Path) -> None:
    with pytest.raises(Stopped, match="nothing was heard yet"):
        hear(talk, model=MODEL, load=FakeEars(), should_stop=lambda: True)
    assert not paths.transcripts().exists()


def test_chunks_side_by_side_give_the_same_words_and_callbacks_stay_here(talk: Path) -> None:
    import threading

    whole = hear(talk, model=MODEL, load=FakeEars(), cache=paths.home() / "elsewhere")
    callers: set[int] = set()
    ears = FakeEars()
    ears.workers = 3
    again = hear(
        talk,
        model=MODEL,
        load=ears,
        progress=lambda done, total: callers.add(threading.get_ident()),
        should_stop=lambda: bool(callers.add(threading.get_ident())),
    )
    assert again == whole
    assert callers == {threading.get_ident()}


def test_a_chunk_done_out_of_turn_is_not_heard_again(talk: Path) -> None:
    whole = hear(talk, model=MODEL, load=FakeEars(), cache=paths.home() / "elsewhere")
    hear_all = FakeEars()
    hear_all.workers = 1
    with pytest.raises(KeyboardInterrupt):
        hear(talk, model=MODEL, load=Breaking(KeyboardInterrupt()))
    (unfinished,) = paths.transcripts().iterdir()
    first, second = (line for line in unfinished.read_text("utf-8").splitlines() if line)
    unfinished.write_text(f"{second}\n", "utf-8")
    ears = FakeEars()
    assert hear(talk, model=MODEL, load=ears) == whole
    assert len(ears.seconds) == len(seconds_heard(talk)) - 1
    assert first != second


def seconds_heard(talk: Path) -> list[float]:
    ears = FakeEars()
    hear(talk, model=MODEL, load=ears, cache=paths.home() / "third")
    return ears.seconds


class Breaking(FakeEars):
    """Fails with `error` when it is asked for the third time."""

    def __init__(self, error: BaseException) -> None:
        super().__init__()
        self.error = error

    def hear(self, audio, **settings):  # type: ignore[no-untyped-def]
        if len(self.seconds) == 2:
            raise self.error
        yield from super().hear(audio, **settings)


@pytest.mark.parametrize("error", [KeyboardInterrupt(), SystemExit(143), RuntimeError("out of memory")])
def test_a_killed_pass_goes_on_where_it_was(talk: Path, error: BaseException) -> None:
    whole = hear(talk, model=MODEL, load=FakeEars(), cache=paths.home() / "elsewhere")
    with pytest.raises(type(error)):
        hear(talk, model=MODEL, load=Breaking(error))
    ears = FakeEars()
    told: list[float] = []
    assert hear(talk, model=MODEL, load=ears, progress=lambda done, total: told.append(done)) == whole
    assert told[0] > 30
    assert len(ears.seconds) < 4


def test_a_line_torn_by_a_crash_is_left_out(talk: Path) -> None:
    whole = hear(talk, model=MODEL, load=FakeEars(), cache=paths.home() / "elsewhere")
    with pytest.raises(KeyboardInterrupt):
        hear(talk, model=MODEL, load=Breaking(KeyboardInterrupt()))
    (unfinished,) = paths.transcripts().iterdir()
    data = unfinished.read_bytes()
    unfinished.write_bytes(data[: len(data) - 25])
    assert hear(talk, model=MODEL, load=FakeEars()) == whole


def test_two_passes_at_once_do_no_harm(talk: Path) -> None:
    class Twice(FakeEars):
        def __call__(self, model):  # type: ignore[no-untyped-def]
            with pytest.raises(KeyboardInterrupt):
                hear(talk, model=MODEL, load=Breaking(KeyboardInterrupt()))
            return super().__call__(model)

    whole = hear(talk, model=MODEL, load=FakeEars(), cache=paths.home() / "elsewhere")
    assert hear(talk, model=MODEL, load=Twice()) == whole


def test_progress_only_rises_and_ends_at_the_end(talk: Path) -> None:
    told: list[tuple[float, float]] = []
    heard = hear(talk, model=MODEL, load=FakeEars(), progress=lambda done, total: told.append((done, total)))
    done = [seconds for seconds, _ in told]
    assert done == sorted(done)
    assert done[0] == 0.0
    assert told[-1][0] == pytest.approx(heard.duration_s, abs=0.01)
    assert all(total == pytest.approx(heard.duration_s, abs=0.01) for _, total in told)


def test_silence_is_no_talk_and_needs_no_model(tmp_path: Path) -> None:
    ears = FakeEars()
    path = save(tmp_path / "a.wav", tones((5, 0.0)))
    with pytest.raises(InputError, match=r"^a.wav is silent from start to end; check the microphone"):
        hear(path, model=MODEL, load=ears)
    assert ears.loaded == 0


def test_sound_without_a_voice_is_no_talk(tmp_path: Path) -> None:
    path = save(tmp_path / "a.wav", tones((5, 0.005)))
    with pytest.raises(InputError, match=r"^a.wav holds sound but no talk"):
        hear(path, model=MODEL, load=FakeEars())


class Deaf(FakeEars):
    """Hears the first `words` words and nothing after them."""

    def __init__(self, words: int) -> None:
        super().__init__()
        self.left = words

    def hear(self, audio, **settings):  # type: ignore[no-untyped-def]
        for segment in super().hear(audio, **settings):
            kept, self.left = segment.words[: self.left], max(0, self.left - len(segment.words))
            yield type(segment)(kept)


@pytest.mark.parametrize("words", [0, 1])
def test_a_voice_that_gives_no_words_is_no_talk(tmp_path: Path, words: int) -> None:
    path = save(tmp_path / "a.wav", tones((1, 0.5), (1, 0.0), (12, 0.5)))
    for _ in range(2):
        with pytest.raises(InputError, match=r"^no talk could be made out in a.wav, only noise, music"):
            hear(path, model=MODEL, load=Deaf(words))


def test_talk_that_is_half_lost_is_talk_with_a_gap(tmp_path: Path) -> None:
    path = save(tmp_path / "a.wav", tones((4, 0.5), (1, 0.0), (6, 0.5)))
    heard = hear(path, model=MODEL, load=Deaf(8))
    assert len(heard.words) == 8
    ((start, end, reason),) = [(gap.start, gap.end, gap.reason) for gap in heard.gaps]
    assert (start, end, reason) == (pytest.approx(5.0, abs=0.1), pytest.approx(11.0, abs=0.1), "not heard")


def test_a_file_cut_off_is_refused_unless_allowed(talk: Path) -> None:
    data = talk.read_bytes()
    talk.write_bytes(data[: len(data) // 2])
    ears = FakeEars()
    with pytest.raises(InputError, match=r"^talk.flac breaks off after 0:\d\d.\d of 1:54.6;"):
        hear(talk, model=MODEL, load=ears)
    assert ears.loaded == 0
    heard = hear(talk, model=MODEL, load=ears, allow_broken=True)
    assert texts(heard)[:-1] == SAID[: len(texts(heard)) - 1]
    assert len(texts(heard)) >= 4


def test_damage_inside_is_a_gap(tmp_path: Path) -> None:
    path = save(tmp_path / "a.opus", tones((1, 0.5), (2, 0.0), (20, 0.5), (2, 0.0), (1, 0.5)))
    data = bytearray(path.read_bytes())
    size = len(data)
    data[size * 4 // 10 : size * 6 // 10] = bytes(size * 6 // 10 - size * 4 // 10)
    path.write_bytes(data)
    heard = hear(path, model=MODEL, load=FakeEars())
    (gap,) = heard.gaps
    assert gap.reason == "damaged"
    assert 5 < gap.start < gap.end < 20


def test_a_place_that_cannot_be_written_is_told(talk: Path) -> None:
    paths.home().mkdir()
    paths.transcripts().write_text("a file where the folder should be")
    with pytest.raises(LibraryError, match=r"^the transcript cannot be kept in .*transcripts \("):
        hear(talk, model=MODEL, load=FakeEars())


def test_the_stored_form_gives_back_the_transcript(talk: Path) -> None:
    heard = hear(talk, model=MODEL, load=FakeEars())
    assert Transcript.from_json(heard.to_json()) == heard


@pytest.mark.parametrize(
    ("found", "note"),
    [
        (("en", 0.2), ""),
        (("de", 0.4), ""),
        (
            ("de", 0.93),
            "The talk sounds like another language (de, 93%); it was heard as English.",
        ),
    ],
)
def test_language_note(found: tuple[str, float], note: str) -> None:
    assert language_note(found) == note
