"""One's own players, one at a time."""

from __future__ import annotations

from datetime import date

import pytest

from reviewer.errors import InputError
from reviewer.records import RosterEntry
from reviewer.store import Library, RosterSaved, save_roster, save_team, spots
from reviewer.store.players import add_player, last_season, men_of, own_team, rename_player, retire_player

TEAM, YEAR = "Tarn Hollow", "2031"


def man(jersey: str, name: str, position: str = "LT") -> RosterEntry:
    return RosterEntry(jersey, name, position, "own")


@pytest.fixture
def roster(library: Library) -> Library:
    saved = save_roster(
        library, TEAM, YEAR, [man("74", "Halvard Quist"), man("66", "Ignace Bellot")], own=True
    )
    assert saved == RosterSaved(2, 0, 0)
    return library


def standing(library: Library) -> list[tuple[str, str, date | None, date | None]]:
    return [(s.entry.jersey, s.entry.name, s.since, s.until) for s in spots(library, TEAM, YEAR)]


def test_a_first_player_makes_the_team(library: Library) -> None:
    assert add_player(library, TEAM, YEAR, man("74", " Halvard  Quist ")) == []
    assert standing(library) == [("74", "Halvard Quist", None, None)]
    assert own_team(library) == TEAM
    assert last_season(library, TEAM) == YEAR


def test_adding_leaves_the_others(roster: Library) -> None:
    day = date(2031, 10, 13)
    beside = add_player(roster, TEAM, YEAR, man("66", "Corwin Tabbert"), day)
    assert [s.entry.name for s in beside] == ["Ignace Bellot"]
    assert standing(roster) == [
        ("66", "Ignace Bellot", None, None),
        ("66", "Corwin Tabbert", day, None),
        ("74", "Halvard Quist", None, None),
    ]
    with pytest.raises(InputError, match="with 66 already"):
        add_player(roster, TEAM, YEAR, man("66", "ignace bellot"))


@pytest.mark.parametrize(("jersey", "name"), [("100", "A"), ("x", "A"), ("²", "A"), ("7", "  ")])
def test_no_number_or_no_name_saves_nothing(roster: Library, jersey: str, name: str) -> None:
    before = standing(roster)
    with pytest.raises(InputError):
        add_player(roster, TEAM, YEAR, man(jersey, name))
    assert standing(roster) == before


def test_a_name_is_corrected_in_every_season(roster: Library) -> None:
    save_roster(roster, TEAM, "2032", [man("75", "Halvard Quist")])
    rename_player(roster, TEAM, "Halvard Quist", "halvard  quist-ohm")
    assert spots(roster, TEAM, "2032")[0].entry.name == "halvard quist-ohm"
    rename_player(roster, TEAM, "halvard quist-ohm", "Halvard Quist-Ohm")
    assert standing(roster)[1][1] == "Halvard Quist-Ohm"
    with pytest.raises(InputError, match="Another man of Tarn Hollow is called ignace bellot"):
        rename_player(roster, TEAM, "Halvard Quist-Ohm", "ignace bellot")
    with pytest.raises(InputError, match="needs a name"):
        rename_player(roster, TEAM, "Halvard Quist-Ohm", " ")


def test_a_retired_man_keeps_his_number_up_to_that_day(roster: Library) -> None:
    day = date(2031, 11, 1)
    retire_player(roster, TEAM, YEAR, "Halvard Quist", day)
    assert standing(roster)[1] == ("74", "Halvard Quist", None, day)
    with pytest.raises(InputError, match="off the roster of Tarn Hollow, 2031 already"):
        retire_player(roster, TEAM, YEAR, "Halvard Quist", day)
    add_player(roster, TEAM, YEAR, man("74", "Pavle Drummond"), day)
    with pytest.raises(InputError, match="give a later day"):
        retire_player(roster, TEAM, YEAR, "Pavle Drummond", day)
    # the number alone means the man who wears it now
    assert men_of(roster, TEAM, YEAR, "74")[0].entry.name == "Pavle Drummond"


def test_who_is_meant(roster: Library) -> None:
    assert men_of(roster, TEAM, YEAR, "74")[0].entry.name == "Halvard Quist"
    assert men_of(roster, TEAM, YEAR, "bell")[0].entry.name == "Ignace Bellot"
    with pytest.raises(InputError, match="fits Ignace Bellot, Halvard Quist; give one man's name"):
        men_of(roster, TEAM, YEAR, "l")
    for nobody in ("99", "", "Zed"):
        with pytest.raises(InputError, match="there are: 66 Ignace Bellot, 74 Halvard Quist"):
            men_of(roster, TEAM, YEAR, nobody)


def test_whose_player(library: Library) -> None:
    with pytest.raises(InputError, match="no team is yours yet"):
        own_team(library)
    save_team(library, TEAM, own=True)
    save_team(library, "Calder Falls")
    assert own_team(library, "tarn hollow") == TEAM
    with pytest.raises(InputError, match="is not a team of yours"):
        own_team(library, "Calder Falls")
    save_team(library, "Tarn Hollow B", own=True)
    with pytest.raises(InputError, match="there are Tarn Hollow, Tarn Hollow B"):
        own_team(library)
    assert last_season(library, TEAM) is None
