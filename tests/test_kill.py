"""Killed at random moments, the program loses nothing that it said it keeps; and the check can fail."""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from reviewer import keeping, leavings, paths, store
from reviewer.errors import InputError
from reviewer.intake.season import load_season
from reviewer.review import lessons, own_words
from reviewer.review.lessons import Meaning
from reviewer.review.session import Session
from reviewer.speech import record_notes
from reviewer.speech.record_notes import OpenNote
from tests import kill
from tests.killing.child import Tell, Worker
from tests.killing.deciding import REVIEWING, work_that_commits_late
from tests.killing.hearing import HEARING
from tests.killing.keeping import SEASON
from tests.killing.recording import RECORDING, work_that_keeps_sound_back
from tests.killing.rig import kill_often
from tests.screens.evening import add_evening

KILLS = 24


def test_nothing_is_lost_by_kills_at_random_moments() -> None:
    """The real speech model takes longer than a test should; `python -m tests.kill` has it too."""
    shares = {kind: share for kind, share in kill.SHARES.items() if kind is not HEARING}
    wanted = kill.shared_out(KILLS, shares)
    tallies = kill.kill_all(wanted, seed=3)
    lost = [f"{one.kind}: {sentence}" for one in tallies for sentence in one.lost]
    assert not lost, "\n".join([*kill.table(tallies), *lost])
    assert sum(one.kills for one in tallies) == KILLS


def test_decisions_told_before_they_are_committed_are_reported_as_lost(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(kill, "SHARES", {replace(REVIEWING, work=work_that_commits_late): 1})
    ran = CliRunner().invoke(kill.main, ["--kills", "3", "--seed", "1"])
    assert ran.exit_code == 1
    assert "decisions that were told to be kept are gone" in ran.output


def test_sound_that_is_not_written_as_it_is_spoken_is_reported_as_lost(tmp_path: Path) -> None:
    found = kill_often(replace(RECORDING, work=work_that_keeps_sound_back), 3, 1, tmp_path / "kills")
    assert any("s were said, there is no recording" in sentence for sentence in found.lost), found.lost


def _ends_at_once(place: Path, tell: Tell) -> str:
    tell("all done")
    return "the end"


def _never_ends(place: Path, tell: Tell) -> None:
    tell("at it")
    while True:
        os.sched_yield()


def test_a_kill_after_the_end_does_not_count(tmp_path: Path) -> None:
    late = Worker(_ends_at_once, tmp_path)
    late.wait(60.0)
    assert (late.ended, late.value, late.told) == (True, "the end", ["all done"])
    assert not late.kill()
    at_work = Worker(_never_ends, tmp_path)
    at_work.wait_begin()
    assert at_work.kill()


@pytest.mark.parametrize("kills", [len(kill.SHARES), 24, 300])
def test_kills_are_shared_out(kills: int) -> None:
    shared = kill.shared_out(kills, kill.SHARES)
    assert sum(shared.values()) == kills
    assert min(shared.values()) >= 1


# --- what kills have shown, each as a test of its own -------------------------------------------


def test_a_backup_can_be_restored_twice_in_one_second(tmp_path: Path) -> None:
    with store.Library.open() as library:
        add_evening(library)
        store.backup(library, tmp_path / "copy.db")
    now = datetime(2031, 9, 1, 20, 0)
    kept = [keeping.restore(tmp_path / "copy.db", now=now) for _ in range(3)]
    assert len(set(kept)) == 3
    assert all(path is not None and path.is_file() for path in kept)


def test_damaged_books_set_aside_in_one_second_are_all_kept(tmp_path: Path) -> None:
    with store.Library.open() as library:
        add_evening(library)
        store.backup(library, tmp_path / "copy.db")
    now = datetime(2031, 9, 1, 20, 0)
    kept = []
    for number in range(2):
        for beside in paths.home().glob("gradebook.db-*"):
            beside.unlink()
        paths.database().write_bytes(b"SQLite format 3\x00" + bytes([number]) * 4000)
        kept.append(keeping.restore(tmp_path / "copy.db", now=now))
    assert [path.read_bytes()[-1] for path in kept if path is not None] == [0, 1]


def test_leavings_are_swept_when_they_are_old(tmp_path: Path) -> None:
    old, young, mine = tmp_path / ".copy.db.7.part", tmp_path / ".copy.db.8.part", tmp_path / "copy.db"
    for path in (old, young, mine):
        path.write_text("x")
    folder = tmp_path / ".restore-x"
    folder.mkdir()
    (folder / "copy.db").write_text("x")
    for path in (old, folder):
        os.utime(path, (0, 0))
    leavings.sweep(tmp_path, ".copy.db.*.part", ".restore-*")
    assert {path.name for path in tmp_path.iterdir()} == {young.name, mine.name}


def test_a_backup_sweeps_what_a_killed_one_left(tmp_path: Path) -> None:
    left = tmp_path / ".copy [1].db.7.part-journal"
    left.write_text("x")
    os.utime(left, (0, 0))
    with store.Library.open() as library:
        store.backup(library, tmp_path / "copy [1].db")
    assert [path.name for path in tmp_path.glob("*copy*")] == ["copy [1].db"]
    assert not left.exists()


def test_a_lesson_cut_off_before_its_commit_does_not_hide_the_next_one(own_home: Path) -> None:
    with store.Library.open() as library:
        session = Session(library, add_evening(library))
        own_words.add_entry(1, "cut off", {"id": "swim", "group": "moves", "forms": ["never committed"]})
        lessons.teach(session, Meaning("techniques", "anchor", "form", "anchor"), 0, 3)
        (kept,) = store.learned(library)
    text = paths.user_vocabulary().read_text("utf-8")
    assert kept.form in text
    assert "never committed" not in text


def test_a_lesson_that_cannot_be_written_is_not_in_the_grade_book(own_home: Path) -> None:
    with store.Library.open() as library:
        session = Session(library, add_evening(library))
        paths.user_vocabulary().mkdir()
        with pytest.raises(InputError, match="vocabulary"):
            lessons.teach(session, Meaning("techniques", "anchor", "form", "anchor"), 0, 3)
        assert store.learned(library) == []


def test_a_note_of_a_season_is_there_as_it_was_settled_or_not_at_all(
    own_home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    with store.Library.open() as library:
        with monkeypatch.context() as patch:
            patch.setattr("reviewer.store.edit.confirm_above", killed)
            with pytest.raises(KeyboardInterrupt):
                load_season(library, SEASON)
        assert store.notes(library) == []
        load_season(library, SEASON)
        first = store.notes(library)[-1].id
        assert any(row.confirmed for row in store.current_rows(library, first))


def test_a_recording_killed_before_its_header_leaves_no_file(own_home: Path) -> None:
    path = record_notes.new_path()
    OpenNote(path).leave()
    path.touch()
    assert record_notes.unfinished() == ()
    assert not path.exists()
