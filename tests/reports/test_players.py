"""The list of players under review."""

import json
from pathlib import Path

import pytest

from reviewer.intake.season import load_season
from reviewer.reports.gather import Selection, gather
from reviewer.reports.players import own_spots, players
from reviewer.store.library import Library

SEASON = Path(__file__).parents[2] / "shared" / "season"


@pytest.fixture
def found(season):
    return players(gather(season, Selection()), own_spots(season))


def test_every_man_with_his_games_and_rows(season, found):
    lines = {p.name: p for p in found}
    assert len(found) == 10
    assert sum(p.tally.reps for p in found) == 800
    quist = lines["Halvard Quist"]
    his = gather(season, Selection(player="74"))
    assert (quist.jerseys, quist.position, quist.seasons, quist.games) == (("74",), "LT", ("2031",), 12)
    assert quist.tally.reps == len(his)
    assert quist.tally.wins == sum(rep.row.verdict == "win" for rep in his)
    assert quist.unconfirmed == 29
    assert lines["Joris Penhallow"].tally.reps == 0


def test_a_number_that_changed_hands_is_two_men(found):
    one, two = (p for p in found if p.jerseys == ("63",))
    assert (one.name, one.until, two.name) == ("Dashiell Runkle", None, "Corwin Tabbert")
    assert two.until.isoformat() == "2031-10-13"
    assert (one.games, two.games) == (6, 6)


def test_who_is_on_no_roster_goes_by_his_number(season):
    (only, *_) = (p for p in players(gather(season, Selection(player="74")), []) if p.name)
    assert (only.name, only.listed) == ("Halvard Quist", False)


@pytest.fixture
def home():
    with Library.open() as library:
        load_season(library, SEASON)


def test_the_list_as_a_coach_sees_it(home, cli):
    ran = cli("players", "--format", "json")
    data = json.loads(ran.out)
    rows = data["tables"]["players"]["rows"]
    assert len(rows) == 9
    assert rows[0]["player"] == "12"
    assert any("--all shows them" in remark for remark in data["remarks"])
    every = json.loads(cli("players", "--all", "--format", "json").out)["tables"]["players"]["rows"]
    assert [row["until"] for row in every if row["until"]] == ["2031-10-13"]
    share = next(row for row in rows if row["player"] == "74")
    assert share["share_low"] < share["share"] < share["share_high"]
    assert cli("players", "--season", "1999").code == 2


def test_a_man_comes_is_corrected_and_goes(home, cli):
    assert cli("players", "add", "70", "Osrik Vanbeck", "--position", "tackle").out == (
        "70 Osrik Vanbeck: Tarn Hollow, 2031\n"
    )
    assert cli("players", "add", "#70", "osrik vanbeck").code == 2
    beside = cli("players", "add", "74", "Tolv Brack", "--from", "2031-12-01")
    assert "Halvard Quist wears 74 too" in beside.err
    assert cli("players", "rename", "70", "Osric Vanbeck").out == "70 Osrik Vanbeck is Osric Vanbeck now\n"
    # his last game is the twelfth, on the 21st of November; his grades keep his name
    ran = cli("players", "retire", "Quist")
    assert ran.out == "74 Halvard Quist: off the roster of Tarn Hollow, 2031 from 2031-11-22\n"
    assert "Halvard Quist" in cli("sheet", "--player", "74").out.splitlines()[0]
    listed = cli("players", "--format", "csv").out
    assert "Osric Vanbeck" in listed
    assert "Halvard Quist" not in listed


def test_a_number_against_the_rules_is_pointed_out(home, cli):
    ran = cli("players", "add", "07", "Osric Vanbeck", "--position", "QB")
    assert ran.code == 0
    assert "07" in ran.out
    assert ran.err.strip()


def test_shared_without_names(home, cli):
    out = cli("players", "--anonymous").out
    assert "P1" in out
    for hidden in ("Quist", " 74 ", "Tarn", "roster"):
        assert hidden not in out
