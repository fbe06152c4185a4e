"""Keep a copy of a recording in the library folder, so that it can be heard when the original is gone."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path

from reviewer import paths
from reviewer.errors import LibraryError
from reviewer.leavings import sweep

_BESIDE = ".keeping-"  # a name of its own: with the recording's in it, it might be too long


def keep_recording(source: Path, digest: str) -> Path:
    """Copy a recording into the library, whole or not at all; returns where it is kept.

    digest: SHA-256 of its content, which tells whether a file of that name is the same recording.
    What lies in the library already stays where it is. Raises LibraryError where it cannot be written.
    """
    folder = paths.recordings()
    if source.resolve().parent == folder.resolve():
        return source
    target = folder / source.name
    if target.exists() and not _same(target, source, digest):
        target = folder / f"{source.stem}-{digest[:8]}{source.suffix}"
    if target.exists():
        return target
    try:
        paths.private_folder(folder)
        sweep(folder, f"{_BESIDE}*")
        handle, name = tempfile.mkstemp(dir=folder, prefix=_BESIDE)
        os.close(handle)
        beside = Path(name)
        try:
            shutil.copyfile(source, beside)
            beside.replace(target)
        finally:
            beside.unlink(missing_ok=True)
    except OSError as error:
        raise LibraryError(
            f"{source.name} cannot be copied to {folder} ({error.strerror}); free some space there, "
            "or grade it without --keep"
        ) from error
    return target


def _same(one: Path, two: Path, digest: str) -> bool:
    from reviewer.speech.decode import digest as digest_of

    return one.stat().st_size == two.stat().st_size and digest_of(one) == digest
