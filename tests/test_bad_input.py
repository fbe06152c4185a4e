"""Every bad input: one clear sentence, exit code 2, nothing half-written."""

from __future__ import annotations

import shutil
import wave
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from reviewer import paths, store
from tests.conftest import Cli, Ran
from tests.talk import ROSTER_CSV, TEXT

RATE = 16_000
MODEL = ("--model", "tiny.en")
"""Used where it lies: no test has to put a model together."""


def refused(ran: Ran, sentence: str) -> None:
    """One sentence on stderr, which says this; nothing else, and nothing in the grade book."""
    assert ran.code == 2
    assert ran.out == ""
    assert ran.err.startswith("reviewer: ")
    assert ran.err.count("\n") == 1
    assert ran.err.rstrip().endswith((".", "?"))
    assert sentence in ran.err
    assert "Traceback" not in ran.err
    if paths.database().exists():
        with store.Library.open() as library:
            assert store.notes(library) == []
            assert store.games(library) == []
            assert store.teams(library) == []
    assert not list(paths.transcripts().glob("*.json"))


def write_wav(path: Path, samples: npt.NDArray[np.float64]) -> Path:
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        out.writeframes((samples * 32767).astype(np.int16).tobytes())
    return path


def silence(path: Path) -> None:
    write_wav(path, np.zeros(4 * RATE))


def music(path: Path) -> None:
    """Three chords of struck strings: sound, but nobody speaks."""
    t = np.arange(2 * RATE) / RATE
    fade = np.exp(-2 * t)
    chords = ((220.0, 277.2, 329.6), (246.9, 311.1, 370.0), (196.0, 246.9, 293.7))
    notes = [
        sum(np.sin(2 * np.pi * k * f * t) / k for f in chord for k in (1, 2, 3)) * fade * 0.1
        for chord in chords
    ]
    write_wav(path, np.concatenate(notes))


def cut_off(path: Path) -> None:
    """A recording whose header tells of more than was copied."""
    whole = write_wav(path, 0.3 * np.sin(np.arange(8 * RATE) / 20)).read_bytes()
    path.write_bytes(whole[: len(whole) // 2])


def cut_off_ogg(path: Path) -> None:
    whole = (paths.demo_audio() / "terse-coach.ogg").read_bytes()
    path.write_bytes(whole[: len(whole) // 3])


def picture(path: Path) -> None:
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 8)


def text(content: str | bytes) -> Callable[[Path], None]:
    data = content.encode() if isinstance(content, str) else content
    return lambda path: path.write_bytes(data) and None


NOTES: dict[str, tuple[str, Callable[[Path], None] | None, str]] = {
    "missing recording": ("gone.wav", None, "there is no file"),
    "missing text": ("gone.txt", None, "there is no file"),
    "missing captions": ("gone.vtt", None, "there is no file"),
    "empty recording": ("empty.m4a", text(""), "is empty (0 bytes)"),
    "empty text": ("empty.txt", text(""), "is empty (0 bytes)"),
    "text without words": ("blank.txt", text(" \n\n -- \n"), "holds no words"),
    "text in another code": (
        "latin.txt",
        text(b"First and ten\nd\xe9j\xe0 vu"),
        "line 2: this is not UTF-8 text",
    ),
    "text with zeros": ("zeros.txt", text(b"win\x00loss"), "is no plain text"),
    "captions without cues": ("none.vtt", text("WEBVTT\n"), "holds no captions"),
    "captions with a bad time": ("bad.vtt", text("WEBVTT\n\n00:61.000 --> 00:62.000\nwin\n"), "line 3"),
    "silence": ("silence.wav", silence, "is silent from start to end"),
    "music": ("music.wav", music, "holds sound but no talk"),
    "a picture": ("photo.png", picture, "photo.png"),
    "text that says it is sound": ("talk.wav", text(TEXT), "is no recording that can be read"),
    "a recording cut off": ("cut.wav", cut_off, "breaks off after"),
    "a compressed recording cut off": ("cut.ogg", cut_off_ogg, "breaks off after"),
}


@pytest.mark.parametrize(("name", "make", "sentence"), NOTES.values(), ids=NOTES.keys())
def test_a_bad_note(
    cli: Cli, tmp_path: Path, name: str, make: Callable[[Path], None] | None, sentence: str
) -> None:
    path = tmp_path / name
    if make is not None:
        make(path)
    ran = cli("grade", path, "--player", "74", *MODEL)
    refused(ran, sentence)
    assert name in ran.err


def test_an_empty_folder(cli: Cli, tmp_path: Path) -> None:
    folder = tmp_path / "notes"
    folder.mkdir()
    refused(cli("grade", folder), "holds no recording, captions or text")


def test_a_pipe_with_nobody_at_its_end(cli: Cli, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    refused(cli("grade", "-"), "reads the text of a note from a pipe")


ROSTERS: dict[str, tuple[str | None, str]] = {
    "missing": (None, "There is no file"),
    "empty": ("", "has no headings"),
    "no headings": ("74,Wes Tillery,RT,own\n", "has no headings"),
    "no men": ("jersey,name,position,side\n", "names no man"),
    "a number that is none": ("jersey,name,position,side\n7x,Wes Tillery,RT,own\n", "7x is no jersey number"),
    "a number too large": ("jersey,name,position,side\n174,Wes Tillery,RT,own\n", "174 is no jersey number"),
    "a side that is none": ("jersey,name,position,side\n74,Wes Tillery,RT,left\n", "neither own nor opp"),
}


@pytest.mark.parametrize(("content", "sentence"), ROSTERS.values(), ids=ROSTERS.keys())
def test_a_wrong_roster(cli: Cli, tmp_path: Path, content: str | None, sentence: str) -> None:
    note, roster = tmp_path / "note.txt", tmp_path / "roster.csv"
    note.write_text(TEXT, "utf-8")
    if content is not None:
        roster.write_text(content, "utf-8")
    ran = cli("grade", note, "--player", "74", "--roster", roster, "--game", "Week six")
    refused(ran, sentence)
    assert "roster.csv" in ran.err


PLAYERS: dict[str, tuple[str, str]] = {
    "a digit exchanged": ("47x", "47x is not among"),
    "not on the roster": ("79", "79 is not among the own men of the roster; nearest: 74 Wes Tillery (RT)"),
    "an opponent": ("91", "91 is not among the own men of the roster (91 Dante Orlov (DE) is an opponent)"),
    "a name misspelt": ("Tilery", "nearest: 74 Wes Tillery (RT)"),
    "a name of nobody": ("Quimby", "Quimby is not among the own men"),
}


@pytest.mark.parametrize(("player", "sentence"), PLAYERS.values(), ids=PLAYERS.keys())
def test_an_unknown_player(cli: Cli, tmp_path: Path, player: str, sentence: str) -> None:
    note, roster = tmp_path / "note.txt", tmp_path / "roster.csv"
    note.write_text(TEXT, "utf-8")
    roster.write_text(ROSTER_CSV, "utf-8")
    refused(cli("grade", note, "--player", player, "--roster", roster, "--game", "Week six"), sentence)


def test_a_name_without_a_roster(cli: Cli, tmp_path: Path) -> None:
    note = tmp_path / "note.txt"
    note.write_text(TEXT, "utf-8")
    refused(cli("grade", note, "--player", "Tillery"), "there is no roster to look a name up in")


def test_an_unknown_position(cli: Cli, tmp_path: Path) -> None:
    note = tmp_path / "note.txt"
    note.write_text(TEXT, "utf-8")
    refused(cli("grade", note, "--player", "74", "--position", "wizard"), "'wizard' is no position")


def test_an_unknown_game_number(cli: Cli, tmp_path: Path) -> None:
    note = tmp_path / "note.txt"
    note.write_text(TEXT, "utf-8")
    refused(cli("grade", note, "--game", "12"), "There is no game 12")


@pytest.fixture
def tone(tmp_path: Path) -> Path:
    """A recording that is fine, for what goes wrong before it is heard."""
    return write_wav(tmp_path / "note.wav", 0.3 * np.sin(np.arange(RATE) / 20))


def test_a_missing_model(cli: Cli, tone: Path, tmp_path: Path) -> None:
    refused(cli("grade", tone, "--model", tmp_path / "no model"), "there is no model folder")


def test_a_model_name_that_is_none(cli: Cli, tone: Path) -> None:
    refused(cli("grade", tone, "--model", "bass"), "no speech model is named bass")


def test_a_model_folder_that_holds_none(cli: Cli, tone: Path, tmp_path: Path) -> None:
    folder = tmp_path / "model"
    folder.mkdir()
    refused(cli("grade", tone, "--model", folder), "holds no CTranslate2 Whisper model")


def test_a_damaged_model_folder(cli: Cli, tmp_path: Path) -> None:
    from reviewer.speech.models import find_model

    folder = tmp_path / "model"
    shutil.copytree(find_model("tiny.en").path, folder, ignore=lambda _, __: ["model.bin"])
    (folder / "model.bin").write_bytes(b"not a model" * 1000)
    speech = tmp_path / "note.ogg"
    shutil.copy(paths.demo_audio() / "terse-coach.ogg", speech)
    refused(cli("grade", speech, "--model", folder), "cannot be loaded")


def test_a_damaged_shipped_model(cli: Cli, tone: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from reviewer.speech import models

    tiny = models.SHIPPED["tiny.en"]
    file = replace(tiny.files[0], digest="0" * 64)
    monkeypatch.setitem(models.SHIPPED, "tiny.en", replace(tiny, files=(file, *tiny.files[1:])))
    refused(cli("grade", tone, *MODEL), "is damaged; reinstall it with: pip install")


def test_a_shipped_model_that_is_not_installed(cli: Cli, tone: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from reviewer.speech import shipped

    monkeypatch.setattr(shipped.Part, "find", lambda part: None)
    refused(cli("grade", tone), "the speech model base is not installed; run: pip install")


def test_an_unwritable_library(cli: Cli, tone: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # below a file no folder can be made, not even by an administrator
    (tmp_path / "file").write_text("in the way", "utf-8")
    monkeypatch.setenv(paths.HOME_VARIABLE, str(tmp_path / "file" / "home"))
    refused(cli("grade", tone, *MODEL), "choose another with REVIEWER_HOME")


def test_a_library_that_is_no_library(cli: Cli, tone: Path, own_home: Path) -> None:
    own_home.mkdir()
    paths.database().write_bytes(b"something else" * 100)
    ran = cli("grade", tone, *MODEL)
    assert ran.code == 2
    assert "is not a grade book" in ran.err
    assert paths.database().read_bytes() == b"something else" * 100


def test_an_own_vocabulary_that_cannot_be_read(cli: Cli, tone: Path, own_home: Path) -> None:
    own_home.mkdir()
    paths.user_vocabulary().write_text('[[term]]\nid = "swat\n', "utf-8")
    refused(cli("grade", tone, *MODEL), "vocabulary.toml")


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (("grad",), "there is no command 'grad'; did you mean grade?"),
        (("search", "--technique", "pnch"), "there is no technique 'pnch'; did you mean punch"),
        (("search", "--opponent", "Nobody"), "'Nobody' is no opponent in the grade book"),
        (("search", "--saved", "gone"), "There is no saved search"),
        (("search", "--game", "gone"), "There is no game"),
        (("search", "colour:blue"), "There is no filter 'colour'"),
        (("notes", "gone"), "There is no note gone"),
        (("notes", "--captions"), "say which note"),
        (("review", "gone"), "There is no note gone"),
        (("review",), "There is no note to review yet"),
        (("vocabulary", "zzzz"), "no term is called 'zzzz'"),
        (("vocabulary", "--group", "zzzz"), "there is no group 'zzzz'"),
        (("vocabulary", "--forget", "7"), "Nothing learned has the number 7"),
        (("model", "bass"), "no speech model is named bass"),
        (("restore", "gone.db"), "there is no file gone.db"),
    ],
)
def test_other_commands(cli: Cli, arguments: tuple[str, ...], sentence: str) -> None:
    refused(cli(*arguments), sentence)


def test_a_backup_that_is_none(cli: Cli, tmp_path: Path) -> None:
    path = tmp_path / "backup.db"
    path.write_text(TEXT, "utf-8")
    refused(cli("restore", path, "--yes"), f"{path} is not a grade book")


def test_a_demo_that_did_not_come_along(cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(paths, "demo_audio", lambda: tmp_path)
    refused(cli("demo", "--no-screen"), "there is no demo recording in")
