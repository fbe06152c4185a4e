"""Another coach's library brought into the user's own: the grade book and the files beside it.

All of it or nothing: recordings are copied under hidden names first, then the grade books are joined in
one transaction, and inside it the files get their names.
"""

from __future__ import annotations

import sqlite3
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from reviewer import paths
from reviewer.errors import InputError, LibraryError
from reviewer.leavings import sweep
from reviewer.merging_files import Staged, stage
from reviewer.merging_words import joined_vocabulary
from reviewer.store.library import Library
from reviewer.store.merge import Merged, merge
from reviewer.store.shape import open_foreign
from reviewer.store.upkeep import check, copy_file

Progress = Callable[[str, int, int], None]
"""What is being done ("files", "notes"), how many are done, of how many."""


@dataclass
class Joined:
    """What bringing a library in did, or would do.

    added: what came, by name. left: sentences on what was not taken. clashes: decisions that newly
    clash. backup: the grade book as it was before, None when nothing was changed.
    """

    added: Counter[str] = field(default_factory=Counter)
    left: list[str] = field(default_factory=list)
    clashes: int = 0
    backup: Path | None = None


def bring_in(
    source: Path,
    *,
    dry_run: bool = False,
    whose: Mapping[str, str] | None = None,
    now: datetime | None = None,
    progress: Progress | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Joined:
    """Join another library (its folder, its grade book or a backup of it) into the user's own.

    dry_run: only find out. whose: other names for those who decided there. Raises InputError where
    there is no library, LibraryError where it is damaged or mine cannot be written, Stopped; nothing
    is changed then.
    """
    book, folder = _find(source)
    if book.resolve() == paths.database().resolve():
        raise InputError(f"{source} is your own library; name the other coach's")
    with Library.open() as library, _opened(book, source) as other:
        if faults := check(other):
            raise LibraryError(f"{source} is damaged ({faults[0].rstrip('.')}); have it mended there first.")
        staged = stage(folder, dry_run, _part(progress, "files"), should_stop)
        work = _Join(library, staged, dry_run, now or datetime.now())
        try:
            done = merge(
                library,
                other,
                dry_run=dry_run,
                whose=whose,
                before=work.put,
                progress=_part(progress, "notes"),
            )
            if dry_run:
                work.count(done)
        except BaseException:
            work.take_back()
            raise
        finally:
            staged.drop()
    return work.joined


def _find(source: Path) -> tuple[Path, Path | None]:
    """The grade book, and the folder of its library where there is one."""
    if source.is_dir():
        book = source / paths.database().name
        if not book.is_file():
            raise InputError(
                f"there is no grade book in {source}; name a library's folder, its grade book or a backup"
            )
        return book, source
    if not source.is_file():
        raise InputError(f"there is no file or folder {source}; check the name of the other library")
    return source, source.parent if source.name == paths.database().name else None


@contextmanager
def _opened(book: Path, source: Path) -> Iterator[Library]:
    """A copy of their grade book, brought up to this version; theirs is only read."""
    home = paths.database().parent
    sweep(home, ".merge-*", ".gradebook.before-merge-*.part*")
    with tempfile.TemporaryDirectory(dir=home, prefix=".merge-") as folder:
        copy = Path(folder) / book.name
        try:
            try:
                copy_file(book, copy)
            except sqlite3.OperationalError:
                # a folder that cannot be written, a stick for example: SQLite reads it only so
                _copy_still(book, copy)
        except (sqlite3.DatabaseError, LibraryError) as problem:
            raise LibraryError(
                f"{source} is no grade book or is damaged ({str(problem).rstrip('.')}); name another one."
            ) from problem
        with open_foreign(copy, source) as library:
            yield library


def _copy_still(book: Path, copy: Path) -> None:
    uri = f"{book.absolute().as_uri()}?immutable=1"
    with closing(sqlite3.connect(uri, uri=True)) as there, closing(sqlite3.connect(copy)) as here:
        there.backup(here)


def _part(progress: Progress | None, what: str) -> Callable[[int, int], None] | None:
    return None if progress is None else lambda done, total: progress(what, done, total)


class _Join:
    """What happens to the files while the grade books are joined."""

    def __init__(self, library: Library, staged: Staged, dry_run: bool, now: datetime) -> None:
        self.library, self.staged, self.dry_run, self.now = library, staged, dry_run, now
        self.joined = Joined()
        self._vocabulary: tuple[str | None] | None = None

    def count(self, done: Merged) -> None:
        """Fill in what came."""
        self.joined.added = Counter(done.added) + Counter(self.staged.counts)
        self.joined.left = [*done.left, *self.staged.left]
        self.joined.clashes = done.clashes
        self._words(done)

    def put(self, done: Merged) -> None:
        """Called with the grade books joined and not yet kept: a backup, then the files."""
        self.count(done)
        self._point(done)
        if not self.joined.added and not self.joined.clashes:
            return
        self.joined.backup = self._backup()
        try:
            self.staged.place()
            if self._text is not None:
                self._write_vocabulary(self._text)
        except OSError as error:
            raise LibraryError(
                f"the files of the other library cannot be kept in {paths.home()} ({error.strerror}); "
                "free some space there; nothing was changed"
            ) from error

    def _words(self, done: Merged) -> None:
        self._text, count, left = joined_vocabulary(self.library, done.lessons, self.staged.vocabulary)
        if count:
            self.joined.added["vocabulary entries"] = count
        self.joined.left += left

    def _write_vocabulary(self, text: str) -> None:
        from reviewer.review.own_words import read_text, write_text

        where = paths.user_vocabulary()
        before = (read_text(where) if where.exists() else None,)
        write_text(where, text)
        self._vocabulary = before

    def _point(self, done: Merged) -> None:
        """Notes whose recording came are heard from where it is kept here."""
        changed = 0
        for digest, kept in self.staged.kept.items():
            for note in done.sources.get(digest, ()):
                (source,) = self.library.execute("SELECT source FROM note WHERE id = ?", (note,)).fetchone()
                if note not in done.new_notes and _is_here(source):
                    continue
                changed += self.library.execute(
                    "UPDATE note SET source = ? WHERE id = ? AND source IS NOT ?",
                    (str(kept), note, str(kept)),
                ).rowcount
        if changed and not done.added.get("notes"):
            self.joined.added["recordings found again"] = changed

    def _backup(self) -> Path:
        name = f"gradebook.before-merge-{self.now:%Y%m%d-%H%M%S}"
        for more in ("", *(f"-{number}" for number in range(2, 1000))):
            target = paths.database().with_name(f"{name}{more}.db")
            if not target.exists():
                break
        copy_file(paths.database(), target)
        return target

    def take_back(self) -> None:
        """Undo what was done to the files."""
        self.staged.unplace()
        if self._vocabulary is not None:
            from reviewer.review.own_words import write_text

            [before] = self._vocabulary
            if before is None:
                paths.user_vocabulary().unlink(missing_ok=True)
            else:
                write_text(paths.user_vocabulary(), before)
        if self.joined.backup is not None:
            with suppress(OSError):
                self.joined.backup.unlink(missing_ok=True)


def _is_here(source: str | None) -> bool:
    if not source:
        return False
    given = Path(source).expanduser()
    return given.is_file() or (paths.recordings() / given.name).is_file()
