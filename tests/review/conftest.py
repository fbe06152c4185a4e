"""The evening's note in a grade book in memory, and its review without a screen."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from reviewer import paths, store
from reviewer.review.session import Session
from tests.screens.conftest import Clock
from tests.screens.evening import add_evening


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's own library is never touched."""
    monkeypatch.setenv(paths.HOME_VARIABLE, str(tmp_path / "home"))
    return tmp_path / "home"


@pytest.fixture
def library() -> Iterator[store.Library]:
    """An empty grade book in memory."""
    with store.Library.memory() as book:
        book.clock = Clock()
        book.who = "coach"
        yield book


@pytest.fixture
def note(library: store.Library) -> int:
    """The evening's note: ten rows in nine reps, the third rep the most doubtful."""
    return add_evening(library)


@pytest.fixture
def session(library: store.Library, note: int) -> Session:
    """Its review."""
    return Session(library, note)
