"""Write a small file whole or not at all."""

from __future__ import annotations

import os
import tempfile
from glob import escape
from pathlib import Path

from reviewer import paths
from reviewer.leavings import sweep


def write_text(path: Path, text: str) -> None:
    """Put `text` (UTF-8) at `path`, making its folder; a reader sees the old file or the new one.

    Raises OSError where it cannot be written; nothing is left behind then.
    """
    paths.private_folder(path.parent)
    sweep(path.parent, f".{escape(path.name)}.????????")
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    beside = Path(name)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as out:
            out.write(text)
            out.flush()
            os.fsync(out.fileno())
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
