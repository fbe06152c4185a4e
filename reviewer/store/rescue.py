"""What can still be read of a damaged grade book, saved into a new one.

The damaged file is only ever read: everything happens on a copy. Records are read page by page
(`rescue_pages`), told apart by what they hold where the lists of tables or pages are gone
(`rescue_tables`), and fitted together again: what other records lean on and is lost gets an empty
stand-in, so that nothing a coach said or decided falls with it; derived tables are built anew.
"""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from reviewer import paths
from reviewer.errors import InputError, LibraryError
from reviewer.store.derive import rebuild_all
from reviewer.store.library import Library
from reviewer.store.rescue_fit import fit
from reviewer.store.rescue_pages import HEADER, MAGIC, Pages, page_size
from reviewer.store.rescue_tables import TABLES, Found, read_all
from reviewer.store.schema import APPLICATION_ID
from reviewer.store.upkeep import check

_PAGE = 4096
"""SQLite's page size where nothing is said: every grade book is made with it."""

_MOST_FAULTS = 20


@dataclass
class Rescued:
    """What a rescue found. faults: what SQLite says against the file. bad: table -> unreadable pages.

    saved: table -> records saved. lost: table -> records that others name and that are gone (there may
    be more). rest: sentences on what does not fit together even now.
    """

    faults: list[str] = field(default_factory=list)
    bad: dict[str, int] = field(default_factory=dict)
    saved: dict[str, int] = field(default_factory=dict)
    lost: dict[str, int] = field(default_factory=dict)
    rest: list[str] = field(default_factory=list)

    @property
    def sound(self) -> bool:
        """Nothing is wrong with the file."""
        return not self.faults and not any(self.bad.values())


def rescue(damaged: Path, out: Path, progress: Callable[[str, int], None] | None = None) -> Rescued:
    """Save what can be read of `damaged` into the new file `out`.

    progress: called with a table's name and how many of its records were read. Raises InputError when
    there is no such file or `out` is there already, LibraryError when nothing can be read of it or the
    new file cannot be written; no new file is left then.
    """
    if not damaged.is_file():
        raise InputError(f"there is no grade book {damaged}; check the name")
    if out.exists():
        raise InputError(f"there is a file {out} already; name another with --out")
    with _copy_of(damaged) as copy:
        done = Rescued(faults=_faults(copy))
        found = _read(copy)
        done.bad = {name: len(numbers) for name, numbers in found.bad.items()}
        if not any(found.records.values()):
            raise LibraryError(
                f"nothing can be read of {damaged}; bring a backup back with `reviewer restore`"
            )
        fresh = copy.with_name("fresh.db")
        with Library.open(fresh) as library:
            _save(library, found, done, progress)
            library.execute("PRAGMA journal_mode = DELETE")
        try:
            paths.private_folder(out.parent)
            part = out.with_name(f".{out.name}.part")
            shutil.copyfile(fresh, part)
            part.chmod(0o600)
            part.replace(out)
        except OSError as error:
            raise LibraryError(
                f"{out} cannot be written ({error.strerror}); name another with --out"
            ) from error
    return done


@contextmanager
def _copy_of(damaged: Path) -> Iterator[Path]:
    """A private copy, with what SQLite has not yet put into the file itself."""
    with tempfile.TemporaryDirectory(prefix="reviewer-rescue-") as folder:
        copy = Path(folder) / "gradebook.db"
        try:
            shutil.copyfile(damaged, copy)
            wal = damaged.with_name(f"{damaged.name}-wal")
            if wal.is_file():
                shutil.copyfile(wal, copy.with_name(f"{copy.name}-wal"))
        except OSError as error:
            raise LibraryError(f"{damaged} cannot be copied ({error.strerror}); check the disk") from error
        _mend_header(copy)
        yield copy


def _mend_header(copy: Path) -> None:
    """Give a file whose first bytes are gone the ones that every grade book has."""
    data = bytearray(copy.read_bytes())
    if len(data) < HEADER or data.startswith(MAGIC):
        return
    head = bytearray(HEADER)
    head[:16] = MAGIC
    head[16:24] = _PAGE.to_bytes(2, "big") + bytes((2, 2, 0, 64, 32, 32))
    head[24:28] = head[92:96] = (1).to_bytes(4, "big")
    head[28:32] = (len(data) // _PAGE).to_bytes(4, "big")
    head[40:48] = (1).to_bytes(4, "big") + (4).to_bytes(4, "big")
    head[56:60] = (1).to_bytes(4, "big")
    head[68:72] = APPLICATION_ID.to_bytes(4, "big")
    data[:HEADER] = head
    copy.write_bytes(data)


def _faults(copy: Path) -> list[str]:
    """What SQLite's own checks say; they also bring the write-ahead log in, as far as it is whole."""
    found: list[str] = []
    try:
        with closing(sqlite3.connect(copy, isolation_level=None)) as db:
            db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            for (told,) in db.execute(f"PRAGMA integrity_check({_MOST_FAULTS})").fetchall():
                found += [] if told == "ok" else [line for line in told.splitlines() if line.strip()]
            for table, number, parent, _ in db.execute("PRAGMA foreign_key_check").fetchmany(_MOST_FAULTS):
                found.append(f"{table}: record {number} points to a {parent} that is not there")
    except sqlite3.Error as error:
        found.append(str(error))
    return [line for line in found if not line.startswith("*** in database")][:_MOST_FAULTS]


def _read(copy: Path) -> Found:
    data = copy.read_bytes()
    if len(data) < HEADER:
        return Found({name: [] for name in TABLES}, {})
    return read_all(Pages(data, page_size(data, _PAGE)))


def _save(library: Library, found: Found, done: Rescued, progress: Callable[[str, int], None] | None) -> None:
    library.execute("PRAGMA foreign_keys = OFF")
    with library.writing() as db:
        for name in TABLES:
            for record in found.records[name]:
                _put(db, name, record)
            (count,) = db.execute(f"SELECT count(*) FROM {name}").fetchone()
            if count or name in found.bad:
                done.saved[name] = count
            if progress is not None:
                progress(name, count)
        done.lost = fit(db)
        db.execute("UPDATE state SET value = 'stale' WHERE name = 'derived'")
    library.execute("PRAGMA foreign_keys = ON")
    rebuild_all(library)
    done.rest = check(library)


def _put(db: sqlite3.Connection, table: str, record: dict[str, Any]) -> None:
    names = ", ".join(f'"{name}"' for name in record)
    marks = ", ".join("?" * len(record))
    try:
        db.execute(f"INSERT OR IGNORE INTO {table} ({names}) VALUES ({marks})", tuple(record.values()))
    except sqlite3.IntegrityError:
        # a value that the table's own rules refuse is no whole record
        return
