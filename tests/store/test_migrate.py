"""Every library that an older program can have left is brought up to date with all that is in it.

`tests/store/data/STEP.sql` is a small library as a program of that step left it: schema and records.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from reviewer import store
from reviewer.store import schema
from reviewer.store.films import film_of
from reviewer.store.merge import clashes
from reviewer.store.plays import matches_of, plays_of
from reviewer.store.saved import saved_searches
from tests.store.test_library import DATA, old_library

STEPS = [name for name, _ in schema.STEPS]
TABLED = STEPS[: STEPS.index("0005_merge") + 1]
"""Steps that changed tables; a library of a later step has the same ones."""


@pytest.fixture(params=TABLED)
def step(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def test_every_step_that_changed_tables_has_a_library() -> None:
    changing = [
        name for name, statements in schema.STEPS if any("CREATE" in s or "ALTER" in s for s in statements)
    ]
    assert changing == TABLED, "put the library of the release before the new step into tests/store/data"
    assert sorted(file.stem for file in DATA.glob("*.sql")) == TABLED


def test_the_stored_library_has_the_schema_of_its_step(tmp_path: Path, step: str) -> None:
    """Old steps never change: what they make today is what libraries were made with."""
    from sqlite_utils import Database

    now = tmp_path / "now.db"
    with closing(sqlite3.connect(now, isolation_level=None)) as connection:
        after = STEPS.index(step) + 1
        stop = STEPS[after] if after < len(STEPS) else None
        schema.migrations().apply(Database(connection), stop_before=stop)
    assert _schema(now) == _schema(old_library(tmp_path / "old.db", f"{step}.sql"))


def _schema(path: Path) -> list[tuple[str, str, str]]:
    query = "SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY name"
    with closing(sqlite3.connect(path)) as connection:
        return [(kind, name, "".join(sql.split())) for kind, name, sql in connection.execute(query)]


def test_it_is_brought_up_to_date_with_all_that_is_in_it(tmp_path: Path, step: str) -> None:
    path = old_library(tmp_path / "book.db", f"{step}.sql")
    with store.Library.open(path) as library:
        assert library._applied() == STEPS
        assert store.check(library) == []
        assert [(r.current.rep, r.current.verdict, r.confirmed) for r in store.current_rows(library, 1)] == [
            (1, "loss", False), (2, "loss", True), (3, "neutral", False), (4, "win", False),
            (4, "neutral", False),
        ]  # fmt: skip
        assert store.search(library, store.SearchQuery("oversets"))[0].rep == 3
        if step >= "0002_teams":
            assert [s.entry.name for s in store.spots(library, "Hollow Creek", "2026")] == [
                "Ole Rask", "Teo Brandvold",
            ]  # fmt: skip
            assert store.games(library)[0].opponent == "Pine Bluff"
            assert store.note(library, 1).game_id == 1
            assert store.learned(library)[0].form == "over the top"
        if step >= "0004_plays":
            assert plays_of(library, 1)[0].gain == 4 and matches_of(library, 1)[0].probability == 0.97
            assert film_of(library, 1).marks == ((0.0, 4.0),)
            assert saved_searches(library)[0].typed == "--verdict loss"
        if step >= "0005_merge":
            assert [(clash.field, clash.theirs) for clash in clashes(library)] == [("verdict", "neutral")]
    [copy] = tmp_path.glob(f"book.db.before-{step}-*.bak") or [None]
    assert (copy is not None) == (step != STEPS[-1])
