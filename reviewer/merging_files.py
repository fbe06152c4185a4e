"""The files of another library: recordings, transcripts, a scale; copied under hidden names, then named."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from reviewer import paths
from reviewer.errors import LibraryError, Stopped
from reviewer.leavings import sweep

SCALE = "scale.toml"
_MARKS = ".marks.jsonl"
_PART = ".merging."
_PASSING = ("-wal", "-shm", "-journal")


@dataclass
class Staged:
    """Files that wait for their names.

    counts: how many, by what they are. left: sentences on what is not taken. kept: content digest ->
    where that recording is, or will be, here. vocabulary: the text of their own words, None without.
    """

    counts: Counter[str] = field(default_factory=Counter)
    left: list[str] = field(default_factory=list)
    kept: dict[str, Path] = field(default_factory=dict)
    vocabulary: str | None = None
    waiting: dict[Path, Path] = field(default_factory=dict)
    placed: list[Path] = field(default_factory=list)

    def place(self) -> None:
        """Give every file its name. Raises OSError."""
        for target, part in self.waiting.items():
            part.replace(target)
            self.placed.append(target)

    def unplace(self) -> None:
        """Take the named files away again."""
        for target in self.placed:
            with suppress(OSError):
                target.unlink(missing_ok=True)

    def drop(self) -> None:
        """Take away what still waits."""
        for part in self.waiting.values():
            with suppress(OSError):
                part.unlink(missing_ok=True)


def stage(
    folder: Path | None,
    dry_run: bool,
    progress: Callable[[int, int], None] | None,
    should_stop: Callable[[], bool] | None,
) -> Staged:
    """Copy what another library's folder holds and this one does not.

    folder: None where only a grade book was given. Raises LibraryError where it cannot be copied,
    Stopped; nothing is left behind then.
    """
    staged = Staged()
    if folder is None:
        staged.left.append("Only a grade book was given: recordings and transcripts did not come.")
        return staged
    for where in (paths.recordings(), paths.transcripts()):
        sweep(where, f"{_PART}*")
    wanted = [*_recordings(folder), *_transcripts(folder)]
    try:
        for done, file in enumerate(wanted, 1):
            if should_stop is not None and should_stop():
                raise Stopped("stopped; nothing was changed")
            _take(staged, file, folder, dry_run)
            if progress is not None:
                progress(done, len(wanted))
        _take_scale(staged, folder, dry_run)
        staged.vocabulary = _text(folder / paths.user_vocabulary().name)
        staged.left += _not_taken(folder)
    except OSError as error:
        staged.drop()
        raise LibraryError(
            f"the files of {folder} cannot be copied to {paths.home()} ({error.strerror}); "
            "free some space there; nothing was changed"
        ) from error
    except BaseException:
        staged.drop()
        raise
    return staged


def _recordings(folder: Path) -> list[Path]:
    there = folder / paths.recordings().name
    found = sorted(file for file in there.glob("*") if file.is_file() and not file.name.startswith("."))
    return [file for file in found if not file.name.endswith(_MARKS)]


def _transcripts(folder: Path) -> list[Path]:
    there = folder / paths.transcripts().name
    return sorted(file for ending in ("json", "scores") for file in there.glob(f"[!.]*.{ending}"))


def _take(staged: Staged, file: Path, folder: Path, dry_run: bool) -> None:
    if file.parent == folder / paths.transcripts().name:
        target = paths.transcripts() / file.name
        if not target.exists():
            _copy(staged, file, target, "transcripts", dry_run)
        return
    from reviewer.speech.decode import digest

    content = digest(file) if file.stat().st_size else ""
    target = _home_of(file, content)
    if content:
        staged.kept[content] = target
    if not target.exists():
        _copy(staged, file, target, "recordings", dry_run)
    marks, beside = file.with_suffix(_MARKS), target.with_suffix(_MARKS)
    if marks.is_file() and not beside.exists():
        _copy(staged, marks, beside, "marks of recordings", dry_run)


def _home_of(file: Path, content: str) -> Path:
    """Where a recording is kept here; one of that name with other sound keeps the name."""
    from reviewer.speech.decode import digest

    target = paths.recordings() / file.name
    if target.exists():
        same = target.stat().st_size == file.stat().st_size
        if not (same and (not content or digest(target) == content)):
            target = target.with_name(f"{file.stem}-{content[:8]}{file.suffix}")
    return target


def _copy(staged: Staged, file: Path, target: Path, what: str, dry_run: bool) -> None:
    staged.counts[what] += 1
    if dry_run:
        return
    paths.private_folder(target.parent)
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=_PART)
    os.close(handle)
    staged.waiting[target] = Path(name)
    shutil.copyfile(file, name)


def _take_scale(staged: Staged, folder: Path, dry_run: bool) -> None:
    theirs, mine = _text(folder / SCALE), _text(paths.home() / SCALE)
    if theirs is not None and mine is None:
        _copy(staged, folder / SCALE, paths.home() / SCALE, "grading scales", dry_run)
    elif theirs is not None and theirs != mine:
        staged.left.append(f"Their own grading scale is another one ({folder / SCALE}); yours stays.")


def _text(file: Path) -> str | None:
    try:
        return file.read_text("utf-8")
    except (OSError, UnicodeDecodeError):
        return None


def _not_taken(folder: Path) -> list[str]:
    """Whatever else lies in the folder, by name."""
    book = paths.database().name
    taken = {
        book, *(book + ending for ending in _PASSING), SCALE, paths.user_vocabulary().name,
        paths.recordings().name, paths.transcripts().name,
    }  # fmt: skip
    names = [entry.name for entry in folder.iterdir() if entry.name not in taken]
    inside = folder / paths.recordings().name
    names += [f"{inside.name}/{part}" for part in ("open", "trash") if any((inside / part).glob("*"))]
    names += [
        f"{paths.transcripts().name}/{file.name}"
        for file in (folder / paths.transcripts().name).glob("*.part.jsonl")
    ]
    shown = sorted(name for name in names if not name.startswith("."))
    return [f"Not taken from {folder}: {', '.join(shown)}."] if shown else []
