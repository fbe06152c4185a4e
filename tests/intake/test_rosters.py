"""Rosters and games in, with the number rules."""

from datetime import date
from pathlib import Path

import pytest

from reviewer.errors import InputError
from reviewer.intake.games import import_games, read_games
from reviewer.intake.numbers import number_faults
from reviewer.intake.rosters import import_roster, read_roster
from reviewer.store.library import Library
from reviewer.store.rosters import games, roster_for, spots, teams

SEASON = Path(__file__).parents[2] / "shared" / "season"


@pytest.fixture
def library():
    with Library.memory() as library:
        yield library


def file(tmp_path, text, name="file.csv"):
    path = tmp_path / name
    path.write_text(text, "utf-8")
    return path


def test_the_sample_roster_with_its_number_that_changes_hands(library):
    done = import_roster(
        library, SEASON / "roster.csv", team="Tarn Hollow", season="2031", own=True, level="college"
    )
    assert done.saved == {("Tarn Hollow", "2031"): 10}
    assert (done.problems, done.rules) == ((), ())
    before = roster_for(library, "Tarn Hollow", "2031", date(2031, 10, 12))
    after = roster_for(library, "Tarn Hollow", "2031", date(2031, 10, 13))
    assert [man.name for man in before if man.jersey == "63"] == ["Corwin Tabbert"]
    assert [man.name for man in after if man.jersey == "63"] == ["Dashiell Runkle"]
    assert len(before) == len(after) == 9
    assert [team.name for team in teams(library) if team.own] == ["Tarn Hollow"]


def test_many_teams_in_one_file(library):
    done = import_roster(library, SEASON / "roster-opponents.csv", season="2031", own=False)
    assert len(done.saved) == 12
    assert len(spots(library, "Oxpasture", "2031")) == 6


def test_every_line_that_was_not_understood_is_named(tmp_path):
    text = (
        "No,Name,Pos,From,To,Shoe\n"
        "76,Teo Brandt,RT,,,13\n"
        "TBD,Ansel Ore,DE,,,11\n"
        "55,,C,,,12\n"
        '66,"Quist, Halvard",zebra,,,12\n'
        "70,Bo Fenn,G,someday,,12\n"
        "71,Cy Fenn,G,2031-10-02,2031-10-01,12\n"
        "76,teo brandt,RT,,,13\n"
    )
    read = read_roster(file(tmp_path, text), "Tarn Hollow", "2031")
    assert [(m.jersey, m.name, m.position) for m in read.men] == [
        ("76", "Teo Brandt", "RT"),
        ("66", "Halvard Quist", "ZEBRA"),
    ]
    assert [str(problem) for problem in read.problems] == [
        "The file (Shoe): this heading was not understood; the column is left out.",
        "Line 3 (TBD, Ansel Ore, DE): has no number from 0 to 99; the line is left out.",
        "Line 4 (55, C): has no name; the line is left out.",
        "Line 5 (66, Quist, Halvard, zebra): the position 'zebra' is not known; kept as it is.",
        "Line 6 (70, Bo Fenn, G, someday): 'someday' is no date; the line is left out.",
        "Line 7 (71, Cy Fenn, G, 2031-10-02, 2031-10-01): the first day is after the last; "
        "the line is left out.",
        "Line 8 (76, teo brandt, RT): the same man as in line 2; left out.",
    ]


def test_a_file_without_team_or_season_asks_for_them(tmp_path):
    path = file(tmp_path, "No,Name\n76,Teo Brandt\n")
    with pytest.raises(InputError, match="no team column; say which with --team"):
        read_roster(path)
    with pytest.raises(InputError, match="no season column; say which with --season"):
        read_roster(path, "Tarn Hollow")


def test_nothing_usable_saves_nothing(tmp_path, library):
    import_roster(library, SEASON / "roster.csv", team="Tarn Hollow", season="2031")
    with pytest.raises(InputError, match="nothing was saved"):
        import_roster(library, file(tmp_path, "No,Name\nTBD,Teo\n"), team="Tarn Hollow", season="2031")
    assert len(spots(library, "Tarn Hollow", "2031")) == 10


@pytest.mark.parametrize(
    ("jersey", "position", "level", "allowed"),
    # NFL Rule 5-1-2 as of 2023 (club report of the vote, 28 March 2023, seen; rule book not seen);
    # NCAA 1-4-2-a and 7-1-4-a-3 (copy of the rules seen); NFHS 1-4-3 and 7-2-5 (quoted).
    [
        ("0", "QB", "professional", True), ("19", "QB", "professional", True),
        ("20", "QB", "professional", False),
        ("95", "LT", "professional", False), ("79", "RT", "professional", True),
        ("49", "C", "professional", False),
        ("49", "CB", "professional", True), ("50", "S", "professional", False),
        ("85", "TE", "professional", True), ("50", "TE", "professional", False),
        ("0", "WR", "professional", True),
        ("50", "DT", "professional", True), ("89", "DE", "professional", False),
        ("99", "NT", "professional", True),
        ("59", "ILB", "professional", True), ("60", "OLB", "professional", False),
        ("90", "OLB", "professional", True),
        ("95", "K", "professional", True), ("60", "P", "professional", False),
        ("95", "LT", "college", False), ("5", "DE", "college", True), ("99", "QB", "college", True),
        ("00", "DE", "college", False), ("07", "QB", "college", False), ("0", "QB", "college", True),
        ("00", "DE", "high school", False), ("81", "RG", "high school", False),
        ("64", "DE", "high school", True),
        ("95", "LT", None, True), ("00", "DE", None, True),
    ],
)  # fmt: skip
def test_number_rules(jersey, position, level, allowed):
    assert (number_faults(jersey, position, level) == []) is allowed


def test_numbers_outside_the_rules_are_kept_and_pointed_out_with_the_rule(tmp_path, library):
    text = "No,Name,Pos\n95,Pavle Drum,LT\n00,Bo Fenn,DE\n63,Cy Ade,RG\n63,Dov Ire,C\n"
    done = import_roster(library, file(tmp_path, text), team="Tarn Hollow", season="2031", level="college")
    assert done.saved == {("Tarn Hollow", "2031"): 4}
    assert [str(rule) for rule in done.rules] == [
        "Line 2 (95 Pavle Drum LT): college rule 7-1-4: five men on the line wear 50 to 79, "
        "save in a kicking formation.",
        "Line 3 (00 Bo Fenn DE): college rule 1-4-2: a number with a leading zero is illegal.",
        "Line 5 (63 Dov Ire and Cy Ade): college rule 1-4-2: two men with one number may not play "
        "in the same down.",
    ]


def test_games_with_their_places_levels_and_seasons(tmp_path, library):
    text = (
        "Date,Opponent,Where,Class\n"
        "9/5/2031,@ Calder Falls,,HS\n"
        "Sep 12 2031,vs. Ebbing Point,,varsity\n"
        "1/9/2032,Norwick Tech,neutral site,\n"
        "soon,Salt Meadow,,\n"
        "9/26/2031,,home,\n"
        ",Upper Larch,moon,\n"
    )
    read = read_games(file(tmp_path, text))
    assert [(g.opponent, g.place, g.level, g.season) for g in read.games] == [
        ("Calder Falls", "away", "high school", "2031"),
        ("Ebbing Point", "home", "high school", "2031"),
        ("Norwick Tech", "neutral", None, "2031"),
    ]
    assert [problem.line for problem in read.problems] == [5, 6, 7]
    done = import_games(library, file(tmp_path, text), team="Tarn Hollow")
    assert (len(done.saved), done.new) == (3, 3)
    assert games(library)[0].team == "Tarn Hollow"


def test_importing_games_again_updates_them(tmp_path, library):
    first = import_games(library, file(tmp_path, "Date,Opponent\n2031-09-05,Calder Falls\n"))
    again = import_games(
        library, file(tmp_path, "Date,Opponent,Place\n2031-09-05,calder falls,H\n"), season="2031"
    )
    assert again.saved == first.saved
    assert again.new == 0
    assert [game.place for game in games(library)] == ["home"]


def test_no_games_is_a_sentence(tmp_path, library):
    with pytest.raises(InputError, match=r"No line of .* is a game with an opponent .Line 2"):
        import_games(library, file(tmp_path, "Date,Opponent\n2031-09-05,\n"))


def test_a_schedule_that_names_the_other_team_under_game(tmp_path):
    path = tmp_path / "schedule.csv"
    path.write_text(
        "Fall schedule\nGame,When,Site\n@ Calder Falls,9/3/2032,\nvs. Wexmoor,9/10/2032,Home\n,9/17/2032,\n"
    )
    read = read_games(path)
    assert [(g.opponent, g.place, g.title) for g in read.games] == [
        ("Calder Falls", "away", "Calder Falls 2032-09-03"),
        ("Wexmoor", "home", "Wexmoor 2032-09-10"),
    ]
    assert [p.line for p in read.problems] == [5]
