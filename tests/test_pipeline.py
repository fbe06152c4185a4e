"""The pass from a note to stored grade rows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from reviewer import paths, store
from reviewer.errors import InputError, Stopped
from reviewer.language.read import Reader
from reviewer.pipeline import (
    Booking,
    GradedNote,
    HearWith,
    Said,
    find_notes,
    grade_note,
    look_up,
    read_words,
)
from reviewer.records import NoteContext, RosterEntry, Word
from reviewer.speech import activity
from reviewer.speech.activity import Stretch
from reviewer.speech.models import Model
from reviewer.speech.recogniser import Segment
from reviewer.store.rosters import Game
from tests.speech.fakes import MODEL
from tests.speech.sounds import Audio, save, sweep
from tests.talk import CONTEXT, OPPONENT, ROSTER, ROSTER_CSV, TEXT


@pytest.fixture(scope="module")
def reader() -> Reader:
    return Reader.load(own_vocabulary=Path("none of one's own"))


@pytest.fixture
def library(own_home: Path) -> Iterator[store.Library]:
    with store.Library.open() as book:
        yield book


class Speaker:
    """A recogniser that hears the whole of our short note in whatever it is given, at a talking pace."""

    def __init__(self) -> None:
        self.loaded = 0
        self.heard = 0

    def __call__(self, model: Model) -> Speaker:
        self.loaded += 1
        return self

    def hear(self, audio: Audio, *, prompt: str = "", hotwords: str = "", beam: int = 5) -> Iterator[Segment]:
        self.heard += 1
        seconds = len(audio) / 16_000
        pieces = TEXT.split()
        step = seconds / len(pieces)
        yield Segment(tuple(Word(piece, n * step, (n + 0.9) * step, 0.9) for n, piece in enumerate(pieces)))

    def language(self, audio: Audio) -> tuple[str, float]:
        return "en", 0.99


@pytest.fixture
def recording(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Half a minute in which somebody seems to speak throughout."""
    monkeypatch.setattr(activity, "voiced", lambda audio: (Stretch(0.0, len(audio) / 16_000),))
    return save(tmp_path / "week six.wav", sweep(30))


@pytest.fixture
def speaker() -> Speaker:
    return Speaker()


@pytest.fixture
def fake(speaker: Speaker) -> HearWith:
    return HearWith(model=MODEL, load=speaker)


def verdicts(graded: GradedNote) -> list[str]:
    return [row.verdict for row in graded.rows]


def test_a_recording_becomes_stored_rows(
    library: store.Library, reader: Reader, recording: Path, fake: HearWith
) -> None:
    graded = grade_note(recording, CONTEXT, library=library, reader=reader, how=fake)
    assert verdicts(graded) == ["win", "win", "loss"]
    assert graded.duration_s == pytest.approx(30, abs=0.1)
    assert graded.note is not None
    note = store.note(library, graded.note)
    assert (note.kind, note.source, note.title) == ("audio", str(recording), "week six")
    assert (note.model, note.settings["model_digest"]) == ("fake", "0" * 64)
    assert [row.current for row in store.current_rows(library, graded.note)] == list(graded.rows)
    assert [word.text for word in store.words_of(library, graded.note)] == TEXT.split()
    assert all(0 <= row.start < row.end <= 30 for row in graded.rows)


def test_the_same_recording_is_never_heard_twice(
    library: store.Library, reader: Reader, recording: Path, fake: HearWith, speaker: Speaker
) -> None:
    first = grade_note(recording, CONTEXT, library=library, reader=reader, how=fake)
    again = grade_note(recording, CONTEXT, library=library, reader=reader, how=fake)
    moved = recording.rename(recording.with_name("other name.wav"))
    third = grade_note(moved, CONTEXT, library=library, reader=reader, how=fake)
    assert (speaker.loaded, speaker.heard) == (1, 1)
    assert first.note == again.note == third.note
    assert len(store.readings_of(library, first.note or 0)) == 1


def test_a_stopped_pass_stores_nothing_and_goes_on_where_it_was(
    library: store.Library,
    reader: Reader,
    recording: Path,
    fake: HearWith,
    speaker: Speaker,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(activity, "CHUNK_S", 10.0)
    booking = Booking(Game("Week six", "2031", team="Herons", opponent=OPPONENT), ROSTER)
    with pytest.raises(Stopped, match=r"stopped while hearing week six\.wav; what was heard is kept"):
        grade_note(
            recording, CONTEXT, library=library, reader=reader, booking=booking, how=fake,
            should_stop=lambda: speaker.heard >= 2,
        )  # fmt: skip
    assert (store.notes(library), store.games(library)) == ([], [])
    heard_by_then = speaker.heard
    resumed = grade_note(recording, CONTEXT, library=library, reader=reader, booking=booking, how=fake)
    whole = Speaker()
    other = HearWith(model=MODEL, load=whole, cache=recording.parent / "elsewhere")
    at_once = grade_note(recording, CONTEXT, library=None, reader=reader, how=other)
    assert resumed.reading.words == at_once.reading.words
    # what was in work when it was stopped is heard again, what was done before is not
    assert speaker.heard - heard_by_then < whole.heard


def test_progress_counts_up_in_each_stage(
    library: store.Library, reader: Reader, recording: Path, fake: HearWith
) -> None:
    told: list[tuple[str, float, float]] = []
    grade_note(
        recording, CONTEXT, library=library, reader=reader, how=fake, progress=lambda *step: told.append(step)
    )
    assert list(dict.fromkeys(stage for stage, _, _ in told)) == ["hear", "read", "store"]
    for stage in ("hear", "read", "store"):
        done = [part for name, part, _ in told if name == stage]
        total = {whole for name, _, whole in told if name == stage}
        assert done == sorted(done)
        assert done[-1] == pytest.approx(total.pop(), abs=0.05)


def test_a_note_that_cannot_be_heard_leaves_no_game_behind(
    library: store.Library, reader: Reader, tmp_path: Path
) -> None:
    booking = Booking(Game("Week six", "2031", opponent=OPPONENT), ROSTER)
    with pytest.raises(InputError):
        grade_note(tmp_path / "gone.wav", CONTEXT, library=library, reader=reader, booking=booking)
    assert (store.notes(library), store.games(library), store.teams(library)) == ([], [], [])


def test_a_game_is_booked_once_for_several_notes(
    library: store.Library, reader: Reader, tmp_path: Path
) -> None:
    booking = Booking(Game("Week six", "2031", team="Herons", opponent=OPPONENT), ROSTER)
    for name in ("one", "two"):
        path = tmp_path / f"{name}.txt"
        path.write_text(f"Note {name}. {TEXT}", "utf-8")
        grade_note(path, CONTEXT, library=library, reader=reader, booking=booking)
    assert len(store.games(library)) == 1
    assert [note.game_id for note in store.notes(library)] == [1, 1]
    assert {man.jersey for man in store.roster_for(library, "Herons", "2031")} == {"74", "65", "47"}


def test_a_roster_in_the_book_is_not_replaced_by_a_note(
    library: store.Library, reader: Reader, tmp_path: Path
) -> None:
    men = [RosterEntry("74", "Wes Tillery", "RT", "own"), RosterEntry("60", "Ole Brandt", "LG", "own")]
    store.save_roster(library, "Herons", "2031", men, own=True)
    roster = tmp_path / "roster.csv"
    roster.write_text(ROSTER_CSV, "utf-8")
    said = Said(player="74", game="Week six", season="2031", opponent=OPPONENT, roster=roster)
    setting = look_up(said, library)
    path = tmp_path / "note.txt"
    path.write_text(TEXT, "utf-8")
    grade_note(path, setting.context, library=library, reader=reader, booking=setting.booking)
    assert {man.jersey for man in store.roster_for(library, "Herons", "2031")} == {"74", "60"}
    assert {man.jersey for man in store.roster_for(library, OPPONENT, "2031")} == {"91", "95"}
    later = look_up(said, library)
    assert len(later.remarks) == 1
    assert "the book stays as it is" in later.remarks[0]


def test_what_the_hearing_left_out_is_said_and_kept(
    library: store.Library, reader: Reader, recording: Path, fake: HearWith, monkeypatch: pytest.MonkeyPatch
) -> None:
    from reviewer.pipeline import grade
    from reviewer.speech import transcribe
    from reviewer.speech.transcript import Gap, Transcript

    heard = transcribe.hear

    def with_gap(*args: Any, **given: Any) -> Transcript:
        gap = Gap(12.0, 15.5, "not heard")
        return replace(heard(*args, **given), gaps=(gap,), language_note="It sounds foreign.")

    monkeypatch.setattr(transcribe, "hear", with_gap)
    graded = grade.grade_note(recording, CONTEXT, library=library, reader=reader, how=fake)
    assert graded.remarks == (
        "It sounds foreign.",
        "0:12.0 to 0:15.5: there is a voice, but no words came of it.",
    )
    (kept,) = library.execute("SELECT remarks FROM reading").fetchone()
    assert "no words came of it" in kept


def test_reading_needs_neither_recording_nor_book(reader: Reader, own_home: Path) -> None:
    words = [Word(piece, n * 0.4, n * 0.4 + 0.35) for n, piece in enumerate(TEXT.split())]
    reading = read_words(words, CONTEXT, reader)
    assert [row.verdict for row in reading.rows] == ["win", "win", "loss"]
    assert not own_home.exists()


def test_notes_of_folders_come_once_and_without_their_transcripts(tmp_path: Path) -> None:
    for name in ("b.wav", "a.m4a", "a.txt", "c.vtt", "d.TXT", "roster.csv", "readme.md", ".hidden.wav"):
        (tmp_path / name).touch()
    found = find_notes([tmp_path / "b.wav", tmp_path])
    assert [path.name for path in found] == ["b.wav", "a.m4a", "c.vtt", "d.TXT"]


def test_a_setting_from_what_the_book_knows(library: store.Library) -> None:
    store.save_roster(library, "Herons", "2031", [man for man in ROSTER if man.side == "own"], own=True)
    store.save_roster(library, OPPONENT, "2031", [man for man in ROSTER if man.side == "opp"])
    game = store.save_game(
        library, Game("Week six", "2031", date(2031, 10, 4), "Herons", OPPONENT, level="college")
    )
    setting = look_up(Said(player="tillery", opponent=OPPONENT), library, today=date(2031, 11, 1))
    assert setting.booking.game is not None
    assert setting.booking.game.id == game
    context = setting.context
    assert (context.player, context.position, context.opponent) == ("74", "RT", OPPONENT)
    assert (context.game, context.level) == ("Week six", "college")
    assert {(man.jersey, man.side) for man in context.roster} == {(m.jersey, m.side) for m in ROSTER}
    # in the season after, the same opponent is another game
    other = look_up(Said(player="74", opponent=OPPONENT), library, today=date(2032, 11, 1))
    assert other.booking.game is None


@pytest.mark.parametrize(("day", "season"), [(date(2031, 9, 6), "2031"), (date(2032, 1, 9), "2031")])
def test_a_season_runs_past_new_year(library: store.Library, day: date, season: str) -> None:
    """Common practice, no source."""
    setting = look_up(Said(game="Week six"), library, today=day)
    assert setting.booking.game is not None
    assert setting.booking.game.season == season


def test_two_games_against_one_opponent_are_not_guessed_between(library: store.Library) -> None:
    for title in ("First leg", "Second leg"):
        store.save_game(library, Game(title, "2031", opponent=OPPONENT))
    today = date(2031, 11, 1)
    setting = look_up(Said(opponent=OPPONENT), library, today=today)
    assert setting.booking.game is None
    assert setting.remarks == ("There are several games against Calder Stags; name the one with --game.",)
    with pytest.raises(InputError, match=r"'Calder Stags' fits several games: .*First leg.*with --game"):
        look_up(Said(game=OPPONENT), library, today=today)


def test_a_roster_file_comes_before_the_book_and_the_book_fills_the_other_side(
    library: store.Library, tmp_path: Path
) -> None:
    store.save_roster(library, OPPONENT, "2031", [man for man in ROSTER if man.side == "opp"])
    roster = tmp_path / "roster.csv"
    roster.write_text("Jersey;Name;Position\n#00;Zed Oakes;left tackle\n", "utf-8")
    setting = look_up(
        Said(player="00", opponent=OPPONENT, season="2031", roster=roster), library, today=date(2031, 11, 1)
    )
    assert setting.context.position == "LT"
    assert [(man.jersey, man.side) for man in setting.context.roster] == [
        ("00", "own"), ("91", "opp"), ("95", "opp"),
    ]  # fmt: skip


def test_without_a_roster_any_number_is_taken() -> None:
    assert look_up(Said(player="#7"), None).context == NoteContext(player="7")


def test_a_recording_can_be_kept_in_the_library(
    library: store.Library, reader: Reader, recording: Path, fake: HearWith
) -> None:
    graded = grade_note(recording, CONTEXT, library=library, reader=reader, how=fake, keep=True)
    kept = paths.recordings() / "week six.wav"
    assert store.note(library, graded.note or 0).source == str(kept)
    assert kept.read_bytes() == recording.read_bytes()
    grade_note(kept, CONTEXT, library=library, reader=reader, how=fake, keep=True)
    assert list(paths.recordings().iterdir()) == [kept]
    recording.with_name("again").mkdir()
    other = save(recording.with_name("again") / "week six.wav", sweep(20))
    graded = grade_note(other, CONTEXT, library=library, reader=reader, how=fake, keep=True)
    second = Path(store.note(library, graded.note or 0).source or "")
    assert second != kept
    assert second.parent == paths.recordings()
    assert (kept.read_bytes(), second.read_bytes()) == (recording.read_bytes(), other.read_bytes())


def test_the_same_content_about_another_man_is_pointed_out(
    library: store.Library, reader: Reader, recording: Path, fake: HearWith
) -> None:
    first = grade_note(recording, CONTEXT, library=library, reader=reader, how=fake)
    second = grade_note(recording, NoteContext(player="65"), library=library, reader=reader, how=fake)
    assert first.others == ()
    assert second.note != first.note
    assert second.others == (first.slug,)
