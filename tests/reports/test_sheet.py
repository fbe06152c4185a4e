"""The grade sheet over the sample season, and its course over time."""

import csv
import json
from pathlib import Path

import pytest

from reviewer.cautions import CAUTION
from reviewer.errors import InputError
from reviewer.reports.gather import Selection, find_games, gather
from reviewer.reports.progress import courses, overall
from reviewer.reports.scale import load_scale
from reviewer.reports.sheet import grade_sheet
from reviewer.reports.sheet_document import sheet_document

from .build import GAME_1, GAME_2, GAME_3, graded, run_of
from .conftest import SEASON


def plain_rows(player):
    """The season's rows of a player, counted from the files by other code."""
    for path in sorted((SEASON / "notes").glob("*.jsonl")):
        head, *blocks = [json.loads(line) for line in Path(path).read_text("utf-8").splitlines()]
        for block in blocks:
            yield from (
                (head["opponent"], entry["row"])
                for entry in block["rows"]
                if entry["row"]["player"] == player
            )


@pytest.fixture
def sheet(season):
    return grade_sheet(gather(season, Selection(player="74")), load_scale(), "74")


def test_the_season_has_twelve_games_and_800_rows(season):
    reps = gather(season, Selection())
    assert len(reps) == 800
    assert len({rep.game.id for rep in reps}) == 12


def test_the_sheet_adds_up_to_the_files(sheet):
    rows = list(plain_rows("74"))
    assert sheet.tally.wins == sum(row["verdict"] == "win" for _, row in rows)
    assert sheet.tally.losses == sum(row["verdict"] == "loss" for _, row in rows)
    assert sheet.tally.reps == len(rows) == 264
    assert sheet.faults["waist bend"] == sum("waist bend" in row.get("faults", ()) for _, row in rows)
    vertical = next(g for g in sheet.breakdowns["set"] if g.name == "vertical")
    assert vertical.tally.reps == sum(row.get("set") == "vertical" for _, row in rows)
    bulls = sheet.set_against_move.cells["vertical", "bull rush"]
    wanted = [row for _, row in rows if row.get("set") == "vertical" and row.get("moves") == ["bull rush"]]
    assert (bulls.reps, bulls.wins) == (len(wanted), sum(row["verdict"] == "win" for row in wanted))
    first = sheet.games[0]
    assert first.title == "2031-09-05 Calder Falls"
    assert first.tally.wins == sum(g == "Calder Falls" and row["verdict"] == "win" for g, row in rows)


def test_the_built_in_habit_is_found_and_others_are_not(sheet):
    sure = [course for course in sheet.courses if not course.chance]
    assert [(course.term, course.found.direction) for course in sure] == [("waist bend", "down")]


def test_one_game_by_name_date_or_opponent(season):
    one = find_games(season, ["calder falls"])
    assert one == find_games(season, ["2031-09-05"])
    reps = gather(season, Selection(player="74", games=one))
    assert {rep.game.opponent for rep in reps} == {"Calder Falls"}
    with pytest.raises(
        InputError, match="no game 'Nowhere' in the grade book; the games are: 2031-09-05 Calder"
    ):
        find_games(season, ["Nowhere"])


def test_a_number_that_changes_hands_names_the_man_of_the_day(season):
    reps = gather(season, Selection(player="63"))
    names = {rep.name for rep in reps if rep.game.date <= "2031-10-12"}
    later = {rep.name for rep in reps if rep.game.date > "2031-10-12"}
    assert (names, later) == ({"Corwin Tabbert"}, {"Dashiell Runkle"})
    assert {rep.name for rep in gather(season, Selection(player="runkle"))} == {"Dashiell Runkle"}


def test_unconfirmed_rows_are_said_and_their_inferred_values_named(sheet):
    assert sheet.unconfirmed == 29
    document = sheet_document(sheet)
    assert "29 rows are the tool's own reading and not confirmed by the coach." in document.remarks
    last = sheet.reps[-1]
    assert not last.confirmed
    assert {"phase", "play_result"} <= last.inferred
    assert "verdict" not in last.inferred


def test_only_confirmed_rows_on_demand(season):
    reps = gather(season, Selection(player="74", confirmed=True))
    assert len(reps) == 235


def test_a_span_of_days(season):
    from datetime import date

    reps = gather(season, Selection(player="74", since=date(2031, 9, 12), until=date(2031, 9, 19)))
    assert {rep.game.opponent for rep in reps} == {"Ebbing Point", "Norwick Tech"}


def test_no_reps_is_a_sentence():
    with pytest.raises(InputError, match="no graded reps of 99 here; grade a note first"):
        grade_sheet([], load_scale(), "99")


def test_two_games_show_no_trend():
    reps = run_of(3, 3) + run_of(3, 3, game=GAME_2)
    assert courses(reps) == []
    assert overall(reps) is None


def test_a_game_without_the_term_keeps_its_place():
    reps = [
        *(graded(n, faults=["lunge"]) for n in range(1, 6)),
        *(graded(n, game=GAME_2) for n in range(1, 6)),
        *(graded(n, game=GAME_3) for n in range(1, 6)),
    ]
    (course,) = courses(reps)
    assert (course.hits, course.totals) == ((5, 0, 0), (5, 5, 5))
    assert course.games[1] == GAME_2.title


def test_safety_flags_bring_the_caution():
    document = sheet_document(grade_sheet([graded(1, safety=["head contact"])], load_scale(), "74"))
    assert document.caution == CAUTION
    assert "1 rep is flagged: head contact." in document.remarks
    assert sheet_document(grade_sheet([graded(1)], load_scale(), "74")).caution == ""


def test_runs_are_no_unsaid_pass_sets():
    reps = [graded(1, phase="run"), graded(2, phase="pass", set="jump"), graded(3, phase="pass")]
    found = grade_sheet(reps, load_scale(), "74").breakdowns["set"]
    assert [(g.name, g.tally.reps) for g in found] == [("jump", 1), ("not said", 1)]


def test_the_game_file_lists_what_was_loaded(season):
    with (SEASON / "games.csv").open(encoding="utf-8") as file:
        wanted = [row["Opponent"] for row in csv.DictReader(file)]
    assert [
        line.game.opponent for line in grade_sheet(gather(season, Selection()), load_scale(), "").games
    ] == wanted
    assert GAME_1.title == "2031-09-05 Calder Falls"


def test_two_notes_on_one_game_are_pointed_out():
    twice = [graded(1, note_id=1), graded(1, "loss", note_id=2), graded(2, note_id=1, game=GAME_2)]
    remarks = sheet_document(grade_sheet(twice, load_scale(), "74")).remarks
    assert [r for r in remarks if "count twice" in r] == [
        "Several notes grade the same man in 2031-09-05 Calder Falls; where they are about the same snaps "
        "these count twice (--note takes one)."
    ]
    halves = [graded(1, note_id=1), graded(2, note_id=1), graded(1, player="78", note_id=2)]
    assert not any("count twice" in r for r in sheet_document(grade_sheet(halves, load_scale(), "")).remarks)


def test_a_sheet_of_several_men_has_a_line_for_each(season):
    reps = gather(season, Selection())
    found = grade_sheet(reps, load_scale(), "")
    assert sum(line.tally.reps for line in found.players) == len(reps) == 800
    quist = next(line for line in found.players if line.name == "Halvard Quist")
    assert quist.tally == grade_sheet(gather(season, Selection(player="74")), load_scale(), "74").tally
    # a number that changed hands is two men
    both = {line.name for line in found.players if line.jersey == "63"}
    assert both == {"Corwin Tabbert", "Dashiell Runkle"}
    assert sheet_document(found).block("by_player").rows[0][:3] == ("74", "Halvard Quist", 264)


def test_a_sheet_of_one_man_has_no_table_of_players(season):
    document = sheet_document(grade_sheet(gather(season, Selection(player="74")), load_scale(), "74"))
    assert not any(block.key == "by_player" for block in document.blocks)
