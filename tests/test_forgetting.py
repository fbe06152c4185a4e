"""`reviewer forget` over a whole library: no file of it holds the name, and his talk is silent."""

from __future__ import annotations

import json
import sqlite3
import wave
from contextlib import closing
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from reviewer import paths, store
from reviewer.errors import InputError, LibraryError, Stopped
from reviewer.forgetting import ELSEWHERE, forget_person
from reviewer.records import NoteContext, RosterEntry
from reviewer.review import own_words
from reviewer.speech.decode import digest, span
from reviewer.store.saved import save_search
from tests.conftest import Cli
from tests.store.test_forget import OPPONENTS, ROSTER, reading
from tests.store.test_library import DATA

RATE = 16_000
NAME = b"brandvold"


def tone(path: Path, seconds: float) -> Path:
    """A steady tone, so that silence shows."""
    samples = np.sin(np.arange(int(seconds * RATE)) * 0.2) * 12_000
    path.parent.mkdir(parents=True, exist_ok=True)
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        out.writeframes(samples.astype(np.int16).tobytes())
    return path


@pytest.fixture
def home(own_home: Path) -> Path:
    """A library with everything in it that can hold a name."""
    recording = tone(own_home / "recordings" / "week-3-brandvold.wav", 24.0)
    marks = recording.with_suffix(".marks.jsonl")
    marks.write_text('{"event": "mark", "at_s": 1.0, "label": "Brandvold oversets"}\n', "utf-8")
    content = digest(recording)
    for name, text in (
        (f"{content[:20]}-aa-bb.json", "{}"),
        ("0000-aa-bb.json", json.dumps({"settings": {"prompt": "76 Teo Brandvold"}})),
        ("1111-aa-bb.json", "{}"),
    ):
        (own_home / "transcripts").mkdir(exist_ok=True)
        (own_home / "transcripts" / name).write_text(text)
    with store.Library.open() as library:
        store.save_roster(library, "Hollow Creek", "2026", ROSTER, own=True)
        store.save_roster(library, "Pine Bluff", "2026", OPPONENTS)
        game = store.Game("Week 3", "2026", date(2026, 9, 12), "Hollow Creek", "Pine Bluff")
        number = store.save_game(library, game)
        new = store.NewNote(content, "audio", 24.0, NoteContext("76"), "Week 3", str(recording), number)
        note = store.add_note(library, new, reading())
        store.set_comment(library, store.current_rows(library, note)[1].id, "like Brandvold")
        save_search(library, "him", "Brandvold")
        lesson = store.learn(library, "mishearing", "Brandvold", "bran fold")
        store.backup(library, own_home / "gradebook.before-restore-20260901-080000.db")
    own_words.add_entry(
        lesson, "week 3", {"id": "Brandvold", "group": "wording", "mishearings": ["bran fold"]}
    )
    with (own_home / "vocabulary.toml").open("a") as file:
        file.write('\n[[term]]\nid = "rip"\ngroup = "moves"\nforms = ["dipper"]\n')
    return own_home


def holding(home: Path, name: bytes = NAME) -> list[str]:
    """The files of a library with these bytes in them or in their name."""
    return [
        str(file.relative_to(home))
        for file in sorted(home.rglob("*"))
        if file.is_file() and (name in file.read_bytes().lower() or name.decode() in file.name.lower())
    ]


def test_no_file_holds_the_name_any_more(home: Path, cli: Cli) -> None:
    assert len(holding(home)) >= 6
    ran = cli("forget", "Teo Brandvold", "--yes")
    assert ran.code == 0, ran.err
    assert holding(home) == [] and holding(home, b"bran fold") == []
    for told in (
        "2 rows",
        "1 roster lines",
        "2 transcripts",
        "1 recordings silenced",
        "1 backups written anew",
        "1 vocabulary entries",
        "1 saved searches",
    ):
        assert told in ran.out, ran.out
    assert ELSEWHERE in ran.err
    assert sorted(file.name for file in (home / "transcripts").iterdir()) == ["1111-aa-bb.json"]
    assert "dipper" in (home / "vocabulary.toml").read_text()
    backup = next(home.glob("gradebook.before-restore-*"))
    for path in (paths.database(), backup):
        with store.Library.open(path) as library:
            assert [row.current.player for row in store.current_rows(library, 1)] == ["64"]
            assert store.check(library) == []
    assert not [file for file in home.rglob(".*") if file.is_file()], "no leavings"


def test_the_recording_is_silent_where_he_is_graded_or_named(home: Path, cli: Cli) -> None:
    rows = reading().rows
    cli("forget", "Teo Brandvold", "--yes")
    with store.Library.open() as library:
        note = store.note(library, 1)
    assert note.source is not None
    file = Path(note.source)
    assert file.is_file() and note.digest == digest(file), "the note is still that of its recording"
    with wave.open(str(file)) as sound:
        assert sound.getnframes() == 24 * RATE, "as long as before"
    for row in (rows[0], rows[2]):
        assert not span(file, row.start, row.end).any()
    other = span(file, rows[1].start + 0.7, rows[1].end - 0.7)
    assert np.array_equal(other, tone_of(rows[1].start + 0.7, rows[1].end - 0.7)), "the rest is as it was"


def tone_of(start: float, end: float) -> np.ndarray:
    samples = (np.sin(np.arange(24 * RATE) * 0.2) * 12_000).astype(np.int16)
    return (samples[round(start * RATE) : round(end * RATE)] / 32768).astype(np.float32)


def test_it_asks_first(home: Path, cli: Cli) -> None:
    ran = cli("forget", "Teo Brandvold")
    assert ran.code == 2 and "2 rows" in ran.err and "Nobody can be asked here" in ran.err
    assert len(holding(home)) >= 6


def test_a_dry_run_changes_nothing(home: Path, cli: Cli) -> None:
    def files() -> dict[str, bytes]:
        return {
            str(f): f.read_bytes() for f in home.rglob("*") if f.is_file() and not f.name.endswith("-shm")
        }

    before = files()
    ran = cli("forget", "Teo Brandvold", "--dry-run")
    assert ran.code == 0 and ran.out.startswith("Would be removed: ") and "2 rows" in ran.out
    after = files()
    assert {k: v for k, v in after.items() if "gradebook.db" not in k} == {
        k: v for k, v in before.items() if "gradebook.db" not in k
    }
    with store.Library.open() as library:
        assert len(store.current_rows(library, 1)) == 3


def test_by_number_team_and_season(home: Path, cli: Cli) -> None:
    assert cli("forget", "--jersey", "76").code == 2
    ran = cli("forget", "--jersey", "76", "--team", "Hollow Creek", "--season", "2026", "--yes")
    assert ran.code == 0 and holding(home) == []


def test_a_backup_of_an_older_program_is_written_anew(home: Path, cli: Cli) -> None:
    old = home / "gradebook.db.before-0001_book-20260801-080000.bak"
    with closing(sqlite3.connect(old)) as connection:
        connection.executescript((DATA / "0001_book.sql").read_text("utf-8"))
        connection.execute("UPDATE note SET title = 'Brandvold'")
        connection.commit()
    assert "2 backups written anew" in cli("forget", "Teo Brandvold", "--yes").out
    assert holding(home) == [] and old.is_file()


def test_a_backup_that_cannot_be_read_is_removed(home: Path, cli: Cli) -> None:
    bad = home / "gradebook.before-restore-20250101-000000.db"
    bad.write_bytes(b"Teo Brandvold" * 1000)
    assert "1 backups removed" in cli("forget", "Teo Brandvold", "--yes").out
    assert not bad.exists()


def test_what_it_cannot_reach_is_named(home: Path, cli: Cli, tmp_path: Path) -> None:
    (home / "scale.toml").write_text("# Brandvold's own\n")
    elsewhere = tone(tmp_path / "film" / "talk.wav", 24.0)
    with store.Library.open() as library:
        new = store.NewNote("e1", "audio", 24.0, NoteContext("76"), "Talk", str(elsewhere), 1)
        store.add_note(library, new, reading())
    before = elsewhere.read_bytes()
    ran = cli("forget", "Teo Brandvold", "--yes")
    assert f"Not silenced, as it is not in the library folder: {elsewhere}." in ran.err
    assert "The name is still in these files, which are yours to mend: scale.toml." in ran.err
    assert elsewhere.read_bytes() == before


def test_a_recording_that_cannot_be_written_stops_all_of_it(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("reviewer.speech.silence.silence", broken)
    with pytest.raises(LibraryError, match="nothing was changed"):
        forget_person("Teo Brandvold")
    with store.Library.open() as library:
        assert len(store.current_rows(library, 1)) == 3
    assert not list(home.rglob(".silenced*"))


def test_it_can_be_stopped(home: Path) -> None:
    with pytest.raises(Stopped, match="nothing was changed"):
        forget_person("Teo Brandvold", should_stop=lambda: True)
    with store.Library.open() as library:
        assert len(store.current_rows(library, 1)) == 3


def test_another_window_delays_the_last_step_only(home: Path, cli: Cli) -> None:
    with closing(sqlite3.connect(paths.database())) as other:
        other.execute("BEGIN")
        other.execute("SELECT count(*) FROM note").fetchone()
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("reviewer.store.library.BUSY_S", 0.1)
            ran = cli("forget", "Teo Brandvold", "--yes")
        assert ran.code == 2 and "close other windows and run the same command again" in ran.err
    again = cli("forget", "Teo Brandvold", "--yes")
    assert again.code == 0 and "file written anew" in again.out
    assert holding(home) == []


def test_nobody_of_that_name(home: Path) -> None:
    with pytest.raises(InputError, match="there is no Nemo Nilsen in any roster"):
        forget_person("Nemo Nilsen")


def test_others_keep_what_they_have(home: Path) -> None:
    with store.Library.open() as library:
        more = [*ROSTER, RosterEntry("52", "Arne Moe", "C", "own")]
        store.save_roster(library, "Hollow Creek", "2026", more, own=True)
    forget_person("Arne Moe")
    assert len(holding(home)) >= 6
    with store.Library.open() as library:
        assert len(store.current_rows(library, 1)) == 3
