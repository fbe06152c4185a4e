"""Writing a report's file whole or not at all."""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from glob import escape
from pathlib import Path

from reviewer.errors import InputError
from reviewer.leavings import sweep
from reviewer.paths import is_private


def write_whole(path: Path, content: str | bytes) -> Path:
    """Write a file so that a reader sees the old one or the whole new one, and return its path.

    Text is UTF-8 with the line ends it has. Raises InputError when the place cannot be written.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    if path.is_dir():
        raise InputError(f"{path} is a folder; name a file to write to.")
    sweep(path.parent, f".{escape(path.name)}.????????")
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    except OSError as problem:
        raise InputError(
            f"{path} cannot be written ({problem.strerror}); choose another place with --out."
        ) from problem
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        # mkstemp makes a private file; a report elsewhere gets what any new file would get
        if not is_private(path):
            Path(name).chmod(0o666 & ~_umask())
        Path(name).replace(path)
    except OSError as problem:
        with suppress(OSError):
            Path(name).unlink()
        raise InputError(
            f"{path} cannot be written ({problem.strerror}); choose another place with --out."
        ) from problem
    return path


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
