"""A person forgotten: out of the grade book, its backups, recordings, transcripts and own words."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path

from reviewer import paths
from reviewer.errors import InputError, ReviewerError
from reviewer.forgetting_files import (
    Recordings,
    clean_marks,
    clean_vocabulary,
    drop_transcripts,
    still_named,
)
from reviewer.leavings import sweep
from reviewer.store.forget_book import Person
from reviewer.store.forget_person import clean, due, find_person, forget, secure
from reviewer.store.forget_text import Name
from reviewer.store.library import Library
from reviewer.store.notes import note as note_of


@dataclass
class Gone:
    """What was, or would be, removed. counts: by name. left: what it did not or cannot reach."""

    name: str = ""
    counts: dict[str, int] = field(default_factory=dict)
    left: list[str] = field(default_factory=list)


ELSEWHERE = (
    "Out of reach: sheets and exports you wrote elsewhere, backups outside the library folder, copies and "
    "libraries of others, the film, and what the disk keeps of deleted files."
)


def forget_person(
    name: str | None = None,
    *,
    jersey: str | None = None,
    team: str | None = None,
    season: str | None = None,
    notes: Sequence[str] = (),
    dry_run: bool = False,
    agree: Callable[[Gone], None] | None = None,
    progress: Callable[[int, int], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Gone:
    """Remove a person from the user's library.

    notes: notes without a game that are about him (id or slug). agree: called with the counts before
    anything is changed; it raises to stop. progress: recordings done and total. Raises InputError where
    nobody or several fit, or a recording cannot be written; LibraryError; Stopped. Until the grade book
    is written nothing is changed; what comes after can be done again by the same command.
    """
    with Library.open() as library:
        secure(library)
        person = _found(library, name, jersey, team, season)
        if person is None:
            return Gone(name or "", {"file written anew": 1}, [ELSEWHERE])
        chosen = [note_of(library, which).id for which in notes]
        plan = forget(library, person, notes=chosen, numbers=spoken_numbers, dry_run=True)
        name_of = Name(person.name, bare=plan.bare)
        recordings = Recordings(library, plan.spans, name_of)
        gone = Gone(person.name, dict(plan.counts), list(plan.left))
        gone.counts.update(recordings.counts)
        backups = _backups()
        if backups:
            gone.counts["backups looked through"] = len(backups)
        if dry_run:
            return _told(gone, name_of, recordings)
        if agree is not None:
            agree(gone)
        with recordings.silenced(progress, should_stop):
            done = forget(
                library, person, notes=chosen, numbers=spoken_numbers, before=lambda _done: recordings.put()
            )
        gone.counts["transcripts"] = drop_transcripts(name_of, recordings.digests)
        gone.counts["vocabulary entries"] = clean_vocabulary(name_of)
        gone.counts["marks of recordings"] = clean_marks(name_of)
        for path in backups:
            what = "backups written anew" if _in_backup(path, person, season) else "backups removed"
            gone.counts[what] = gone.counts.get(what, 0) + 1
        gone.counts.pop("backups looked through", None)
        clean(library)
    gone.left = list(done.left)
    return _told(gone, name_of, recordings)


def _found(
    library: Library, name: str | None, jersey: str | None, team: str | None, season: str | None
) -> Person | None:
    """Who is meant; None when he is out already and only the file was still to be written anew."""
    if not due(library):
        return find_person(library, name, jersey, team, season)
    clean(library)
    try:
        return find_person(library, name, jersey, team, season)
    except InputError:
        return None


def _told(gone: Gone, name: Name, recordings: Recordings) -> Gone:
    gone.counts = {name: count for name, count in gone.counts.items() if count}
    gone.left += [*recordings.left, *still_named(name), ELSEWHERE]
    return gone


def spoken_numbers(words: Sequence[str]) -> list[tuple[int, int, str]]:
    """The numbers that words say, as `forget_person` wants them."""
    from reviewer.language.numbers import read_numbers
    from reviewer.language.tokens import tokenize
    from reviewer.records import Word

    said = [Word(text, n / 2, n / 2 + 0.4) for n, text in enumerate(words)]
    tokens = tokenize(said).tokens
    return [
        (tokens[number.first].word, tokens[number.last - 1].word + 1, number.digits)
        for number in read_numbers(tokens)
        if not number.ordinal
    ]


def _backups() -> list[Path]:
    """Copies of the grade book that this program keeps in the library folder."""
    book = paths.database()
    found = [*book.parent.glob("*.db"), *book.parent.glob("*.bak")]
    return sorted(file for file in found if file.is_file() and file != book)


def _in_backup(path: Path, person: Person, season: str | None) -> bool:
    """Write a backup anew without him; one that cannot be written so is removed (False)."""
    home = path.parent
    sweep(home, ".forget-*")
    with tempfile.TemporaryDirectory(dir=home, prefix=".forget-") as folder:
        copy = Path(folder) / "gradebook.db"
        try:
            shutil.copyfile(path, copy)
            with Library.open(copy) as library:
                secure(library)
                there = _there(library, person, season)
                forget(library, there, numbers=spoken_numbers)
                clean(library)
                library.execute("PRAGMA journal_mode = DELETE")
            copy.chmod(0o600)
            copy.replace(path)
        except (ReviewerError, sqlite3.Error, OSError, ValueError):
            with suppress(OSError):
                path.unlink()
            return False
    return True


def _there(library: Library, person: Person, season: str | None) -> Person:
    """The same man in another grade book; one without roster lines where it does not know him."""
    try:
        return find_person(library, person.name, None, person.team, season)
    except InputError:
        return replace(person, player=-1, stints=(), stays=person.stays)
