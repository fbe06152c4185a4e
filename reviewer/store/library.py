"""One grade book: the SQLite file, its connection, its transactions and its migrations.

Every sqlite3 error that a user can put right becomes a `LibraryError` here and nowhere else.
"""

from __future__ import annotations

import getpass
import os
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from glob import escape
from pathlib import Path
from types import TracebackType
from typing import Any

from reviewer import paths
from reviewer.errors import InputError, LibraryError
from reviewer.store import schema

BUSY_S = 10.0
"""How long a writer waits for another window's transaction."""

LONGEST_PATH = 500
"""Bytes of a path: SQLite opens 512, with the names of its own files beside it."""

_ADVICE = {
    sqlite3.SQLITE_BUSY: "is busy: another window has been writing for {busy:.0f} seconds; try again",
    sqlite3.SQLITE_LOCKED: "is busy: another window is writing; try again",
    sqlite3.SQLITE_FULL: "could not be written: the disk is full; free some space and try again",
    sqlite3.SQLITE_READONLY: "cannot be written: check the permissions of the file and its folder",
    sqlite3.SQLITE_PERM: "cannot be used: check the permissions of the file and its folder",
    sqlite3.SQLITE_CANTOPEN: "cannot be opened: check the permissions of the file and its folder",
    sqlite3.SQLITE_IOERR: "could not be read or written: free some space if the disk is full, else check it",
    sqlite3.SQLITE_CORRUPT: "is damaged: save what can be read with `reviewer rescue`, "
    "or bring a backup back with `reviewer restore`",
    sqlite3.SQLITE_NOTADB: "is not a grade book: it is no SQLite file, or its beginning is damaged; "
    "save what can be read with `reviewer rescue`, or bring a backup back with `reviewer restore`",
}


def who() -> str:
    """Whose decisions are made here: the name the user has on this machine."""
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return "coach"


class Library:
    """An open grade book. Use as a context manager, or call `close()`.

    One instance may be used from several threads (its calls queue up); every process opens its own.
    `clock` and `who` stamp what is decided; tests may replace them.
    """

    def __init__(self, connection: sqlite3.Connection, name: str, path: Path | None, read_only: bool) -> None:
        self.connection = connection
        self.name = name
        self.path = path
        self.read_only = read_only
        self.clock: Callable[[], datetime] = lambda: datetime.now(UTC)
        self.who = who()
        self._lock = threading.RLock()
        self._depth = 0
        self._writes = False

    @classmethod
    def open(
        cls,
        path: Path | None = None,
        read_only: bool = False,
        progress: Callable[[int, int], None] | None = None,
    ) -> Library:
        """Open the grade book at `path` (default: the user's own), making or migrating it when needed.

        progress: called with notes done and total where a migration has to build tables again.
        Raises LibraryError: unwritable folder or file, no grade book, damaged, or made by a newer program.
        """
        where = path if path is not None else paths.database()
        name = f"The grade book {where}"
        if (length := len(os.fsencode(where.absolute()))) > LONGEST_PATH:
            raise LibraryError(
                f"The path of the grade book is too long ({length} bytes, at most {LONGEST_PATH} "
                f"can be opened): {where}; choose another folder with {paths.HOME_VARIABLE}."
            )
        if read_only and not where.is_file():
            raise LibraryError(f"There is no grade book at {where}; grade a note first.")
        if not read_only:
            _prepare(where)
        with _translated(name):
            library = cls(_connect(where, read_only), name, where, read_only)
        try:
            with _translated(name):
                library._set_up(progress)
        except BaseException:
            library.close()
            raise
        return library

    @classmethod
    def open_to_read(cls, path: Path | None = None) -> Library:
        """Open the grade book to look things up, also where it cannot be written (a read-only disk).

        Raises LibraryError as `open` does.
        """
        try:
            return cls.open(path)
        except LibraryError:
            where = path if path is not None else paths.database()
            if not where.is_file() or os.access(where, os.W_OK):
                raise
            return cls.open(where, read_only=True)

    @classmethod
    def memory(cls) -> Library:
        """A grade book that lives in memory only."""
        connection = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
        library = cls(connection, "The grade book in memory", None, False)
        library._set_up()
        return library

    def close(self) -> None:
        """Close the file. Closing twice does no harm."""
        self.connection.close()

    def __enter__(self) -> Library:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def execute(self, sql: str, values: Any = ()) -> sqlite3.Cursor:
        """One statement inside `reading()` or `writing()`."""
        return self.connection.execute(sql, values)

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """A consistent view for several queries."""
        with self._transaction("BEGIN") as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """One short write transaction: all of it or nothing. Inside another it is a savepoint."""
        if self.read_only:
            raise LibraryError(f"{self.name} was opened for reading only; open it for writing to change it.")
        with self._transaction("BEGIN IMMEDIATE") as connection:
            yield connection

    @contextmanager
    def _transaction(self, begin: str) -> Iterator[sqlite3.Connection]:
        with self._lock, _translated(self.name):
            if self._depth and begin != "BEGIN" and not self._writes:
                raise RuntimeError(
                    "writing() inside reading(): the view may be outdated; take the lock first"
                )
            mark = f"level_{self._depth}"
            self.connection.execute(begin if self._depth == 0 else f"SAVEPOINT {mark}")
            if self._depth == 0:
                self._writes = begin != "BEGIN"
            self._depth += 1
            try:
                yield self.connection
            except BaseException:
                self._depth -= 1
                if self.connection.in_transaction:
                    undo = "ROLLBACK" if self._depth == 0 else f"ROLLBACK TO {mark}"
                    self.connection.execute(undo)
                raise
            self._depth -= 1
            try:
                self.connection.execute("COMMIT" if self._depth == 0 else f"RELEASE {mark}")
            except sqlite3.Error:
                if self._depth == 0 and self.connection.in_transaction:
                    self.connection.execute("ROLLBACK")
                raise

    def now(self) -> str:
        """The present moment as stored text."""
        from reviewer.store.codec import stamp

        return stamp(self.clock())

    def _set_up(self, progress: Callable[[int, int], None] | None = None) -> None:
        execute = self.connection.execute
        execute("PRAGMA foreign_keys = ON")
        # in this order: another window may make the tables, and the mark with them, between the two
        tables = execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
        application = execute("PRAGMA application_id").fetchone()[0]
        if application != schema.APPLICATION_ID and tables:
            raise LibraryError(f"{self.name} is the database of another program; choose another file.")
        if not self.read_only:
            if self.path is not None:
                execute("PRAGMA journal_mode = WAL")
            # a decision of the coach must survive a power cut
            execute("PRAGMA synchronous = FULL")
        self._migrate()
        if not self.read_only:
            from reviewer.store.derive import rebuild_if_stale

            rebuild_if_stale(self, progress)

    def _applied(self) -> list[str]:
        there = self.connection.execute(
            "SELECT 1 FROM sqlite_master WHERE name = '_sqlite_migrations'"
        ).fetchone()
        if there is None:
            return []
        query = "SELECT name FROM _sqlite_migrations WHERE migration_set = ? ORDER BY id"
        return [name for (name,) in self.connection.execute(query, (schema.MIGRATION_SET,))]

    def _pending(self) -> bool:
        applied = self._applied()
        known = [name for name, _ in schema.STEPS]
        newer = [name for name in applied if name not in known]
        if newer:
            raise LibraryError(
                f"{self.name} was written by a newer version of Reviewer (it has step {newer[-1]}); "
                "update Reviewer to open it."
            )
        return len(applied) < len(known)

    def _migrate(self) -> None:
        if self._pending():
            if self.read_only:
                raise LibraryError(
                    f"{self.name} was written by an older version of Reviewer; "
                    "`reviewer review` brings it up to date (a copy is kept beside it)."
                )
            self._apply_steps()

    def _apply_steps(self) -> None:
        from sqlite_utils import Database

        # The write lock comes first, so that two programs starting at once do not both migrate.
        with self.writing() as connection:
            if not self._pending():
                return
            if applied := self._applied():
                self._keep_copy(applied[-1])
            connection.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
            schema.migrations().apply(Database(connection))

    def _keep_copy(self, step: str) -> None:
        if self.path is None:
            return
        from reviewer.leavings import sweep
        from reviewer.store.upkeep import copy_file

        sweep(self.path.parent, f".{escape(self.path.name)}.before-*.part*")
        moment = self.clock().strftime("%Y%m%d-%H%M%S")
        copy_file(self.path, self.path.with_name(f"{self.path.name}.before-{step}-{moment}.bak"))


@contextmanager
def _translated(name: str) -> Iterator[None]:
    """sqlite3's errors that are the world's doing, as a LibraryError; a bug stays what it is."""
    try:
        yield
    except UnicodeEncodeError as error:
        raise InputError(
            f"{error.object!r} holds half a character and cannot be stored; type it again."
        ) from error
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF
        if code not in _ADVICE:
            raise
        raise LibraryError(f"{name} {_ADVICE[code].format(busy=BUSY_S)}.") from error


def _prepare(where: Path) -> None:
    """Make the folder (0700) and an empty file (0600) when they are not there."""
    folder = where.parent
    try:
        paths.private_folder(folder)
    except OSError as error:
        raise LibraryError(
            f"The library folder {folder} cannot be made ({error.strerror}); "
            f"choose another with {paths.HOME_VARIABLE}."
        ) from error
    if where.is_dir():
        raise LibraryError(f"{where} is a folder, not a grade book; choose another file.")
    try:
        os.close(os.open(where, os.O_RDWR | os.O_CREAT, 0o600))
    except OSError as error:
        raise LibraryError(
            f"The grade book {where} cannot be written ({error.strerror}); "
            "check the permissions of the file and its folder, "
            f"or choose another folder with {paths.HOME_VARIABLE}."
        ) from error
    with suppress(OSError):
        if where.stat().st_mode & 0o077:
            where.chmod(0o600)


def _connect(where: Path, read_only: bool) -> sqlite3.Connection:
    uri = where.absolute().as_uri()
    if not read_only:
        return sqlite3.connect(
            f"{uri}?mode=rw", uri=True, timeout=BUSY_S, isolation_level=None, check_same_thread=False
        )
    for mode in ("mode=ro", "immutable=1"):
        connection = sqlite3.connect(
            f"{uri}?{mode}", uri=True, timeout=BUSY_S, isolation_level=None, check_same_thread=False
        )
        try:
            connection.execute("SELECT 1 FROM sqlite_master")
        except sqlite3.OperationalError as error:
            connection.close()
            # A WAL file in a folder that cannot be written opens only as immutable.
            if mode == "immutable=1" or error.sqlite_errorcode & 0xFF not in (
                sqlite3.SQLITE_CANTOPEN,
                sqlite3.SQLITE_READONLY,
            ):
                raise
        else:
            return connection
    raise AssertionError("unreachable")
