"""What the program meets in bad places: each function is called in a child of the kill check's server.

They give (exit code, what was printed) or plain findings; the tests judge.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from reviewer import paths, store
from reviewer.errors import ReviewerError
from reviewer.language.read import Reader
from reviewer.pipeline import HearWith, grade_note
from reviewer.records import NoteContext
from reviewer.review import lessons
from reviewer.review.lessons import Meaning
from reviewer.review.session import Session
from reviewer.speech import activity, decode, record_notes
from reviewer.speech.record import Recorder
from reviewer.speech.transcribe import hear
from tests.killing import book
from tests.killing.child import Tell
from tests.killing.hearing import SlowEars, prepare_transcribing
from tests.killing.keeping import SEASON
from tests.killing.places import fill, limit_files, read_only, reviewer, small_disk
from tests.killing.recording import TALK, Talker
from tests.speech.fakes import MODEL, loud
from tests.speech.record_rig import RATE, wait_until, wav_samples
from tests.talk import ROSTER_CSV, TEXT

DISK = 3 << 20
"""Bytes of the small disk."""

Ran = tuple[int, str]


def use_warm_reader() -> None:
    from tests.killing.warm import READER

    Reader.load = staticmethod(lambda *_, **__: READER)  # type: ignore[method-assign,assignment]


def texts(folder: Path, count: int, first: int = 1) -> list[Path]:
    """So many notes as text, each another one."""
    folder.mkdir(exist_ok=True)
    for number in range(first, first + count):
        (folder / f"week {number}.txt").write_text(f"{TEXT}\nThat was week {number}.\n", "utf-8")
    return sorted(folder.iterdir())


def a_library() -> None:
    """A grade book with one note and a decision about it."""
    use_warm_reader()
    (note,) = texts(Path("first"), 1, first=0)
    assert reviewer("grade", note, "--player", "74")[0] == 0
    with store.Library.open() as library:
        Session(library, 1).comment("watch his eyes")


class FullDisk:
    """A disk for the library (and more) on which so little is left; `free` makes room again.

    grows: whether the grade book is what grows; else it is a new file.
    """

    def __init__(self, leave: int, grows: bool = True) -> None:
        home = paths.home()
        home.mkdir()
        self.free: Callable[[], object]
        mounted = small_disk(home, DISK)
        a_library()
        if mounted:
            self.free = fill(home, leave).unlink
        else:
            self.free = limit_files(leave + (_largest(home) if grows else 0))


def _largest(folder: Path) -> int:
    return max(path.stat().st_size for path in folder.rglob("*") if path.is_file())


def the_first_is_there() -> list[str]:
    """What is wrong with the note and the decision that were there before; [] when all is well."""
    with store.Library.open() as library:
        first = store.notes(library)[-1]
        comments = [row.comment for row in store.current_rows(library, first.id)]
    found = book.faults()
    return found if "watch his eyes" in comments else [*found, f"the decision is gone: {comments}"]


# --- a full disk -------------------------------------------------------------------------------


def full_grading(place: Path, tell: Tell) -> dict[str, Any]:
    disk = FullDisk(leave=150_000)
    notes = texts(place / "more", 40)
    codes = [reviewer("grade", note, "--player", "74") for note in notes]
    refused = next(ran for ran in codes if ran[0] != 0)
    stored = sum(code == 0 for code, _ in codes)
    wrong = the_first_is_there()
    with store.Library.open() as library:
        there = len(store.notes(library)) - 1
    disk.free()
    again = [reviewer("grade", note, "--player", "74")[0] for note in notes]
    return {"refused": refused, "kept": there - stored, "wrong": wrong, "again": set(again)}


def full_deciding(place: Path, tell: Tell) -> dict[str, Any]:
    disk = FullDisk(leave=400_000)
    said, refusal = 0, ""
    with store.Library.open() as library:
        session = Session(library, 1)
        try:
            for number in range(2000):
                session.comment(f"{number} " + "remark " * 200)
                said = number
        except ReviewerError as problem:
            refusal = str(problem)
        row = session.row
        shown = row.comment.split()[0] if row is not None else ""
    disk.free()
    with store.Library.open() as library:
        session = Session(library, 1)
        session.comment("room again")
        kept = store.revision_of(library, 1)
        wrong = book.faults()
        # undo goes back to the last decision that was taken
        session.undo()
        row = session.row
        before = row.comment.split()[0] if row is not None else ""
    return {
        "refusal": refusal, "said": str(said), "shown": shown, "before": before, "wrong": wrong,
        "kept": kept - said,
    }  # fmt: skip


def full_teaching(place: Path, tell: Tell) -> dict[str, Any]:
    disk = FullDisk(leave=90_000)
    refusal = ""
    with store.Library.open() as library:
        session = Session(library, 1)
        for number in range(200):
            try:
                lessons.teach(session, Meaning("techniques", f"t{number}", "form", "x"), 0, 3)
            except ReviewerError as problem:
                refusal = str(problem)
                break
        listed = {lesson.id for lesson in store.learned(library)}
    vocabulary = paths.user_vocabulary()
    text = vocabulary.read_text("utf-8") if vocabulary.exists() else ""
    wrong = the_first_is_there()
    disk.free()
    return {
        "refusal": refusal, "wrong": wrong,
        "missing": [number for number in listed if f"# learned {number}:" not in text],
    }  # fmt: skip


def full_recording(place: Path, tell: Tell) -> dict[str, Any]:
    disk = FullDisk(leave=60_000, grows=False)
    recorder = Recorder(Talker(0, lambda said: None))
    recorder.open()
    wait_until(lambda: recorder.status().problem != "", "the disk never fills")
    problem = recorder.status().problem
    path = recorder.path
    assert path is not None
    at_once = wav_samples(path)
    disk.free()
    recorder.go_on()
    wait_until(lambda: recorder.status().ended != "", "he never ends")
    made = recorder.finish()
    kept = wav_samples(made.path)
    gap = next((n for n in range(len(kept)) if kept[n] != TALK[n]), len(kept))
    return {
        "problem": problem, "problems": made.problems, "wrong": the_first_is_there(),
        "at once": bool(len(at_once)) and np.array_equal(at_once, TALK[: len(at_once)]),
        "more": gap - len(at_once),
    }  # fmt: skip


def full_transcribing(place: Path, tell: Tell) -> dict[str, Any]:
    prepare_transcribing(place, tell)
    activity.voiced = loud
    activity.CHUNK_S = 30.0
    disk = FullDisk(leave=0, grows=False)
    refusal = ""
    try:
        hear(place / "talk.flac", model=MODEL, load=SlowEars())
    except ReviewerError as problem:
        refusal = str(problem)
    disk.free()
    wrong = the_first_is_there()
    words = len(hear(place / "talk.flac", model=MODEL, load=SlowEars()).words)
    left = [path.name for path in paths.transcripts().iterdir() if path.name.startswith(".")]
    return {"refusal": refusal, "wrong": wrong, "words": words, "left": left}


def full_copies(place: Path, tell: Tell) -> dict[str, Any]:
    """Backup, restore, a season, a sheet and a recording to keep, each onto the full disk."""
    shutil.copytree(SEASON, place / "season", ignore=shutil.ignore_patterns("*.py", "*.txt"))
    with store.Library.open(place / "other.db") as library:
        from reviewer.intake.season import load_season

        load_season(library, place / "season")
        store.backup(library, place / "backup.db")
    (place / "roster.csv").write_text(ROSTER_CSV, "utf-8")
    disk = FullDisk(leave=40_000, grows=False)
    home = paths.home()
    (place / "long.txt").write_text(TEXT, "utf-8")
    (home / "sheet.pdf").write_text("mine", "utf-8")
    ran = {
        "backup": reviewer("backup", home / "copy.db"),
        "restore": reviewer("restore", place / "backup.db", "--yes"),
        "season": reviewer("game", "season", place / "season"),
        "sheet": reviewer("sheet", "--player", "74", "--out", home / "sheet.pdf"),
    }
    kept = (home / "sheet.pdf").read_text("utf-8")
    names = sorted(path.name for path in home.iterdir())
    disk.free()
    return {"ran": ran, "sheet": kept, "names": names, "wrong": the_first_is_there()}


def full_from_the_start(place: Path, tell: Tell) -> dict[str, Any]:
    """No room for a grade book at all, nor for a model that has to be put together."""
    home = paths.home()
    home.mkdir()
    note = place / "talk.txt"
    note.write_text(TEXT, "utf-8")
    use_warm_reader()
    disk = fill(home, 8192).unlink if small_disk(home, 1 << 20) else limit_files(8192)
    refused = reviewer("grade", note, "--player", "74")
    model = _joined()
    disk()
    again = reviewer("grade", note, "--player", "74")
    left = [path.name for path in (home / "models").iterdir()] if (home / "models").exists() else []
    return {"refused": refused, "model": model, "again": again[0], "left": left}


def _joined() -> str:
    from reviewer.speech.models import find_model

    try:
        find_model("base")
    except ReviewerError as problem:
        return str(problem)
    return ""


# --- a place that cannot be written -------------------------------------------------------------


def read_only_library(place: Path, tell: Tell) -> dict[str, Any]:
    a_library()
    note = texts(place / "more", 1)[0]
    _load_all(note)
    read_only(paths.home())
    return _without_writing(place, note)


def _load_all(note: Path) -> None:
    """Let every command load what it needs: another user may not look where Python lies."""
    for words in (
        ("search", "reaches"), ("notes",), ("sheet", "--player", "74"), ("vocabulary", "--own"),
        ("grade", note, "--player", "74", "--dry-run"), ("backup", Path("loaded.db")),
        ("review",), ("restore", note, "--yes"),
        ("roster", "import", note, "--team", "x", "--season", "2031"),
    ):  # fmt: skip
        reviewer(*words)


def _without_writing(place: Path, note: Path) -> dict[str, Any]:
    out = place / "out"
    refused = {
        "grade": reviewer("grade", note, "--player", "74"),
        "review": reviewer("review"),
        "restore": reviewer("restore", note, "--yes"),
        "roster": reviewer("roster", "import", note, "--team", "x", "--season", "2031"),
        "save": reviewer("search", "reaches", "--save", "mine"),
    }
    works = {
        "search": reviewer("search", "reaches"),
        "notes": reviewer("notes"),
        "sheet": reviewer("sheet", "--player", "74"),
        "dry run": reviewer("grade", note, "--player", "74", "--dry-run"),
        "backup": reviewer("backup", out.with_suffix(".db")),
        "own words": reviewer("vocabulary", "--own"),
    }
    return {"refused": refused, "works": works}


def killed_then_read_only(place: Path, tell: Tell) -> Ran:
    """What was decided last is still in the log beside the file, and the disk has become read-only."""
    home = os.environ[paths.HOME_VARIABLE]
    os.environ[paths.HOME_VARIABLE] = str(place / "another")
    (note,) = texts(place / "more", 1)
    use_warm_reader()
    assert reviewer("grade", note, "--player", "74")[0] == 0
    _load_all(note)
    os.environ[paths.HOME_VARIABLE] = home
    read_only(paths.home())
    return reviewer("search", "--player", "74", "reaches")


def decide_and_wait(place: Path, tell: Tell) -> None:
    a_library()
    library = store.Library.open()
    session = Session(library, 1)
    session.do(lambda seen: store.set_fields(library, session.rows[0].id, {"verdict": "loss"}, seen=seen))
    tell("decided")
    while True:
        os.sched_yield()


def read_only_recording(place: Path, tell: Tell) -> str:
    paths.recordings().mkdir(parents=True)
    read_only(paths.home())
    try:
        recorder = Recorder(Talker(0, lambda said: None))
        recorder.open()
    except ReviewerError as problem:
        return str(problem)
    return ""


# --- a recording that vanishes -----------------------------------------------------------------


def vanishing(place: Path, tell: Tell, when: str) -> dict[str, Any]:
    """The recording is gone, or cut short, at some point of the pass."""
    prepare_transcribing(place, tell)
    activity.voiced = loud
    activity.CHUNK_S = 30.0
    path = place / "talk.flac"
    asked = [0]

    def go(*_: float) -> bool:
        asked[0] += 1
        if when == "gone at once" and asked[0] == 1:
            path.unlink()
        if when == "gone while heard" and asked[0] == 3:
            path.unlink()
        if when == "cut while heard" and asked[0] == 3:
            os.truncate(path, path.stat().st_size // 3)
        return False

    refusal, remarks = "", ()
    from tests.killing.warm import READER

    with store.Library.open() as library:
        try:
            graded = grade_note(
                path, NoteContext(player="74"), library=library, reader=READER, keep=True,
                how=HearWith(model=MODEL, load=SlowEars()), progress=lambda stage, done, total: None,
                should_stop=go,
            )  # fmt: skip
            remarks = graded.remarks
        except ReviewerError as problem:
            refusal = str(problem)
        stored = len(store.notes(library))
    kept = sorted(path.name for path in paths.recordings().glob("*")) if paths.recordings().exists() else []
    return {
        "refusal": refusal, "remarks": remarks, "stored": stored, "kept": kept, "wrong": book.faults(),
    }  # fmt: skip


# --- several at once ---------------------------------------------------------------------------


def open_new(place: Path, tell: Tell) -> int:
    with store.Library.open() as library:
        return len(store.notes(library))


def grade_all(place: Path, tell: Tell) -> Ran:
    """Grade the folder of notes; several do this on one library."""
    use_warm_reader()
    from reviewer.cli import main

    out = place / f"out-{os.getpid()}.txt"
    target = os.open(out, os.O_WRONLY | os.O_CREAT)
    os.dup2(target, 1)
    os.dup2(target, 2)
    code = main(["grade", str(place / "notes"), "--player", "74", "--game", "Homecoming", "--json"])
    return code, out.read_text("utf-8")


def decide_often(place: Path, tell: Tell) -> int:
    with store.Library.open() as library:
        session = Session(library, 1)
        for number in range(60):
            session.comment(f"remark {number}")
            tell(number)
        return store.revision_of(library, 1)


def after_all(place: Path, tell: Tell) -> dict[str, Any]:
    with store.Library.open() as library:
        found = store.notes(library)
        return {
            "notes": sorted(note.title for note in found),
            "games": len(store.games(library)),
            "revision": store.revision_of(library, 1),
            "wrong": store.check(library),
        }


def first_note(place: Path, tell: Tell) -> None:
    a_library()


# --- long and strange paths --------------------------------------------------------------------


def at(place: Path, tell: Tell, home: str) -> dict[str, Any]:
    """The whole round in a library at that path."""
    os.environ[paths.HOME_VARIABLE] = home
    use_warm_reader()
    (note,) = texts(place / "first", 1)
    graded = reviewer("grade", note, "--player", "74")
    if graded[0] != 0:
        return {"graded": graded}
    with store.Library.open() as library:
        session = Session(library, 1)
        session.comment("watch his eyes")
        lessons.teach(session, Meaning("techniques", "anchor", "form", "anchor"), 0, 3)
    recorder = Recorder(Talker(len(TALK) - RATE, lambda said: None))
    recorder.open()
    wait_until(lambda: recorder.status().ended != "", "he never ends")
    made = recorder.finish()
    ran = [
        reviewer("search", "reaches"),
        reviewer("backup", Path(home) / 'it\'s a "copy" #1?.db'),
        reviewer("restore", Path(home) / 'it\'s a "copy" #1?.db', "--yes"),
        reviewer("sheet", "--player", "74", "--out", Path(home) / "sheet %41.html"),
        reviewer("notes"),
    ]
    return {
        "graded": graded, "codes": [code for code, _ in ran], "said": [text for _, text in ran],
        "recorded": np.array_equal(wav_samples(made.path), TALK[-RATE:]),
        "unfinished": len(record_notes.unfinished()), "wrong": the_first_is_there(),
        "inside": sorted(path.name for path in Path(home).iterdir()),
    }  # fmt: skip


def recording_of_long_name(place: Path, tell: Tell) -> dict[str, Any]:
    """A recording whose name leaves no room for the names of the copies beside it."""
    (place / "short").mkdir()
    prepare_transcribing(place / "short", tell)
    path = place / f"{'n' * 250}.flac"
    (place / "short" / "talk.flac").rename(path)
    activity.voiced = loud
    from tests.killing.warm import READER

    refusal = ""
    with store.Library.open() as library:
        try:
            grade_note(
                path, NoteContext(player="74"), library=library, reader=READER, keep=True,
                how=HearWith(model=MODEL, load=SlowEars()),
            )  # fmt: skip
        except ReviewerError as problem:
            refusal = str(problem)
        stored = len(store.notes(library))
    kept = [decode.digest(kept) == decode.digest(path) for kept in paths.recordings().glob("*.flac")]
    return {"refusal": refusal, "stored": stored, "kept": kept}
