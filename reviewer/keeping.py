"""Bring a backup of the grade book back."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from reviewer import paths
from reviewer.errors import InputError, LibraryError
from reviewer.leavings import sweep
from reviewer.store.library import Library
from reviewer.store.notes import notes
from reviewer.store.shape import open_foreign
from reviewer.store.upkeep import backup, check, file_fault


def restore(
    source: Path, *, agree: Callable[[int, int], None] | None = None, now: datetime | None = None
) -> Path | None:
    """Put a backup in the place of the user's grade book.

    The backup is copied, brought up to this version and checked first; the grade book that is there is
    kept beside it, a damaged one under another name, and its path returned (None when there was none).
    agree: called before anything is changed with how many notes the backup has and how many the grade
    book has; it raises to stop.
    Raises InputError where there is no such file, LibraryError where it is no grade book or damaged.
    """
    if not source.is_file():
        raise InputError(f"there is no file {source}; check the name of the backup")
    if paths.database().is_file() and source.samefile(paths.database()):
        raise InputError(f"{source} is the grade book itself; name a backup of it")
    now = now or datetime.now()
    paths.private_folder(paths.database().parent)
    with _opened_copy(source, paths.database().parent) as fresh:
        if faults := check(fresh):
            raise LibraryError(f"The backup {source} is damaged ({faults[0]}); choose another one.")
        aside = _set_aside(now) if file_fault(paths.database()) else None
        return _replace(fresh, agree, now) or aside


def _replace(fresh: Library, agree: Callable[[int, int], None] | None, now: datetime) -> Path | None:
    with Library.open() as live:
        before = len(notes(live))
        if agree is not None:
            agree(len(notes(fresh)), before)
        kept = _keep(live, now) if before else None
        # SQLite's own copying, so that other windows on the grade book see it whole or not at all
        fresh.connection.backup(live.connection)
    return kept


def _set_aside(now: datetime) -> Path:
    """Give a damaged grade book another name, with what SQLite keeps beside it."""
    book = paths.database()
    target = _free_name("gradebook.damaged", now)
    try:
        # the book goes last: a new one beside an old log would take the log for its own
        for ending in ("-wal", "-shm", ""):
            beside = book.with_name(book.name + ending)
            if beside.exists():
                beside.rename(target.with_name(target.name + ending))
    except OSError as error:
        raise LibraryError(
            f"The damaged grade book {book} cannot be renamed ({error.strerror}); move it away yourself."
        ) from error
    return target


@contextmanager
def _opened_copy(source: Path, home: Path) -> Iterator[Library]:
    """A copy of the backup, brought up to this version; the backup itself is only read."""
    sweep(home, ".restore-*", ".gradebook.before-restore-*.part*")
    try:
        beside = tempfile.TemporaryDirectory(dir=home, prefix=".restore-")
    except OSError as error:
        raise LibraryError(
            f"The library folder {home} cannot be written ({error.strerror}); check its permissions, "
            f"or choose another folder with {paths.HOME_VARIABLE}."
        ) from error
    with beside as folder:
        copy = Path(folder) / source.name
        try:
            shutil.copyfile(source, copy)
        except OSError as error:
            raise LibraryError(
                f"The backup {source} cannot be copied to {home} ({error.strerror}); free some space there."
            ) from error
        with open_foreign(copy, source) as library:
            yield library


def _keep(live: Library, now: datetime) -> Path:
    return backup(live, _free_name("gradebook.before-restore", now))


def _free_name(name: str, now: datetime) -> Path:
    """A file beside the grade book that is not there yet, also twice in one second."""
    for more in ("", *(f"-{number}" for number in range(2, 1000))):
        target = paths.database().with_name(f"{name}-{now:%Y%m%d-%H%M%S}{more}.db")
        if not any(target.with_name(target.name + ending).exists() for ending in ("", "-wal", "-shm")):
            return target
    raise LibraryError(f"{target.parent} holds a thousand copies of this second; check the computer's clock.")
