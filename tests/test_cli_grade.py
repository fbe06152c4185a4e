"""`reviewer grade` from text and captions: what it prints, what it keeps."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

import pytest

from reviewer import cautions, paths, store
from reviewer.records import GradeRow
from tests.conftest import Cli
from tests.talk import ROSTER_CSV, TEXT


@pytest.fixture
def talk(tmp_path: Path) -> Path:
    path = tmp_path / "week six.txt"
    path.write_text(TEXT, "utf-8")
    return path


@pytest.fixture
def roster(tmp_path: Path) -> Path:
    path = tmp_path / "roster.csv"
    path.write_text(ROSTER_CSV, "utf-8")
    return path


def test_json_is_the_grade_rows_and_nothing_else(cli: Cli, talk: Path) -> None:
    ran = cli("grade", talk, "--player", "74", "--json")
    assert ran.code == 0
    rows = [GradeRow.model_validate_json(line) for line in ran.out.splitlines()]
    assert [(row.rep, row.player, row.verdict) for row in rows] == [
        (1, "74", "win"),
        (2, "74", "win"),
        (3, "74", "loss"),
    ]
    assert [(row.down, row.distance) for row in rows] == [(1, 10), (2, 3), (3, 8)]
    assert rows[0].concepts == ["outside zone"]
    assert rows[1].set == "jump"
    assert rows[1].moves == ["bull rush"]
    assert rows[2].opponents == ["95"]
    assert rows[2].alignment == "wide 9"
    # the exchanged row has the contract's fields, in its order, and no other
    assert list(json.loads(ran.out.splitlines()[0])) == [
        name for name in GradeRow.model_fields if name != "field_confidence"
    ]


def test_a_table_shows_what_the_rows_hold(cli: Cli, talk: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "200")
    ran = cli("grade", talk, "--player", "74")
    assert ran.code == 0
    for cell in (
        "outside zone",
        "jump set",
        "bull rush",
        "in wide 9",
        "overset, lost inside",
        "+ win",
        "− loss",
    ):
        assert cell in ran.out
    assert "3 rows in 3 reps: 2 wins, 1 loss, 0 neutral" in ran.out
    assert "reviewer review week-six" in ran.out
    assert cautions.CAUTION not in ran.out


def test_no_column_is_wider_than_a_terminal_of_80(
    cli: Cli, talk: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    ran = cli("grade", talk, "--player", "74")
    assert max(map(len, ran.out.splitlines())) <= 80


def test_the_caution_stands_once_under_rows_about_an_injury(cli: Cli, tmp_path: Path) -> None:
    path = tmp_path / "hurt.txt"
    path.write_text(
        "First and ten, inside zone. Number ninety-one leads with the crown of his helmet into his facemask. "
        "He still seals him. That's a win.\n\nNext play, second and four, power. He is hurt on this one, he "
        "limps off and has to be helped off the field. That's a loss.",
        "utf-8",
    )
    ran = cli("grade", path, "--player", "74")
    told = " ".join(ran.out.split())
    assert "head contact" in told
    assert "injury" in told
    assert told.count(cautions.CAUTION) == 1


def test_grading_again_keeps_one_note_and_its_corrections(cli: Cli, talk: Path) -> None:
    cli("grade", talk, "--player", "74")
    with store.Library.open() as library:
        (note,) = store.notes(library)
        row = store.current_rows(library, note.id)[0]
        store.set_fields(library, row.id, {"verdict": "neutral"})
    ran = cli("grade", talk, "--player", "74", "--json")
    with store.Library.open() as library:
        assert len(store.notes(library)) == 1
    assert json.loads(ran.out.splitlines()[0])["verdict"] == "neutral"


def test_a_dry_run_stores_nothing(cli: Cli, talk: Path, own_home: Path) -> None:
    ran = cli("grade", talk, "--player", "74", "--dry-run", "--json")
    assert len(ran.out.splitlines()) == 3
    assert not paths.database().exists()


def test_text_from_a_pipe(cli: Cli, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(TEXT.encode())))
    ran = cli("grade", "-", "--player", "74", "--json")
    assert [json.loads(line)["verdict"] for line in ran.out.splitlines()] == ["win", "win", "loss"]
    with store.Library.open() as library:
        assert store.notes(library)[0].source is None


def test_captions_keep_their_times(cli: Cli, tmp_path: Path) -> None:
    path = tmp_path / "note.vtt"
    path.write_text(
        "WEBVTT\n\n00:10.000 --> 00:16.000\n"
        "First and ten, inside zone. He reaches ninety-one and seals him.\n\n"
        "00:16.500 --> 00:18.000\nThat's a win.\n\n00:30.000 --> 00:38.000\n"
        "Next play, third and eight, dropback. Ninety-five beats him with a swim. Loss.\n",
        "utf-8",
    )
    rows = [json.loads(line) for line in cli("grade", path, "--player", "74", "--json").out.splitlines()]
    assert [row["verdict"] for row in rows] == ["win", "loss"]
    assert 10 <= rows[0]["start"] < rows[0]["end"] <= 18
    assert 30 <= rows[1]["start"] < rows[1]["end"] <= 38


def test_a_folder_gives_its_notes_by_name(cli: Cli, tmp_path: Path) -> None:
    folder = tmp_path / "notes"
    folder.mkdir()
    (folder / "b.txt").write_text("Third and two, power. He whiffs on ninety-one. Loss.", "utf-8")
    (folder / "a.txt").write_text("First and ten, duo. He drives ninety-one. Win.", "utf-8")
    (folder / "roster.csv").write_text("not a note", "utf-8")
    rows = [json.loads(line) for line in cli("grade", folder, "--player", "74", "--json").out.splitlines()]
    assert [(row["down"], row["verdict"]) for row in rows] == [(1, "win"), (3, "loss")]


def test_one_bad_note_of_several_does_not_stop_the_others(cli: Cli, talk: Path, tmp_path: Path) -> None:
    empty = tmp_path / "empty.txt"
    empty.touch()
    ran = cli("grade", empty, talk, "--player", "74", "--json")
    assert ran.code == 2
    assert len(ran.out.splitlines()) == 3
    assert ran.err.splitlines() == [
        f"reviewer: {empty} is empty (0 bytes); write or copy it again.",
        "2 notes: 1 graded (3 rows), 1 failed.",
    ]


def test_a_note_without_reps_is_said_to_have_none(cli: Cli, tmp_path: Path) -> None:
    path = tmp_path / "groceries.txt"
    path.write_text("Milk, bread and a dozen eggs, please.", "utf-8")
    ran = cli("grade", path)
    assert ran.code == 0
    assert "No rep was found" in ran.out


def test_the_game_and_its_rosters_are_kept(cli: Cli, talk: Path, roster: Path) -> None:
    ran = cli(
        "grade", talk, "--player", "Tillery", "--opponent", "Calder Stags", "--game", "Week six",
        "--season", "2031", "--team", "Port Ellery Herons", "--roster", roster,
    )  # fmt: skip
    assert ran.code == 0, ran.err
    assert "74 Wes Tillery RT" in ran.out
    with store.Library.open() as library:
        (note,) = store.notes(library)
        assert (note.player, note.position) == ("74", "RT")
        assert note.game_id is not None
        game = store.game_of(library, note.game_id)
        assert (game.title, game.season, game.team, game.opponent) == (
            "Week six", "2031", "Port Ellery Herons", "Calder Stags",
        )  # fmt: skip
        context = store.context_of(library, note.id)
    assert {(man.jersey, man.side) for man in context.roster} == {
        ("74", "own"), ("65", "own"), ("47", "own"), ("91", "opp"), ("95", "opp"),
    }  # fmt: skip
    # the next note of the game needs no roster file
    again = cli("grade", talk, "--player", "Tillery", "--game", "Week six", "--season", "2031")
    assert "74 Wes Tillery RT" in again.out


def test_signs_of_doubt_do_not_depend_on_colour(
    cli: Cli, talk: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from reviewer.commands.rows import ShownRow, legend, row_cells

    row = GradeRow(
        rep=1, start=0, end=5, player="74", phase="run", verdict="win", opponents=["91"],
        confidence=0.4, field_confidence={"opponents": 0.3},
    )  # fmt: skip
    cells = row_cells(ShownRow(row))
    assert cells["Rep"] == "!1"
    assert cells["Against"].startswith("(91)?")
    assert cells["Play"] == "(run)"
    assert "not sure" in legend([ShownRow(row)])
    confirmed = row_cells(ShownRow(row, confirmed=True))
    assert (confirmed["Rep"], confirmed["Against"], confirmed["Play"], confirmed["Sure"]) == (
        "1", "91", "run", "confirmed",
    )  # fmt: skip


def test_markup_and_escapes_in_a_name_are_shown_as_they_are(cli: Cli, tmp_path: Path) -> None:
    path = tmp_path / "[red]note\x1b[2J.txt"
    path.write_text(TEXT, "utf-8")
    ran = cli("grade", path, "--player", "74")
    assert ran.out.startswith("[red]note␛[2J · 74")
