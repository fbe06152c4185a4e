"""The evening's note in a grade book of its own, and the screen over it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from reviewer import paths, store
from reviewer.screens.review import ReviewApp
from tests.screens.evening import add_evening


class Clock:
    """Each look at it is a second later."""

    def __init__(self) -> None:
        self.moment = datetime(2031, 9, 1, 20, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.moment += timedelta(seconds=1)
        return self.moment


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's own library is never touched."""
    monkeypatch.setenv(paths.HOME_VARIABLE, str(tmp_path / "home"))
    return tmp_path / "home"


@pytest.fixture
def library(home: Path) -> Iterator[store.Library]:
    """A grade book in a file, as two windows need it."""
    with store.Library.open() as book:
        book.clock = Clock()
        book.who = "coach"
        yield book


@pytest.fixture
def note(library: store.Library) -> int:
    """The evening's note."""
    return add_evening(library)


@pytest.fixture
def app(library: store.Library, note: int) -> ReviewApp:
    """The review of it."""
    return ReviewApp(library, note)
