"""What lies beside a recording: its marks and events, the list of notes still open, the trash.

Beside `note.wav` lies `note.marks.jsonl`: one JSON object a line, each on the disk before the call
that wrote it returns. `recordings/open/` names the notes begun and not yet finished, wherever they
are; a lock tells whether one of them is being recorded this moment.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, BinaryIO

from filelock import FileLock, Timeout

from reviewer import paths
from reviewer.errors import InputError, LibraryError, SoundError
from reviewer.speech import record_file
from reviewer.speech.decode import clock
from reviewer.speech.sound import RATE


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment that the coach marked. number: from 1. at_s: seconds in the recording."""

    number: int
    at_s: float
    label: str = ""


@dataclass(frozen=True, slots=True)
class Recording:
    """A recording made: the file, its length and its marks.

    cancelled: it was thrown away, and `path` is in the trash folder. problems: sentences about
    anything that went wrong on the way (a microphone lost, a disk that was full).
    """

    path: Path
    duration_s: float
    marks: tuple[Mark, ...] = ()
    cancelled: bool = False
    problems: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A note that was begun and never finished. started: local time. duration_s: what is saved."""

    path: Path
    started: datetime
    duration_s: float
    marks: tuple[Mark, ...]


class EventLog:
    """The growing `.marks.jsonl` beside a recording."""

    def __init__(self, wav: Path) -> None:
        """Open it, or go on with it. Raises OSError where it cannot be written."""
        self._handle: BinaryIO = open(  # noqa: SIM115
            marks_path(wav), "ab", buffering=0, opener=paths.private_opener
        )
        self._waiting = b""
        if _torn(marks_path(wav)):
            self._waiting = b"\n"

    def add(self, event: str, samples: int, **more: Any) -> bool:
        """Write one event at a sample count; False where the disk refused it.

        A refused event is kept and written with the next one.
        """
        line = {"event": event, "at_s": round(samples / RATE, 4), "samples": samples}
        line |= {"when": datetime.now().astimezone().isoformat(timespec="milliseconds")} | more
        self._waiting += json.dumps(line, ensure_ascii=False).encode() + b"\n"
        return self.flush()

    def flush(self) -> bool:
        """Write what the disk has refused before; False where it still does."""
        try:
            while self._waiting:
                self._waiting = self._waiting[self._handle.write(self._waiting) :]
            os.fsync(self._handle.fileno())
        except OSError:
            return False
        return True

    def close(self) -> None:
        """Write what is left and close."""
        self.flush()
        self._handle.close()


def marks_path(wav: Path) -> Path:
    """Where the marks of a recording lie."""
    return wav.with_suffix(".marks.jsonl")


def read_events(wav: Path) -> tuple[dict[str, Any], ...]:
    """All events beside a recording, oldest first; a line torn by a crash is left out."""
    try:
        lines = marks_path(wav).read_bytes().splitlines()
    except OSError:
        return ()
    return tuple(_events(lines))


def read_marks(wav: Path) -> tuple[Mark, ...]:
    """The marks of a recording, in the order they were dropped; none where there is no file."""
    found = [event for event in read_events(wav) if event["event"] == "mark"]
    return tuple(
        Mark(number, float(event["at_s"]), str(event.get("label", "")))
        for number, event in enumerate(found, start=1)
    )


_ENDLESS_S = 1e9


def _events(lines: list[bytes]) -> Iterator[dict[str, Any]]:
    for line in lines:
        with contextlib.suppress(ValueError, RecursionError):
            event = json.loads(line)
            if not isinstance(event, dict) or "event" not in event:
                continue
            at_s = event.get("at_s")
            if isinstance(at_s, int | float) and 0 <= at_s < _ENDLESS_S:
                yield event


def _torn(path: Path) -> bool:
    """Whether a crash left half a line at the end."""
    with path.open("rb") as handle:
        if handle.seek(0, os.SEEK_END) == 0:
            return False
        handle.seek(-1, os.SEEK_END)
        return handle.read(1) != b"\n"


def new_path(out: Path | None = None) -> Path:
    """The file a new note goes to: `out`, or a name made of date and time in the library folder.

    Raises InputError where `out` exists, is no .wav or has no folder; LibraryError where the library
    folder cannot be made.
    """
    if out is not None:
        return _checked(out.expanduser())
    folder = _made(paths.recordings())
    stem = f"note-{datetime.now():%Y-%m-%d-%H%M%S}"
    for extra in ("", *[f"-{number}" for number in range(2, 1000)]):
        path = folder / f"{stem}{extra}.wav"
        if not path.exists():
            return path
    raise LibraryError(f"{folder} already holds a thousand notes of this second; check the computer's clock.")


def _checked(out: Path) -> Path:
    out = out if out.suffix else out.with_suffix(".wav")
    if out.suffix.lower() != ".wav":
        raise InputError(f"{out.name} must end in .wav: notes are recorded as WAV files.")
    if out.exists():
        raise InputError(f"{out} exists already and is never written over; give another name.")
    if not out.parent.is_dir():
        raise InputError(f"there is no folder {out.parent}; make it first or give another one.")
    return out


def _made(folder: Path) -> Path:
    try:
        paths.private_folder(folder)
    except OSError as error:
        raise LibraryError(
            f"{folder} cannot be made ({error.strerror}); free it or move the library with "
            f"{paths.HOME_VARIABLE}."
        ) from error
    return folder


class OpenNote:
    """A note's entry among the open ones, locked for as long as it is being recorded."""

    def __init__(self, wav: Path) -> None:
        """Enter or take up a note. Raises SoundError while another window records it."""
        self._entry = _entry_of(wav)
        self._lock = FileLock(f"{self._entry}.lock", mode=0o600, thread_local=False)
        try:
            self._lock.acquire(timeout=0)
        except Timeout:
            raise SoundError(f"{wav.name} is being recorded in another window; finish it there.") from None
        except OSError as error:
            raise _unwritable(self._entry.parent, error) from error
        try:
            if not self._entry.exists():
                _enter(self._entry, wav)
        except OSError as error:
            self.leave()
            raise _unwritable(self._entry.parent, error) from error

    def leave(self) -> None:
        """Let go of it; it stays among the open notes."""
        self._lock.release()

    def finish(self) -> None:
        """Strike it from the open notes."""
        self._entry.unlink(missing_ok=True)
        self.leave()
        with contextlib.suppress(OSError):  # an empty lock file left behind does no harm
            Path(self._lock.lock_file).unlink(missing_ok=True)


def _enter(entry: Path, wav: Path) -> None:
    line = {"path": str(wav.absolute()), "started": datetime.now().astimezone().isoformat()}
    with open(entry, "x", encoding="utf-8", opener=paths.private_opener) as handle:
        json.dump(line, handle)
        handle.flush()
        os.fsync(handle.fileno())


def _unwritable(folder: Path, error: OSError) -> LibraryError:
    return LibraryError(f"{folder} cannot be written ({error.strerror}); make room there or free it.")


def _entry_of(wav: Path) -> Path:
    """The entry that names this note; a name of its own where there is none yet."""
    folder = _made(paths.recordings() / "open")
    for entry in folder.glob("*.json"):
        if _read_entry(entry)[0] == wav.absolute():
            return entry
    number = 1
    while (entry := folder / f"{wav.stem}-{number}.json").exists():
        number += 1
    return entry


def _read_entry(entry: Path) -> tuple[Path, datetime]:
    """The note's path and when it began; an entry torn by a crash names nothing."""
    try:
        line = json.loads(entry.read_text(encoding="utf-8"))
        return Path(line["path"]), datetime.fromisoformat(line["started"])
    except (OSError, ValueError, KeyError, TypeError, OverflowError, RecursionError):
        return Path(), datetime.fromtimestamp(0).astimezone()


def unfinished() -> tuple[Unfinished, ...]:
    """Notes begun and never finished, newest first, without any that is being recorded now.

    Nothing is changed but entries of files that no longer exist or never held a sound.
    """
    folder = paths.recordings() / "open"
    found = []
    for entry in sorted(folder.glob("*.json")):
        lock = FileLock(f"{entry}.lock", mode=0o600, thread_local=False)
        try:
            lock.acquire(timeout=0)
        except (Timeout, OSError):
            continue
        try:
            note = _described(entry)
        finally:
            lock.release()
        if note is not None:
            found.append(note)
    return tuple(sorted(found, key=lambda note: note.started, reverse=True))


def describe(note: Unfinished) -> str:
    """One line about an unfinished note, for the offer to go on with it."""
    count = len(note.marks)
    marks = f", {count} mark{'s' if count > 1 else ''}" if count else ""
    return f"{note.path.name}, begun {note.started:%a %d %b %H:%M}, {clock(note.duration_s)} long{marks}"


def _described(entry: Path) -> Unfinished | None:
    path, started = _read_entry(entry)
    try:
        shape = record_file.inspect(path)
    except InputError:
        # an unplugged drive may come back with the note; an entry is only dropped beside its folder
        if not path.parts or path.parent.is_dir():
            if path.is_file() and path.stat().st_size < record_file.HEADER:
                remove_empty(path)  # a crash came before its header was written
            entry.unlink(missing_ok=True)
        return None
    if not shape.data:
        remove_empty(path)
        entry.unlink(missing_ok=True)
        return None
    return Unfinished(path, started, shape.duration_s, read_marks(path))


def recover(path: Path) -> Recording:
    """Make a note whole after a crash and strike it from the open notes.

    At most the last second before the crash is missing from it. Raises InputError where the file
    holds no recording, SoundError while another window records it.
    """
    entry = OpenNote(path)
    try:
        shape = record_file.recover(path)
        log = EventLog(path)
        log.add("finish", shape.data // 2, recovered=True)
        log.close()
    except OSError as error:
        entry.leave()
        raise InputError(
            f"the marks of {path} cannot be written ({error.strerror}); make room on the disk."
        ) from error
    except InputError:
        entry.leave()
        raise
    entry.finish()
    return Recording(path, shape.duration_s, read_marks(path))


def remove_empty(wav: Path) -> None:
    """Take away a file without a single sample, and its marks."""
    wav.unlink(missing_ok=True)
    marks_path(wav).unlink(missing_ok=True)


def trash(wav: Path) -> Path:
    """Move a recording and its marks to the trash folder; returns where the recording now is.

    Speech is never deleted: the user empties the folder himself. Raises LibraryError where it cannot
    be moved; it then stays where it was.
    """
    folder = _made(paths.recordings() / "trash")
    target = folder / wav.name
    number = 2
    while target.exists() or marks_path(target).exists():
        target = folder / f"{wav.stem}-{number}{wav.suffix}"
        number += 1
    try:
        shutil.move(wav, target)
        if marks_path(wav).exists():
            shutil.move(marks_path(wav), marks_path(target))
    except OSError as error:
        raise LibraryError(
            f"{wav} could not be moved to {folder} ({error.strerror}); it is still where it was."
        ) from error
    return target
