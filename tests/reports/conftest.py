"""The sample season in a grade book, loaded once for all tests that only read it."""

from pathlib import Path

import pytest

from reviewer.intake.season import load_season
from reviewer.store.library import Library

SEASON = Path(__file__).parents[2] / "shared" / "season"


@pytest.fixture(scope="session")
def season_file(tmp_path_factory):
    """A grade book with the sample season. Read it only."""
    path = tmp_path_factory.mktemp("season") / "gradebook.db"
    with Library.open(path) as library:
        load_season(library, SEASON)
    return path


@pytest.fixture
def season(season_file):
    with Library.open(season_file, read_only=True) as library:
        yield library


@pytest.fixture(autouse=True)
def own_home(tmp_path, monkeypatch):
    """No test meets the user's own library or scale."""
    monkeypatch.setenv("REVIEWER_HOME", str(tmp_path / "home"))
