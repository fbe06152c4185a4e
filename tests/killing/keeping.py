"""Importing, migrating, backing up and restoring: whole or not at all, and done again it ends right."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from reviewer import leavings, paths, store
from reviewer.intake.season import load_season
from tests.killing import book
from tests.killing.child import Tell, command
from tests.killing.rig import Kind
from tests.screens.evening import add_evening

SEASON = Path(__file__).parents[2] / "shared" / "season"
OLD = Path(__file__).parents[1] / "store" / "data"
GAMES = 2
"""Of the sample season; enough for moments between its notes."""

Contents = dict[str, list[str]]


def contents(place: Path, tell: Tell) -> Contents:
    return book.contents(without=str(place))


# --- importing ---------------------------------------------------------------------------------


def prepare_import(place: Path, tell: Tell) -> None:
    shutil.copytree(SEASON, place / "season", ignore=shutil.ignore_patterns("*.py", "*.txt"))
    for path in sorted((place / "season" / "notes").glob("*.jsonl"))[GAMES:]:
        path.unlink()


def _imports(place: Path) -> list[tuple[str, ...]]:
    season = place / "season"
    lists = sorted((season / "plays").glob("*.csv"))[:GAMES]
    games = [path.stem.partition("-")[2].replace("-", " ") for path in lists]
    own, others = str(season / "roster.csv"), str(season / "roster-opponents.csv")
    return [
        ("roster", "import", own, "--team", "Tarn Hollow", "--season", "2031", "--own"),
        ("roster", "import", others, "--season", "2031", "--opponents"),
        ("game", "import", str(season / "games.csv"), "--team", "Tarn Hollow", "--season", "2031"),
        ("game", "season", str(season)),
        *[
            ("plays", "import", str(path), "--game", game, "--season", "2031")
            for path, game in zip(lists, games, strict=True)
        ],
    ]


def work_import(place: Path, tell: Tell) -> None:
    for number, words in enumerate(_imports(place)):
        command(*words)
        tell(number)


def foresee_import(place: Path, tell: Tell) -> list[Contents]:
    """What the grade book holds after each of the commands, the tables that only grow."""
    found = []
    for words in _imports(place):
        command(*words)
        found.append(contents(place, tell))
    return found


_ONLY_ADDED = ("team", "player", "game", "roster_spot", "note", "reading", "grade_row", "play", "action")


def look_import(place: Path, tell: Tell, told: list[int], foreseen: list[Contents]) -> list[str]:
    lost = book.faults()
    found = book.contents(without=str(place))
    for number in told:
        for table in _ONLY_ADDED:
            missing = set(foreseen[number].get(table, ())) - set(found.get(table, ()))
            # the matches of a play list, laid again, are the same; what a list filled in is not undone
            if missing:
                lost.append(f"{len(missing)} records of {table} are gone after import {number} was done")
    return lost


# --- migrating ---------------------------------------------------------------------------------

COPIES = 12
"""Times the old library's note is in it: a migration long enough to be hit."""


def prepare_migration(place: Path, tell: Tell) -> None:
    paths.home().mkdir()
    with closing(sqlite3.connect(paths.database())) as db:
        db.executescript((OLD / "0001_book.sql").read_text("utf-8"))
        _multiply(db)
        db.commit()
    shutil.copyfile(paths.database(), place / "as it was.db")


def _multiply(db: sqlite3.Connection) -> None:
    """More notes like the ones that are there, with all that hangs on them."""
    step = 1000
    linked = {"note_id", "rep_id", "reading_id", "row_id", "action_id", "subject_id", "cursor_row"}
    query = "SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY rowid"
    tables = [name for (name,) in db.execute(query) if not name.startswith(("sqlite_", "_"))]
    db.execute("PRAGMA foreign_keys = OFF")
    for table in tables:
        names = [name for _, name, *_ in db.execute(f"PRAGMA table_info({table})")]
        for copy in range(1, COPIES):
            move = [
                f"{name} + {copy * step}"
                if name == "id" or name in linked
                else f"{name} || '-{copy}'"
                if table == "note" and name in ("slug", "identity", "digest")
                else name
                for name in names
            ]
            listed = ", ".join(f'"{name}"' for name in names)
            first = f"WHERE {names[0]} < {step}"
            db.execute(f"INSERT INTO {table} ({listed}) SELECT {', '.join(move)} FROM {table} {first}")


def work_migration(place: Path, tell: Tell) -> None:
    leavings.OLD_S = 0.0
    with store.Library.open() as library:
        tell(len(store.notes(library)))


def foresee_migration(place: Path, tell: Tell) -> Contents:
    return book.contents(place / "as it was.db")


def look_migration(place: Path, tell: Tell, told: list[int], foreseen: Contents) -> list[str]:
    """Nothing of the old library is gone, and there is a whole copy of it once it is changed."""
    lost = book.raw_faults(paths.database())
    now = book.contents()
    decided = {name: now.get(name, []) for name in ("change", "action", "event", "grade_row", "row_reading")}
    before = {name: foreseen[name] for name in decided}
    lost += book.differences(decided, before)
    copies = [book.contents(path) for path in paths.home().glob("*.bak")]
    if any(copy != foreseen for copy in copies):
        lost.append("a copy made before migrating is not what the library was")
    if "team" in now and not copies:
        lost.append("the library was migrated, and no copy of it was made before")
    return lost


def result_migration(place: Path, tell: Tell) -> Any:
    with store.Library.open() as library:
        assert store.check(library) == []
    copies = [book.contents(path) for path in paths.home().glob("*.bak")]
    left = [path.name for path in paths.home().iterdir() if path.name.startswith(".")]
    return {"a copy": book.contents(place / "as it was.db") in copies, "leavings": left, **book.contents()}


# --- backing up --------------------------------------------------------------------------------


def prepare_backup(place: Path, tell: Tell) -> None:
    with store.Library.open() as library:
        add_evening(library)
        shutil.copytree(SEASON, place / "season", ignore=shutil.ignore_patterns("*.py", "*.txt"))
        store.backup(library, place / "backup.db")
        load_season(library, place / "season")


def work_backup(place: Path, tell: Tell) -> None:
    leavings.OLD_S = 0.0
    for number in range(3):
        command("backup", place / "backup.db", "--replace")
        tell(number)


def foresee_backup(place: Path, tell: Tell) -> tuple[Contents, Contents]:
    """What is in the old backup, and in the grade book."""
    return book.contents(place / "backup.db"), book.contents(without=str(place))


def look_backup(place: Path, tell: Tell, told: list[int], foreseen: tuple[Contents, Contents]) -> list[str]:
    old, new = foreseen
    lost = book.faults() + book.differences(book.contents(without=str(place)), new)
    lost += book.raw_faults(place / "backup.db")
    kept = book.contents(place / "backup.db", without=str(place))
    if kept != new and (told or kept != old):
        lost.append("the backup is neither what it was nor what it was to be")
    return lost


def result_backup(place: Path, tell: Tell) -> Any:
    return {
        "leavings": [path.name for path in place.iterdir() if path.name.startswith(".")],
        **book.contents(place / "backup.db", without=str(place)),
    }


# --- restoring ---------------------------------------------------------------------------------


def prepare_restore(place: Path, tell: Tell) -> None:
    shutil.copytree(SEASON, place / "season", ignore=shutil.ignore_patterns("*.py", "*.txt"))
    for path in sorted((place / "season" / "notes").glob("*.jsonl"))[GAMES:]:
        path.unlink()
    other = place / "backup.db"
    with store.Library.open(other) as library:
        load_season(library, place / "season")
    with closing(sqlite3.connect(other)) as db:
        db.execute("PRAGMA journal_mode = DELETE")
    with store.Library.open() as library:
        note = add_evening(library)
        for row in store.current_rows(library, note):
            store.set_comment(library, row.id, "mine")


def work_restore(place: Path, tell: Tell) -> None:
    leavings.OLD_S = 0.0
    command("restore", place / "backup.db", "--yes")
    tell("restored")


def foresee_restore(place: Path, tell: Tell) -> tuple[Contents, Contents]:
    """What the grade book holds, and what the backup does."""
    return book.contents(), book.contents(place / "backup.db", without=str(place))


def look_restore(place: Path, tell: Tell, told: list[str], foreseen: tuple[Contents, Contents]) -> list[str]:
    old, new = foreseen
    lost = book.faults()
    now = book.contents(without=str(place))
    if now not in (old, new):
        lost.append(f"the grade book is neither of the two: {json.dumps(book.differences(now, new))}")
    if told and now != new:
        lost.append("the backup was told to be restored, and is not")
    if now != old and old not in [book.contents(path) for path in _set_aside()]:
        lost.append("what was there before is kept nowhere")
    return lost


def _set_aside() -> list[Path]:
    return sorted(paths.home().glob("gradebook.before-restore-*.db"))


def result_restore(place: Path, tell: Tell) -> Any:
    set_aside = []
    for path in _set_aside():
        with store.Library.open(path) as library:
            set_aside.append(store.note(library, 1).title)
    left = [path.name for path in paths.home().iterdir() if path.name.startswith(".")]
    return {
        "set aside": "Harrow Lake, first half" in set_aside,
        "leavings": left,
        **book.contents(without=str(place)),
    }


IMPORTING = Kind("importing", prepare_import, work_import, look_import, contents, foresee_import)
MIGRATING = Kind(
    "migrating", prepare_migration, work_migration, look_migration, result_migration, foresee_migration
)
BACKING_UP = Kind("backing up", prepare_backup, work_backup, look_backup, result_backup, foresee_backup)
RESTORING = Kind("restoring", prepare_restore, work_restore, look_restore, result_restore, foresee_restore)
