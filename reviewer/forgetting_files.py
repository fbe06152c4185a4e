"""The files of a library from which a person is removed: recordings, transcripts, own words."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from reviewer import paths
from reviewer.errors import InputError, LibraryError
from reviewer.leavings import sweep
from reviewer.store.forget_person import renew_digest
from reviewer.store.forget_text import Name
from reviewer.store.library import Library

_PART = ".silenced."
_MARKS = ".marks.jsonl"
_MOST_BYTES = 50_000_000
"""Larger files are recordings and models: no name is looked for in their bytes."""


class Recordings:
    """The recordings in which he is graded or named. Made before the grade book is changed.

    counts: by name. left: sentences on recordings that are out of reach. digests: content before.
    """

    def __init__(
        self, library: Library, spans: Mapping[int, Sequence[tuple[float, float]]], name: Name
    ) -> None:
        self._library, self._name = library, name
        self._spans: dict[Path, list[tuple[float, float]]] = {}
        self._sources: dict[int, Path] = {}
        self._old: dict[Path, str] = {}
        self._parts: dict[Path, Path] = {}
        self.left: list[str] = []
        query = "SELECT id, kind, source, digest FROM note ORDER BY id"
        for number, kind, source, digest in library.execute(query).fetchall():
            if kind != "audio" or not source:
                continue
            given = Path(source).expanduser()
            kept = paths.recordings() / given.name
            if kept.is_file():
                self._sources[number] = kept
            if number not in spans:
                continue
            if kept.is_file():
                self._spans.setdefault(kept, []).extend(spans[number])
                self._old[kept] = digest
            if given.is_file() and (not kept.is_file() or given.resolve() != kept.resolve()):
                self.left.append(f"Not silenced, as it is not in the library folder: {given}.")
        for what in ("open", "trash"):
            if any((paths.recordings() / what).glob("*.wav")):
                self.left.append(f"Not looked into: recordings in {paths.recordings() / what}.")
        self.digests = set(self._old.values())
        self.counts = {
            "recordings silenced in part": len(self._spans),
            "seconds silenced": round(sum(b - a for each in self._spans.values() for a, b in each)),
        }

    @contextmanager
    def silenced(
        self, progress: Callable[[int, int], None] | None, should_stop: Callable[[], bool] | None
    ) -> Iterator[None]:
        """Write the silenced recordings beside the others, under hidden names; `put` inside."""
        from reviewer.speech.silence import silence

        sweep(paths.recordings(), f"{_PART}*")
        try:
            for done, (file, spans) in enumerate(self._spans.items(), 1):
                handle, part = tempfile.mkstemp(dir=file.parent, prefix=_PART, suffix=file.suffix)
                os.close(handle)
                self._parts[file] = Path(part)
                silence(file, Path(part), spans, should_stop=should_stop)
                if progress is not None:
                    progress(done, len(self._spans))
            yield
        except OSError as error:
            raise LibraryError(
                f"a recording cannot be written in {paths.recordings()} ({error.strerror}); free some space "
                "there; nothing was changed"
            ) from error
        finally:
            for waiting in self._parts.values():
                with suppress(OSError):
                    waiting.unlink(missing_ok=True)

    def put(self) -> None:
        """Put them in their places, and give files that are named after him other names."""
        from reviewer.speech.decode import digest

        for file, part in self._parts.items():
            part.replace(file)
            renew_digest(self._library, self._old[file], digest(file))
        for file in dict.fromkeys(self._sources.values()):
            self._rename(file)

    def _rename(self, file: Path) -> None:
        if not self._name.found_in(file.stem.replace("-", " ").replace("_", " ")):
            return
        number = 1
        while (target := file.with_name(f"removed-{number}{file.suffix}")).exists():
            number += 1
        file.rename(target)
        if (marks := file.with_suffix(_MARKS)).exists():
            marks.rename(target.with_suffix(_MARKS))
        for note, source in self._sources.items():
            if source == file:
                self._library.execute("UPDATE note SET source = ? WHERE id = ?", (str(target), note))


def drop_transcripts(name: Name, digests: set[str]) -> int:
    """Delete kept transcripts of these recordings, and those that hold the name (its roster prompts do)."""
    gone = 0
    for file in sorted(paths.transcripts().glob("*")):
        mine = any(file.name.startswith(digest[:20]) for digest in digests)
        if file.is_file() and (mine or _holds(file, name)):
            file.unlink(missing_ok=True)
            gone += 1
    return gone


def clean_marks(name: Name) -> int:
    """Take the name out of the marks beside recordings; how many files it was in."""
    from reviewer.speech.atomic import write_text

    touched = 0
    for file in sorted(paths.recordings().rglob(f"*{_MARKS}")):
        text = _text(file)
        if name.found_in(text) or name.found_in(_unescaped(text)):
            lines = [name.out_of(_unescaped(line)) for line in text.splitlines()]
            write_text(file, "\n".join(lines) + "\n")
            touched += 1
    return touched


def _unescaped(line: str) -> str:
    try:
        return json.dumps(json.loads(line), ensure_ascii=False)
    except ValueError:
        return line


def clean_vocabulary(name: Name) -> int:
    """Take tables with the name, and comments with it, out of the user's own vocabulary; how many."""
    from reviewer.merging_words import blocks
    from reviewer.review.own_words import read_text, write_text

    where = paths.user_vocabulary()
    text = read_text(where)
    if not name.found_in(text):
        return 0
    gone = 0
    try:
        for _, block, _ in blocks(text):
            if name.found_in(block):
                text, gone = text.replace(block.rstrip("\n"), "", 1), gone + 1
    except ValueError:
        gone += 1
    write_text(where, name.out_of(text).strip() + "\n")
    return gone


def still_named(name: Name) -> list[str]:
    """Files in the library folder whose bytes still hold the name, as a sentence."""
    book = paths.database()
    own = {book, *(book.with_name(book.name + end) for end in ("-wal", "-shm"))}
    found = [
        str(file.relative_to(paths.home()))
        for file in sorted(paths.home().rglob("*"))
        if file.is_file() and file not in own and not _copy(file) and _holds(file, name)
    ]
    return (
        [f"The name is still in these files, which are yours to mend: {', '.join(found)}."] if found else []
    )


def _copy(file: Path) -> bool:
    return file.parent == paths.home() and file.suffix in (".db", ".bak")


def _holds(file: Path, name: Name) -> bool:
    text = _text(file)
    return (
        name.found_in(text) or name.found_in(_unescaped(text)) or name.found_in(file.stem.replace("-", " "))
    )


def _text(file: Path) -> str:
    try:
        if file.stat().st_size > _MOST_BYTES:
            return ""
        return file.read_bytes().decode("utf-8", "ignore")
    except OSError as error:
        raise InputError(f"{file} cannot be read ({error.strerror}); check its permissions") from error
