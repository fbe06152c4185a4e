"""The demo through the real speech model: what a new user sees first, and the figures it promises."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from reviewer import demo as showing
from reviewer import paths, store
from reviewer.pipeline import GradedNote, HearWith, grade_note
from tests.conftest import Cli, Ran

LEAST_REPS_FOUND = 90.0
LEAST_VERDICTS_RIGHT = 85.0


@pytest.fixture(scope="module")
def demo_home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A home in which the demo has been graded once."""
    home = tmp_path_factory.mktemp("demo") / "home"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(paths.HOME_VARIABLE, str(home))
        notes = showing.demo_notes()
        with showing.open_demo_library() as library:
            showing.grade_demo(library, notes, HearWith(cache=showing.demo_folder() / "transcripts"))
        yield home


@pytest.fixture
def demo(demo_home: Path, cli: Cli, monkeypatch: pytest.MonkeyPatch) -> Cli:
    """`reviewer demo` after the first time: what was heard is kept, so no model may be loaded."""
    from reviewer.speech import recogniser

    def no_model(*_: object) -> None:
        raise AssertionError("the recordings are heard again")

    monkeypatch.setenv(paths.HOME_VARIABLE, str(demo_home))
    monkeypatch.setattr(recogniser, "_load", no_model)

    def run(*options: str) -> Ran:
        return cli("demo", *options)

    return run


def test_the_demo_keeps_its_promise(demo: Cli) -> None:
    ran = demo("--check")
    assert ran.code == 0
    assert re.match(r"2 recordings, \d+ min \d+ s, speech model base\.\n", ran.out)
    shares = {name.strip(): float(share) for name, share in re.findall(r"^(.+?) +([\d.]+) %", ran.out, re.M)}
    assert shares["reps found"] >= LEAST_REPS_FOUND
    assert shares["verdicts right"] >= LEAST_VERDICTS_RIGHT


def test_the_demo_prints_both_sheets_without_a_screen(demo: Cli) -> None:
    ran = demo("--no-screen")
    assert ran.code == 0
    assert re.search(
        r"^talkative-analyst · 74 Wes Tillery RT · against Calder Stags · \d:\d\d$", ran.out, re.M
    )
    assert re.search(
        r"^terse-coach · 66 Boyd Kessling LG · against Tannery Creek Otters · \d:\d\d$", ran.out, re.M
    )
    assert ran.err == ""


def test_the_demo_leaves_the_users_own_library_alone(demo: Cli, demo_home: Path) -> None:
    demo("--no-screen")
    assert not paths.database().exists()
    with store.Library.open(demo_home / "demo" / "gradebook.db", read_only=True) as library:
        assert {note.title for note in store.notes(library)} == {"talkative-analyst", "terse-coach"}
        assert {game.opponent for game in store.games(library)} == {"Calder Stags", "Tannery Creek Otters"}


def test_the_expected_rows_fit_the_recordings() -> None:
    """Of three minutes or more each, with rows that are whole."""
    from reviewer.records import GradeRow
    from reviewer.speech.decode import duration

    notes = showing.demo_notes()
    assert len(notes) >= 2
    for note in notes:
        assert duration(note.recording) >= 180
        for rep in note.annotated.reps:
            for row in rep.rows:
                GradeRow.model_validate({"rep": rep.number, "start": 0, "end": 1, **row})


def test_the_check_counts_what_is_wrong(demo_home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Reading with half of the words gone must show in the figures."""
    monkeypatch.setenv(paths.HOME_VARIABLE, str(demo_home))
    notes = showing.demo_notes()
    how = HearWith(cache=showing.demo_folder() / "transcripts")
    graded = [grade_note(n.recording, n.annotated.context, library=None, how=how) for n in notes]
    whole = showing.check_demo(notes, graded)
    half = [_first_half(one) for one in graded]
    cut = showing.check_demo(notes, half)
    assert cut.gold == whole.gold
    assert cut.true["rep"] < 0.7 * whole.true["rep"]
    assert cut.right["verdict"] < 0.7 * whole.right["verdict"]


def _first_half(graded: GradedNote) -> GradedNote:
    reading = graded.reading
    reps = reading.reps[: len(reading.reps) // 2]
    rows = [row for row in reading.rows if row.rep <= len(reps)]
    return replace(graded, reading=replace(reading, reps=reps, rows=rows))
