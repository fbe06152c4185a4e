"""Joining another coach's library: all of it or nothing, and one's own decisions stay."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import Any

from reviewer import leavings, paths, store
from reviewer.intake.season import load_season
from reviewer.review import lessons
from reviewer.review.lessons import Meaning
from reviewer.review.session import Session
from reviewer.speech.record_file import NoteFile
from tests.killing import book
from tests.killing.child import Tell, command
from tests.killing.keeping import GAMES, SEASON, Contents
from tests.killing.rig import Kind
from tests.screens.evening import add_evening
from tests.speech.record_rig import noise


def prepare(place: Path, tell: Tell) -> None:
    """Both have the evening and decided differently; the other one has games, words and recordings more."""
    shutil.copytree(SEASON, place / "season", ignore=shutil.ignore_patterns("*.py", "*.txt"))
    for path in sorted((place / "season" / "notes").glob("*.jsonl"))[GAMES:]:
        path.unlink()
    _library("mine", 3)
    mine = paths.home()
    os.environ[paths.HOME_VARIABLE] = str(place / "other")
    _library("theirs", 7)
    with store.Library.open() as library:
        load_season(library, place / "season")
    paths.recordings().mkdir()
    for number in range(3):
        sound = NoteFile.create(paths.recordings() / f"note-{number}.wav")
        sound.write(noise(20.0, seed=number).tobytes())
        sound.close()
    os.environ[paths.HOME_VARIABLE] = str(mine)


def _library(said: str, first: int) -> None:
    with store.Library.open() as library:
        session = Session(library, add_evening(library))
        session.comment(said)
        lessons.teach(session, Meaning("techniques", "anchor", "form", "anchor"), first, first + 3)


def work(place: Path, tell: Tell) -> None:
    leavings.OLD_S = 0.0
    command("merge", place / "other")
    tell("joined")


def foresee(place: Path, tell: Tell) -> tuple[Contents, Contents]:
    """What the grade book holds before and after."""
    before = book.contents(without=str(place))
    work(place, tell)
    return before, book.contents(without=str(place))


def look(place: Path, tell: Tell, told: list[str], foreseen: tuple[Contents, Contents]) -> list[str]:
    before, after = foreseen
    lost = book.faults()
    now = book.contents(without=str(place))
    if now not in (before, after):
        lost.append(f"half of the other library is in the grade book: {book.differences(now, after)}")
    if told and now != after:
        lost.append("it was told to be joined, and is not")
    words = paths.user_vocabulary().read_text("utf-8")
    with store.Library.open() as library:
        lost += [
            f"“{one.form}” is not in the words" for one in store.learned(library) if one.form not in words
        ]
    return lost


def result(place: Path, tell: Tell) -> Any:
    return {
        "recordings": sorted(path.name for path in paths.recordings().iterdir()),
        "leavings": [path.name for path in paths.home().rglob(".*")],
        "words": sorted(paths.user_vocabulary().read_text("utf-8").splitlines()),
        **book.contents(without=str(place)),
    }


JOINING = Kind("joining", prepare, work, look, result, foresee)
