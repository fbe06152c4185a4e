"""A grade book in memory with one note, and a frozen clock."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from reviewer import paths, store
from tests.store.scene import new_note, scene


class Clock:
    """Each look at it is a second later."""

    def __init__(self) -> None:
        self.moment = datetime(2026, 9, 1, 18, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.moment += timedelta(seconds=1)
        return self.moment


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
    """The invented note, stored."""
    return store.add_note(library, new_note(), scene())


@pytest.fixture
def rows(library: store.Library, note: int) -> list[int]:
    """The ids of its four rows."""
    return [row.id for row in store.current_rows(library, note)]


@pytest.fixture
def reps(library: store.Library, note: int) -> list[int]:
    """The ids of its three reps."""
    return [rep.id for rep in store.state_of(library, note).reps]
