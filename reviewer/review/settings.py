"""What the review's screen remembers of the coach's taste: light or dark, and his confidence."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path

from reviewer import paths
from reviewer.errors import InputError
from reviewer.reports.files import write_whole

FILE = "screen.json"


@dataclass
class Settings:
    """dark: dark background. confidence: from where many rows are confirmed at once, 0..1."""

    dark: bool = True
    confidence: float = 0.85


def load_settings(folder: Path | None = None) -> Settings:
    """The kept settings; what is missing or cannot be read is as at first."""
    try:
        data = json.loads(((folder or paths.home()) / FILE).read_text("utf-8"))
        confidence = min(1.0, max(0.0, float(data["confidence"])))
        return Settings(bool(data["dark"]), confidence)
    except (OSError, ValueError, KeyError, TypeError, OverflowError, RecursionError):
        return Settings()


def save_settings(settings: Settings, folder: Path | None = None) -> None:
    """Keep the settings. A folder that cannot be written only means that they are not remembered."""
    try:
        write_whole((folder or paths.home()) / FILE, json.dumps(asdict(settings)))
    except InputError:
        return
