"""Keep what C libraries print away from the screen.

Textual draws on file descriptor 2, and so do ALSA, PortAudio and friends when they complain: their
lines would stand across the screen. The screen gets a descriptor of its own, theirs goes to a file.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from reviewer import paths


@contextmanager
def screen_to_itself(log: Path) -> Iterator[None]:
    """While it lasts, `sys.__stderr__` is the terminal and descriptor 2 is `log` (begun anew).

    Where the log cannot be made the noise goes nowhere. Only POSIX systems need it.
    """
    if os.name != "posix" or sys.__stderr__ is None:
        yield
        return
    before = sys.__stderr__
    before.flush()
    terminal, noise = os.dup(2), _opened(log)
    os.dup2(noise, 2)
    os.close(noise)
    drawing = os.fdopen(terminal, "w", encoding="utf-8", errors="replace", closefd=False)
    sys.__stderr__ = drawing  # type: ignore[misc]
    try:
        yield
    finally:
        drawing.flush()
        sys.__stderr__ = before  # type: ignore[misc]
        sys.stderr.flush()
        os.dup2(terminal, 2)
        os.close(terminal)


def _opened(log: Path) -> int:
    try:
        paths.private_folder(log.parent)
        return os.open(log, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600)
    except OSError:
        return os.open(os.devnull, os.O_WRONLY)
