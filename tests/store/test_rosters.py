"""Teams, rosters whose numbers change hands, and games."""

from __future__ import annotations

from datetime import date

import pytest

from reviewer import store
from reviewer.errors import InputError
from reviewer.records import RosterEntry
from tests.store.scene import new_note, scene

OWN = [
    RosterEntry("76", "Teo Brandvold", "RT", "own"),
    RosterEntry("64", "Ilya Marsh", "RG", "own"),
    RosterEntry("0", "Dane Orrin", "WR", "own"),
    RosterEntry("00", "Pell Varga", "CB", "own"),
]
OPP = [RosterEntry("94", "Rook Ellery", "DE", "opp"), RosterEntry("57", "Sam Quist", "LB", "opp")]


def jerseys(entries: tuple[RosterEntry, ...]) -> list[tuple[str, str]]:
    return [(entry.jersey, entry.name) for entry in entries]


def test_a_roster_comes_back_by_number(library: store.Library) -> None:
    saved = store.save_roster(library, "Cedar Ridge", "2026", OWN, own=True)
    assert (saved.added, saved.kept, saved.ended) == (4, 0, 0)
    roster = store.roster_for(library, "cedar  ridge", "2026")
    assert [entry.jersey for entry in roster] == ["0", "00", "64", "76"], "0 and 00 are two numbers"
    assert set(roster) == set(OWN)
    assert store.roster_for(library, "Cedar Ridge", "2025") == ()
    assert store.roster_for(library, "Nobody", "2026") == ()
    assert [(team.name, team.own) for team in store.teams(library)] == [("Cedar Ridge", True)]


def test_saving_again_replaces_the_season_only(library: store.Library) -> None:
    store.save_roster(library, "Cedar Ridge", "2025", OWN, own=True)
    store.save_roster(library, "Cedar Ridge", "2026", OWN)
    saved = store.save_roster(library, "Cedar Ridge", "2026", OWN[:2])
    assert (saved.added, saved.ended) == (2, 4)
    assert len(store.roster_for(library, "Cedar Ridge", "2026")) == 2
    assert len(store.roster_for(library, "Cedar Ridge", "2025")) == 4


def test_a_number_changes_hands(library: store.Library) -> None:
    store.save_roster(library, "Cedar Ridge", "2026", OWN, own=True)
    later = [RosterEntry("76", "Bo Farrant", "RT", "own"), *OWN[1:]]
    saved = store.save_roster(library, "Cedar Ridge", "2026", later, since=date(2026, 10, 1))
    assert (saved.added, saved.kept, saved.ended) == (1, 3, 1)

    def wearer(day: date | None) -> list[str]:
        return [e.name for e in store.roster_for(library, "Cedar Ridge", "2026", day) if e.jersey == "76"]

    assert wearer(date(2026, 9, 30)) == ["Teo Brandvold"]
    assert wearer(date(2026, 10, 1)) == ["Bo Farrant"]
    assert wearer(None) == ["Bo Farrant"]
    held = [spot for spot in store.spots(library, "Cedar Ridge", "2026") if spot.entry.jersey == "76"]
    assert [(s.entry.name, s.since, s.until) for s in held] == [
        ("Teo Brandvold", None, date(2026, 10, 1)),
        ("Bo Farrant", date(2026, 10, 1), None),
    ]
    store.save_roster(library, "Cedar Ridge", "2026", OWN, since=date(2026, 10, 1))
    assert wearer(date(2026, 10, 1)) == ["Teo Brandvold"], "a spot that ended on its first day never was"


def test_two_men_may_share_a_number(library: store.Library) -> None:
    """NCAA 1-4-2-b (copy of the rules seen): no two alike of one team, but only in the same down."""
    both = [RosterEntry("7", "Al Dunn", "QB", "own"), RosterEntry("7", "Cy Dace", "CB", "own")]
    store.save_roster(library, "Cedar Ridge", "2026", [*both, both[0]], own=True)
    assert jerseys(store.roster_for(library, "Cedar Ridge", "2026")) == [("7", "Al Dunn"), ("7", "Cy Dace")]


@pytest.mark.parametrize("jersey", ["", "100", "7a", "-1", "７"])
def test_no_jersey_number(library: store.Library, jersey: str) -> None:
    store.save_roster(library, "Cedar Ridge", "2026", OWN, own=True)
    with pytest.raises(
        InputError, match=f"'{jersey}' is no jersey number \\(0 to 99, or 00\\) in the roster of Elm Fork"
    ):
        store.save_roster(library, "Elm Fork", "2026", [*OPP, RosterEntry(jersey, "X", "DE", "opp")])
    assert [team.name for team in store.teams(library)] == ["Cedar Ridge"], "nothing half written"


def test_a_game_brings_both_rosters(library: store.Library) -> None:
    store.save_roster(library, "Cedar Ridge", "2026", OWN, own=True)
    store.save_roster(library, "Elm Fork", "2026", OPP)
    game = store.Game("Week 3", "2026", date(2026, 9, 18), "Cedar Ridge", "Elm Fork", "away", "college")
    number = store.save_game(library, game)
    assert store.game_of(library, number) == store.Game(**{**vars(game), "id": number})
    roster = store.roster_for_game(library, number)
    assert [(e.jersey, e.side) for e in roster] == [
        ("0", "own"), ("00", "own"), ("64", "own"), ("76", "own"), ("57", "opp"), ("94", "opp"),
    ]  # fmt: skip


def test_a_note_knows_its_game(library: store.Library, note: int) -> None:
    store.save_roster(library, "Elm Fork", "2026", OPP)
    game = store.save_game(library, store.Game("Week 3", "2026", opponent="Elm Fork"))
    store.assign_game(library, note, game)
    assert jerseys(store.context_of(library, note).roster) == [("57", "Sam Quist"), ("94", "Rook Ellery")]
    assert (
        [n.id for n in store.notes(library, game=game)]
        == [n.id for n in store.notes(library, season="2026")]
        == [note]
    )
    assert store.notes(library, season="2025") == []
    store.delete_game(library, game)
    assert store.note(library, note).game_id is None
    assert store.games(library) == []
    with pytest.raises(InputError, match=f"There is no game {game}"):
        store.assign_game(library, note, game)


def test_the_same_content_cannot_be_two_notes_of_one_game(library: store.Library, note: int) -> None:
    game = store.save_game(library, store.Game("Week 3", "2026"))
    other = store.add_note(library, new_note(game_id=game), scene())
    assert other != note
    with pytest.raises(InputError, match="Another note of that game has the same content as 'Second half'"):
        store.assign_game(library, note, game)
    assert store.note(library, note).game_id is None


def test_games_newest_first(library: store.Library) -> None:
    for title, season, day in (
        ("A", "2025", date(2025, 9, 5)),
        ("B", "2026", date(2026, 9, 4)),
        ("C", "2026", date(2026, 9, 11)),
    ):
        store.save_game(library, store.Game(title, season, day, opponent=f"Team {title}"))
    assert [game.title for game in store.games(library)] == ["C", "B", "A"]
    assert [game.title for game in store.games(library, "2025")] == ["A"]
    assert [game.title for game in store.find_games(library, "team b")] == ["B"]
    assert [game.title for game in store.find_games(library, "c", "2026")] == ["C"]
    assert store.find_games(library, "c", "2025") == []


@pytest.mark.parametrize(("title", "season"), [("", "2026"), ("Week 1", " ")])
def test_a_game_needs_title_and_season(library: store.Library, title: str, season: str) -> None:
    with pytest.raises(InputError, match="A game needs a title and a season"):
        store.save_game(library, store.Game(title, season))


def test_a_team_needs_a_name(library: store.Library) -> None:
    with pytest.raises(InputError, match="A team needs a name"):
        store.save_team(library, "  ")


def test_learned_forms(library: store.Library, note: int, rows: list[int]) -> None:
    first = store.learn(library, "form", "swim", "over  the top", note=note, row=rows[1])
    assert store.learn(library, "form", "swim", "Over the top") == first
    store.learn(library, "habit", "player", "my left side")
    assert [(k.kind, k.term, k.form, k.note, k.row) for k in store.learned(library)] == [
        ("habit", "player", "my left side", None, None),
        ("form", "swim", "over the top", note, rows[1]),
    ]
    assert [k.id for k in store.learned(library, "form")] == [first]
    store.forget(library, first)
    assert store.learned(library, "form") == []
    with pytest.raises(InputError, match=f"Nothing learned has the number {first}"):
        store.forget(library, first)
    with pytest.raises(InputError, match="needs the term and the words"):
        store.learn(library, "form", "swim", " ")
