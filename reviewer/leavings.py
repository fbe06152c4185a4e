"""What a program that was killed left half-written beside the files it was to become.

Such a piece is never taken for the whole: it has a name of its own, which begins with a dot. It is
only in the way, so the next program that writes there takes it out.
"""

from __future__ import annotations

import shutil
import time
from contextlib import suppress
from pathlib import Path

OLD_S = 86_400.0
"""A piece untouched for so long is nobody's any more; a younger one may be another window's."""


def sweep(folder: Path, *patterns: str) -> None:
    """Take out files and folders of these names that are old; what cannot be taken out stays."""
    for pattern in patterns:
        for path in folder.glob(pattern):
            with suppress(OSError):
                if time.time() - path.lstat().st_mtime < OLD_S:
                    continue
                if path.is_dir() and not path.is_symlink():
                    shutil.rmtree(path)
                else:
                    path.unlink()
