"""What was saved as JSON and comes back spoilt: a season, transcripts, answers, settings, marks."""

from __future__ import annotations

import json
import shutil
import tempfile
from functools import lru_cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewer import store
from reviewer.errors import InputError
from reviewer.intake.season import load_season
from reviewer.pipeline.scores import _read as read_scores
from reviewer.records import Word
from reviewer.review.settings import load_settings
from reviewer.speech.kept import Done, Keeper
from reviewer.speech.record_notes import marks_path, read_marks, unfinished
from reviewer.speech.transcript import Gap, Settings, Transcript
from reviewer.store import Library
from reviewer.store.rosters import games, teams
from tests.fuzz.hostile import file_of, fuzzed, result_or_sentence, spoilt

SEASON = Path(__file__).parents[2] / "shared" / "season"
TRANSCRIPT = Transcript(
    (Word("Reach", 0.5, 0.9, 0.8), Word("block.", 1.0, 1.4, 0.9)), 3.0, "d" * 64, "base", "m" * 64,
    Settings(),
    gaps=(Gap(1.5, 2.0, "not heard"),),
)  # fmt: skip


@lru_cache(maxsize=1)
def note_lines() -> bytes:
    """The head and the first stretch of talk of one note."""
    path = sorted((SEASON / "notes").glob("*.jsonl"))[0]
    return b"\n".join(path.read_bytes().split(b"\n")[:2])


@fuzzed(60)
@given(data=st.data())
def test_a_season_is_all_there_or_not_at_all(data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(["notes/one.jsonl"] * 4 + ["roster.csv", "games.csv"]))
    with tempfile.TemporaryDirectory() as folder, Library.memory() as library:
        for file in ("roster.csv", "roster-opponents.csv", "games.csv"):
            shutil.copy(SEASON / file, folder)
        (Path(folder) / "notes").mkdir()
        (Path(folder) / "notes" / "one.jsonl").write_bytes(note_lines())
        path = Path(folder) / name
        path.write_bytes(data.draw(spoilt([note_lines() if "notes" in name else path.read_bytes()])))
        done = result_or_sentence(lambda: load_season(library, Path(folder)))
        there = (len(store.notes(library)), len(games(library)), bool(teams(library)))
        assert there == ((1, done.games, True) if done else (0, 0, False))
        assert store.check(library) == []


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("[]", "cannot be read"),
        ('{"title": "x"}', "it has no team"),
        ("[" * 100_000, "cannot be read"),
        ('{"rep": 1, "start": NaN, "end": 2, "text": "a", "rows": []}', "no times that can be"),
        ('{"rep": 1, "start": 1, "end": 1e999, "text": "a", "rows": []}', "no times that can be"),
        ('{"rep": 1, "start": 1, "end": 2, "text": "", "rows": []}', "has no words"),
        ('{"rep": 1, "start": 1, "end": 2, "text": "\\ud800", "rows": []}', "half a character"),
        (
            '{"rep": 1, "start": 1, "end": 2, "text": "a", "rows": [{"row": {"x": 1}, "said": {}}]}',
            "cannot be",
        ),
    ],
    ids=range(8),
)
def test_a_note_of_a_season_that_is_none(tmp_path: Path, line: str, why: str) -> None:
    folder = tmp_path / "season"
    shutil.copytree(SEASON, folder, ignore=lambda _, names: [n for n in names if n.endswith(".jsonl")])
    first = note_lines().split(b"\n")[0].decode()
    text = line if "start" not in line else f"{first}\n{line}"
    (folder / "notes" / "one.jsonl").write_text(text)
    with Library.memory() as library:
        with pytest.raises(InputError, match=why):
            load_season(library, folder)
        assert store.notes(library) == []
        assert teams(library) == []


@fuzzed(120)
@given(spoilt([TRANSCRIPT.to_json().encode()]))
def test_transcripts(data: bytes) -> None:
    """A kept transcript that cannot be believed is as good as none: the recording is heard again."""
    with tempfile.TemporaryDirectory() as folder:
        keeper = Keeper("d" * 64, "m" * 64, Settings(), Path(folder))
        keeper.finish(TRANSCRIPT)
        (kept,) = Path(folder).glob("*.json")
        kept.write_bytes(data)
        found = keeper.finished()
    if found is not None:
        assert all(0 <= word.start < 1e9 and 0 <= word.end < 1e9 for word in found.words)
        assert found.duration_s >= 0
        assert Transcript.from_json(found.to_json()) == found
        assert found.text.encode()


@fuzzed(80)
@given(data=st.data())
def test_chunks(data: st.DataObject) -> None:
    with tempfile.TemporaryDirectory() as folder:
        keeper = Keeper("d" * 64, "m" * 64, Settings(), Path(folder))
        keeper.add(Done(0, 16_000, TRANSCRIPT.words, TRANSCRIPT.gaps, 0.5, 1.0, ""))
        (kept,) = Path(folder).glob("*.part.jsonl")
        kept.write_bytes(data.draw(spoilt([kept.read_bytes()])))
        for first, done in keeper.chunks().items():
            assert 0 <= first < done.last
            assert all(0 <= word.start < 1e9 and 0 <= word.end < 1e9 for word in done.words)


OTHERS = (
    b'{"dark": true, "confidence": 0.85}',
    b'{"0.500 1.000 reach block": -1.5, "0.500 1.000 reach": -3}',
    b'{"event": "mark", "at_s": 1.5, "label": "good"}\n{"event": "pause", "at_s": 2}',
    b'{"path": "/nowhere/note.wav", "started": "2031-09-05T10:00:00+00:00"}',
    b"[" * 100_000,
    b'{"event": "mark", "at_s": NaN}',
)


@fuzzed(120)
@given(spoilt(OTHERS))
def test_small_files(data: bytes) -> None:
    """Settings, answers of the scorer, marks and entries of recordings: what cannot be read is not there."""
    with file_of(data, "screen.json") as path, pytest.MonkeyPatch.context() as patch:
        assert 0 <= load_settings(path.parent).confidence <= 1
        assert all(value == value for value in read_scores(path).values())
        marks_path(path.with_suffix(".wav")).write_bytes(data)
        assert all(0 <= mark.at_s < 1e9 for mark in read_marks(path.with_suffix(".wav")))
        patch.setenv("REVIEWER_HOME", str(path.parent))
        entries = path.parent / "recordings" / "open"
        entries.mkdir(parents=True)
        (entries / "note-1.json").write_bytes(data)
        unfinished()


def test_the_samples_are_sound(tmp_path: Path) -> None:
    """Else nothing above would be tested."""
    keeper = Keeper("d" * 64, "m" * 64, Settings(), tmp_path)
    keeper.finish(TRANSCRIPT)
    assert keeper.finished() == TRANSCRIPT
    (tmp_path / "a.marks.jsonl").write_bytes(OTHERS[2])
    assert [mark.label for mark in read_marks(tmp_path / "a.wav")] == ["good"]
    (tmp_path / "scores.json").write_bytes(OTHERS[1])
    assert len(read_scores(tmp_path / "scores.json")) == 2
    assert json.loads(note_lines().split(b"\n")[0])["confirmed"] is True
