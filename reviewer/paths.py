"""Where things live: the user's library folder and the data that ships with the program."""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs

HOME_VARIABLE = "REVIEWER_HOME"


def home() -> Path:
    """The user's library folder (not created). `REVIEWER_HOME` moves all of it."""
    moved = os.environ.get(HOME_VARIABLE)
    if moved:
        return Path(moved).expanduser()
    return Path(platformdirs.user_data_dir("reviewer", appauthor=False))


def database() -> Path:
    """The grade book's database file."""
    return home() / "gradebook.db"


def recordings() -> Path:
    """Recordings made or imported, one file a note."""
    return home() / "recordings"


def transcripts() -> Path:
    """Cached transcripts, keyed by content, model and settings."""
    return home() / "transcripts"


def models() -> Path:
    """Models put together from their packages, and the record of their verification."""
    return home() / "models"


def user_vocabulary() -> Path:
    """The user's own vocabulary file; it adds to the shipped one."""
    return home() / "vocabulary.toml"


def private_folder(folder: Path) -> Path:
    """Make a folder, and those above it that are not there, for the user alone. Raises OSError."""
    missing = [one for one in (folder, *folder.parents) if not one.exists()]
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    for made in missing:
        # a parent is made with what the umask leaves, whatever the mode
        made.chmod(0o700)
    return folder


def private_opener(name: str, flags: int) -> int:
    """For `open(…, opener=…)`: a new file is the user's alone, whatever the umask."""
    return os.open(name, flags, 0o600)


def is_private(path: Path) -> bool:
    """Whether a file lies in the library folder, where everything is the user's alone."""
    return path.absolute().is_relative_to(home().absolute())


def _shipped(name: str) -> Path:
    package = Path(__file__).parent
    inside_wheel = package / "data" / name
    return inside_wheel if inside_wheel.is_dir() else package.parent / name


def vocabulary() -> Path:
    """The shipped vocabulary folder."""
    return _shipped("vocab")


def demo_audio() -> Path:
    """The shipped demo recordings."""
    return _shipped("demo_audio")
