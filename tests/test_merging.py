"""Another coach's library brought in with its files: `reviewer merge`."""

from __future__ import annotations

import hashlib
import shutil
import sqlite3
import stat
from pathlib import Path

import pytest

from reviewer import store
from reviewer.errors import InputError, LibraryError, Stopped
from reviewer.language.vocabulary import load_vocabulary
from reviewer.merging import bring_in
from reviewer.review import own_words
from tests.conftest import Cli
from tests.store.scene import new_note, scene
from tests.store.test_merge import opened

DAY = "2026-09-02"


def home_of(folder: Path, sound: bytes = b"RIFF first", name: str = "note.wav") -> Path:
    """A coach's whole library: a recorded note, its transcript, a lesson, words of his own, a scale."""
    (folder / "recordings").mkdir(parents=True)
    (folder / "transcripts").mkdir()
    recording = folder / "recordings" / name
    recording.write_bytes(sound)
    recording.with_suffix(".marks.jsonl").write_text('{"event": "mark"}\n')
    (folder / "transcripts" / "abc-def-123.json").write_text("{}")
    (folder / "transcripts" / "abc-def-123.scores").write_text("{}")
    (folder / "transcripts" / "zzz.part.jsonl").write_text("{}")
    (folder / "scale.toml").write_text('base = "plus-minus"\n')
    (folder / "screen.json").write_text("{}")
    (folder / "models").mkdir()
    with opened(folder / "gradebook.db", "Ruben", 2) as library:
        content = hashlib.sha256(sound).hexdigest()
        note = store.add_note(library, new_note(content, source=f"/elsewhere/{name}"), scene())
        store.learn(library, "form", "swim", "nothing to tell")
        number = store.learn(library, "form", "swim", "arm goes over", note=note)
    lesson = {"id": "swim", "group": "moves", "forms": ["arm goes over"]}
    words = folder / "vocabulary.toml"
    words.write_text('# mine, by hand\n[[term]]\nid = "rip"\ngroup = "moves"\nforms = ["dipper"]\n')
    own_words.add_entry(number, f"{DAY}, week 3", lesson, words)
    return folder


def everything(folder: Path) -> dict[str, bytes]:
    """Every file of a library but the grade book's own."""
    return {
        str(file.relative_to(folder)): file.read_bytes()
        for file in sorted(folder.rglob("*"))
        if file.is_file() and not file.name.startswith("gradebook.")
    }


@pytest.fixture
def theirs(tmp_path: Path) -> Path:
    return home_of(tmp_path / "theirs")


def test_a_whole_library_comes(own_home: Path, theirs: Path) -> None:
    before = everything(theirs)
    done = bring_in(theirs)
    assert done.added["recordings"] == 1 and done.added["marks of recordings"] == 1
    assert done.added["transcripts"] == 2 and done.added["grading scales"] == 1
    assert done.left == [
        f"Not taken from {theirs}: models, screen.json, transcripts/zzz.part.jsonl.",
    ]
    there = everything(own_home)
    assert there["recordings/note.wav"] == b"RIFF first"
    assert {name for name in before if name not in there} == {"screen.json", "transcripts/zzz.part.jsonl"}
    assert everything(theirs) == before, "theirs is only read"
    with store.Library.open() as library:
        assert store.note(library, 1).source == str(own_home / "recordings" / "note.wav")
        numbers = {one.form: one.id for one in store.learned(library)}
    text = (own_home / "vocabulary.toml").read_text()
    assert own_words.numbers(text) == set(numbers.values())
    assert f"# learned {numbers['arm goes over']}: {DAY}, week 3\n" in text and "# mine, by hand" in text
    swim = next(term for term in load_vocabulary().terms if term.id == "swim")
    assert {"arm goes over", "nothing to tell"} <= set(swim.forms)
    assert done.backup is not None and done.backup.is_file()


def test_merging_twice_changes_nothing(own_home: Path, theirs: Path) -> None:
    bring_in(theirs)
    files = everything(own_home)
    again = bring_in(theirs)
    assert not +again.added and again.backup is None
    assert everything(own_home) == files
    assert len(list(own_home.glob("gradebook.before-merge-*"))) == 1
    assert not [name for name in files if ".merg" in name], "no leavings"


def test_lessons_of_both_are_renumbered(own_home: Path, theirs: Path) -> None:
    home_of(own_home, b"RIFF mine", "other.wav")
    with store.Library.open() as library:
        number = store.learn(library, "form", "spin", "whirls")
    own_words.add_entry(number, DAY, {"id": "spin", "group": "moves", "forms": ["whirls"]})
    with opened(theirs / "gradebook.db", "Ruben", 3) as library:
        number = store.learn(library, "form", "chop", "hacks")
    own_words.add_entry(
        number, DAY, {"id": "chop", "group": "moves", "forms": ["hacks"]}, theirs / "vocabulary.toml"
    )
    assert bring_in(theirs).added["vocabulary entries"] == 1
    text = (own_home / "vocabulary.toml").read_text()
    assert own_words.numbers(text) == {2, 3, 4}
    assert text.count("dipper") == 1, "what was written by hand in both comes once"
    own_words.remove_entry(4)
    assert "hacks" not in (own_home / "vocabulary.toml").read_text()


def test_another_recording_of_the_same_name(own_home: Path, theirs: Path) -> None:
    home_of(own_home, b"RIFF mine!!")
    bring_in(theirs)
    kept = {file.read_bytes(): file for file in (own_home / "recordings").glob("*.wav")}
    assert set(kept) == {b"RIFF first", b"RIFF mine!!"}
    assert kept[b"RIFF mine!!"].name == "note.wav"
    with store.Library.open() as library:
        sources = {store.note(library, n).source for n in (1, 2)}
    assert str(kept[b"RIFF first"]) in sources


def test_a_recording_lost_here_is_found_again(own_home: Path, theirs: Path) -> None:
    shutil.copytree(theirs, own_home)
    shutil.rmtree(own_home / "recordings")
    (theirs / "recordings" / "note.wav").rename(theirs / "recordings" / "renamed.wav")
    assert bring_in(theirs).added["recordings found again"] == 1
    with store.Library.open() as library:
        assert store.note(library, 1).source == str(own_home / "recordings" / "renamed.wav")


def test_a_backup_alone(own_home: Path, theirs: Path, tmp_path: Path) -> None:
    with opened(theirs / "gradebook.db", "Ruben", 3) as library:
        store.backup(library, tmp_path / "kept.db")
    done = bring_in(tmp_path / "kept.db")
    assert done.left == ["Only a grade book was given: recordings and transcripts did not come."]
    assert done.added["notes"] == 1 and done.added["vocabulary entries"] == 2
    assert "arm goes over" in (own_home / "vocabulary.toml").read_text()


def test_a_library_still_in_use_is_read_whole(own_home: Path, tmp_path: Path) -> None:
    with opened(tmp_path / "theirs" / "gradebook.db", "Ruben", 2) as library:
        store.add_note(library, new_note(), scene())
        assert (tmp_path / "theirs" / "gradebook.db-wal").stat().st_size > 0
        assert bring_in(tmp_path / "theirs").added["notes"] == 1


def test_a_disk_that_fills_up_leaves_nothing(
    own_home: Path, theirs: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    home_of(own_home, b"RIFF mine", "other.wav")
    with (theirs / "vocabulary.toml").open("a") as file:
        file.write('\n[[term]]\nid = "club"\ngroup = "moves"\nforms = ["clubs him"]\n')
    before = everything(own_home)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("shutil.copyfile", full)
        with pytest.raises(LibraryError, match=r"cannot be copied .* \(No space left on device\)"):
            bring_in(theirs)
    assert everything(own_home) == before
    with monkeypatch.context() as patch:
        patch.setattr("reviewer.review.own_words.write_text", full)
        with pytest.raises(LibraryError, match=r"cannot be kept .* nothing was changed"):
            bring_in(theirs)
    assert everything(own_home) == before
    assert list(own_home.glob("gradebook.before*")) == []
    with store.Library.open() as library:
        assert len(store.notes(library)) == 1
    assert bring_in(theirs).added["notes"] == 1


def test_it_can_be_stopped(own_home: Path, theirs: Path) -> None:
    with pytest.raises(Stopped, match="nothing was changed"):
        bring_in(theirs, should_stop=lambda: True)
    with store.Library.open() as library:
        assert store.notes(library) == []


def test_a_dry_run_writes_nothing(own_home: Path, theirs: Path) -> None:
    with store.Library.open() as library:
        store.add_note(library, new_note(), scene())
    before = everything(own_home)
    tried = bring_in(theirs, dry_run=True)
    assert everything(own_home) == before and tried.backup is None
    assert bring_in(theirs).added["recordings"] == tried.added["recordings"] == 1


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("nowhere", "there is no file or folder"),
        ("empty", "there is no grade book in"),
        ("text.db", "is no grade book or is damaged"),
        ("foreign.db", "is the database of another program"),
    ],
)
def test_what_is_no_library(own_home: Path, tmp_path: Path, cli: Cli, name: str, sentence: str) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "text.db").write_text("no database at all, only some words\n" * 50)
    with sqlite3.connect(tmp_path / "foreign.db") as other:
        other.execute("CREATE TABLE recipe (name TEXT)")
    ran = cli("merge", tmp_path / name)
    assert ran.code == 2 and sentence in ran.err and ran.err.count("\n") == 1, ran.err
    assert list(own_home.glob("gradebook.before*")) == []


def test_ones_own_library(own_home: Path) -> None:
    store.Library.open().close()
    with pytest.raises(InputError, match="is your own library"):
        bring_in(own_home)


def test_the_command_lists_and_settles(own_home: Path, tmp_path: Path, cli: Cli) -> None:
    with store.Library.open() as mine:
        store.add_note(mine, new_note(), scene())
        store.backup(mine, tmp_path / "theirs.db")
        rows = [row.id for row in store.current_rows(mine, 1)]
        store.set_fields(mine, rows[0], {"verdict": "loss"})
        store.set_fields(mine, rows[1], {"faults": ["lunge"]})
    with opened(tmp_path / "theirs.db", "Ruben", 3) as other:
        store.set_fields(other, rows[0], {"verdict": "neutral"})
        store.set_fields(other, rows[1], {"faults": ["overset", "lunge"]})
    assert "2 decisions would clash" in cli("merge", tmp_path / "theirs.db", "--dry-run").out
    ran = cli("merge", tmp_path / "theirs.db")
    assert ran.code == 0 and "Came: 2 decisions." in ran.out, ran.err
    assert "neutral (Ruben, 2026-09-03)" in ran.out and "loss (" in ran.out and "overset, lunge" in ran.out
    assert "reviewer restore" in ran.err
    assert cli("merge", "--settle", "1=theirs").out.count("Ruben") == 1
    wrong = cli("merge", "--settle", "1=his")
    assert wrong.code == 2 and "names no clash and side" in wrong.err
    assert cli("merge", "--settle", "9=mine").code == 2
    assert cli("merge", "--prefer", "mine").out == "No clash is open.\n"
    with store.Library.open() as mine:
        now = store.current_rows(mine, 1)
        assert now[0].current.verdict == "neutral" and now[1].current.faults == ["lunge"]
        assert store.check(mine) == []


def test_what_came_is_private(own_home: Path, theirs: Path) -> None:
    for file in theirs.rglob("*"):
        file.chmod(0o777 if file.is_dir() else 0o666)
    bring_in(theirs)
    open_to_others = [
        file for file in (own_home, *own_home.rglob("*")) if stat.S_IMODE(file.stat().st_mode) & 0o077
    ]
    assert open_to_others == [own_home / "vocabulary.toml"] or open_to_others == []
