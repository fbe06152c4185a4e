"""Everything the program writes in the library folder is the user's alone, whatever the umask."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

from reviewer import paths, store
from reviewer.review.own_words import add_entry
from reviewer.review.settings import Settings, save_settings
from reviewer.speech.kept import Done, Keeper
from reviewer.speech.record import Recorder
from reviewer.speech.transcript import Settings as HearingSettings
from reviewer.speech.transcript import Transcript
from tests.conftest import Cli
from tests.speech.record_rig import FakeSource, noise
from tests.talk import ROSTER_CSV, TEXT


@pytest.fixture
def open_umask() -> Iterator[None]:
    """New files would be everybody's."""
    before = os.umask(0)
    yield
    os.umask(before)


def exposed(folder: Path) -> list[str]:
    """What others could read or enter."""
    return sorted(
        f"{path.relative_to(folder)} {stat.S_IMODE(path.lstat().st_mode):o}"
        for path in (folder, *folder.rglob("*"))
        if stat.S_IMODE(path.lstat().st_mode) & 0o077
    )


def test_a_whole_evening_leaves_nothing_readable_for_others(
    open_umask: None, own_home: Path, tmp_path: Path, cli: Cli, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = tmp_path / "deep" / "down" / "home"
    monkeypatch.setenv(paths.HOME_VARIABLE, str(home))
    (tmp_path / "roster.csv").write_text(ROSTER_CSV, "utf-8")
    (tmp_path / "week six.txt").write_text(TEXT, "utf-8")
    given = ("--player", "74", "--opponent", "Calder Stags", "--roster", tmp_path / "roster.csv")
    assert cli("grade", tmp_path / "week six.txt", *given).code == 0
    with store.Library.open() as library:
        store.set_fields(library, store.current_rows(library, 1)[0].id, {"verdict": "loss"})
        lesson = store.learn(library, "form", "swim", "arm goes over")
    add_entry(lesson, "week six", {"id": "swim", "group": "moves", "forms": ["arm goes over"]})
    save_settings(Settings(dark=False))
    assert cli("sheet", "--player", "74", "--out", home / "sheet.csv").code == 0
    assert cli("backup", home / "backups" / "kept.db").code == 0
    assert cli("restore", home / "backups" / "kept.db", "--yes").code == 0
    _hear(home)
    _record()
    assert cli("rescue").code == 0
    other = tmp_path / "other.db"
    assert cli("backup", other).code == 0
    with store.Library.open(other) as theirs:
        store.set_comment(theirs, store.current_rows(theirs, 1)[1].id, "low")
    assert cli("merge", other).code == 0
    assert cli("forget", "Anton Brisco", "--yes").code == 0
    written = {str(path.relative_to(home)) for path in home.rglob("*") if path.is_file()}
    assert {"gradebook.db", "sheet.csv", "backups/kept.db", "vocabulary.toml", "screen.json"} <= written
    assert sum(name.startswith("recordings/") for name in written) >= 3
    assert sum(name.startswith("transcripts/") for name in written) == 2
    assert exposed(home) == []
    assert exposed(tmp_path / "deep") == [], "folders made for it are the user's alone too"


def _hear(home: Path) -> None:
    """A finished transcript, and a pass that was stopped."""
    settings = HearingSettings()
    Keeper("a" * 64, "b" * 64, settings, None).finish(
        Transcript((), 1.0, "a" * 64, "base", "b" * 64, settings)
    )
    Keeper("c" * 64, "b" * 64, settings, None).add(Done(0, 16_000))


def _record() -> None:
    """A note with a mark, and one that is still open."""
    source = FakeSource()
    recorder = Recorder(source)
    recorder.open()
    recorder.start()
    source.say(noise(1.0))
    recorder.mark("here")
    recorder.finish()
    recorder.close()
    again = Recorder(open_source := FakeSource())
    again.open()
    again.start()
    open_source.say(noise(1.0))
    again.close()


def test_a_report_elsewhere_is_like_any_file(open_umask: None, tmp_path: Path, cli: Cli) -> None:
    (tmp_path / "note.txt").write_text(TEXT, "utf-8")
    assert cli("grade", tmp_path / "note.txt", "--player", "74").code == 0
    assert cli("sheet", "--player", "74", "--out", tmp_path / "sheet.csv").code == 0
    assert stat.S_IMODE((tmp_path / "sheet.csv").stat().st_mode) == 0o666
