"""Two coaches' grade books joined: everything comes, nothing is lost, nothing comes twice."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reviewer import store
from reviewer.errors import InputError
from reviewer.records import GRADE_FIELDS, NoteContext, RosterEntry
from reviewer.store.films import NoteFilm, film_of, save_film
from reviewer.store.merge import clashes, merge, settle_all, settle_clash
from reviewer.store.merge_side import side_of
from reviewer.store.plays import Play, PlayMatch, matches_of, plays_of, save_matches, save_plays
from reviewer.store.saved import save_search, saved_searches
from tests.store.conftest import Clock
from tests.store.scene import BLOCKS, new_note, picture, scene


def opened(path: Path, who: str, day: int) -> store.Library:
    """A coach's grade book; no two coaches decide at the same moment."""
    library = store.Library.open(path)
    library.who = who
    clock = Clock()
    clock.moment = datetime(2026, 9, day, 8, 0, tzinfo=UTC) + timedelta(microseconds=day)
    library.clock = clock
    return library


@pytest.fixture
def mine(tmp_path: Path) -> Iterator[store.Library]:
    with opened(tmp_path / "mine.db", "Dana", 1) as library:
        yield library


@pytest.fixture
def theirs(tmp_path: Path) -> Iterator[store.Library]:
    with opened(tmp_path / "theirs.db", "Ruben", 2) as library:
        yield library


def dumped(library: store.Library) -> list[str]:
    """Everything in the file, ids and counters too."""
    assert library.path is not None
    with closing(sqlite3.connect(library.path)) as connection:
        return list(connection.iterdump())


def facts(library: store.Library) -> set[tuple[Any, ...]]:
    """What a grade book holds, without its ids, and without when the same thing was read or learned."""
    db = library.connection
    found: set[tuple[Any, ...]] = set()
    for number, digest, title in db.execute("SELECT id, digest, title FROM note").fetchall():
        side = side_of(library, number)
        found.add(("note", digest, title))
        found |= {("reading", digest, *r[:3], *r[4:]) for r in side.readings.values()}
        found |= {
            ("row", digest, side.digest(reading), grade)
            for said in side.grades.values()
            for reading, grade in said
        }
        found |= {("act", digest, *act.key, act.who) for act in side.acts}
        found |= {("event", digest, event.what, event.at, event.who) for event in side.events}
        found.add(("film", digest, str(film_of(library, number))))
        found |= {("match", digest, m.place, m.probability) for m in matches_of(library, number)}
    found |= {("team", team.name, team.own) for team in store.teams(library)}
    for team in store.teams(library):
        found |= {("spot", str(spot)) for spot in store.spots(library, team.name, "2026")}
    for game in store.games(library):
        found.add(("game", game.title, game.date, game.opponent, game.place))
        found |= {("play", game.title, str(play)) for play in plays_of(library, game.id)}
    found |= {("lesson", one.kind, one.term, one.form) for one in store.learned(library)}
    found |= {("search", one.typed) for one in saved_searches(library)}
    return found


def sound(library: store.Library) -> None:
    assert store.check(library) == []
    for number in (note.id for note in store.notes(library)):
        picture(library, number)


def copied(library: store.Library, path: Path, who: str, day: int) -> store.Library:
    store.backup(library, path)
    return opened(path, who, day)


def value(library: store.Library, field: str, place: int = 0) -> Any:
    return getattr(store.current_rows(library, 1)[place].current, field)


def fix(library: store.Library, place: int, **values: Any) -> None:
    store.set_fields(library, store.current_rows(library, 1)[place].id, values)


def full(library: store.Library, seed: int = 0) -> int:
    """A note with everything that can hang on it; returns its id."""
    roster = [RosterEntry("76", "Teo Brandvold", "RT", "own"), RosterEntry("64", "Ole Rask", "RG", "own")]
    store.save_roster(library, "Hollow Creek", "2026", roster[: 2 - seed], own=True)
    game = store.save_game(library, store.Game("Week 3", "2026", team="Hollow Creek", opponent="Pine Bluff"))
    save_plays(library, game, [Play(1, down=1, distance=10), Play(2, down=2, distance=4)])
    note = store.add_note(library, new_note(f"full{seed}", title=f"Week 3 {seed}", game_id=game), scene())
    row = store.current_rows(library, note)[0]
    save_matches(library, note, game, [PlayMatch(row.rep_id, 1, 0.97)])
    save_film(library, note, NoteFilm("film.mp4", "29.97", "", ((0.0, 4.0), (9.0, 14.5))))
    store.set_fields(library, row.id, {"verdict": "neutral"})
    store.learn(library, "form", "swim", "arm over the top", note=note, row=row.id)
    save_search(library, "beaten", "--verdict loss" if seed else "--verdict loss --phase pass")
    return note


def test_an_empty_library_takes_everything(mine: store.Library, theirs: store.Library) -> None:
    there = full(theirs)
    store.set_comment(theirs, store.current_rows(theirs, there)[2].id, "show this one")
    store.undo(theirs, there)
    before = picture(theirs, there)
    done = merge(mine, theirs)
    assert done.left == [] and done.clashes == 0
    assert facts(mine) == facts(theirs)
    assert picture(mine, 1) == before
    assert store.can_undo(mine, 1) == ("correct", "comment"), "what was undone there can come back here"
    again = store.redo(mine, 1)
    assert again is not None and store.current_rows(mine, 1)[2].comment == "show this one"
    sound(mine)


def test_merging_twice_changes_nothing(mine: store.Library, theirs: store.Library) -> None:
    full(mine)
    full(theirs, 1)
    store.add_note(theirs, new_note("full0", title="Week 3 0", game_id=1), scene())
    fix(theirs, 1, verdict="win")
    assert not merge(mine, theirs).nothing_new
    sound(mine)
    once = dumped(mine)
    again = merge(mine, theirs)
    assert again.nothing_new and again.added == {}
    assert dumped(mine) == once


def test_a_dry_run_counts_and_changes_nothing(mine: store.Library, theirs: store.Library) -> None:
    full(mine)
    full(theirs, 1)
    before = dumped(mine)
    tried = merge(mine, theirs, dry_run=True)
    assert tried.added["notes"] == 1 and tried.added["decisions"] == 1 and tried.added["rows"] == 4
    assert dumped(mine) == before
    assert merge(mine, theirs) == tried


def test_both_ways_give_the_same_facts(tmp_path: Path, mine: store.Library, theirs: store.Library) -> None:
    full(mine)
    full(theirs, 1)
    for library in (mine, theirs):
        store.add_note(library, new_note("both"), scene())
    both = store.find_note(mine, "both", new_note().context)
    assert both is not None
    store.set_fields(mine, store.current_rows(mine, both)[1].id, {"verdict": "neutral"})
    other = store.find_note(theirs, "both", new_note().context)
    assert other is not None
    store.set_fields(theirs, store.current_rows(theirs, other)[1].id, {"verdict": "win"})
    store.set_confirmed(theirs, store.current_rows(theirs, other)[2].id)
    with copied(mine, tmp_path / "mine2.db", "Dana", 3) as one:
        merge(one, theirs)
        with copied(theirs, tmp_path / "theirs2.db", "Ruben", 4) as two:
            merge(two, mine)
            assert facts(one) == facts(two)
            assert len(clashes(one)) == len(clashes(two)) == 1
            sound(one)
            sound(two)


@pytest.fixture
def shared(tmp_path: Path, mine: store.Library) -> Iterator[store.Library]:
    """The other coach's book, with the same note as mine."""
    store.add_note(mine, new_note(), scene())
    with copied(mine, tmp_path / "shared.db", "Ruben", 5) as library:
        yield library


def test_what_one_of_them_decided_holds_with_whose_it_is(mine: store.Library, shared: store.Library) -> None:
    fix(mine, 0, verdict="neutral")
    fix(shared, 1, faults=["lunge"])
    store.set_confirmed(shared, store.current_rows(shared, 1)[3].id)
    store.refuse_mend(shared, 1, "oversets", "over sets")
    assert merge(mine, shared).added == {"decisions": 3}
    assert value(mine, "verdict") == "neutral" and value(mine, "faults", 1) == ["lunge"]
    assert store.current_rows(mine, 1)[3].confirmed
    assert store.refused_mends(mine, 1) == {("oversets", "over sets")}
    assert [(c.field, c.who) for c in store.note_history(mine, 1)][:2] == [
        ("faults", "Ruben"), ("confirmed", "Ruben"),
    ]  # fmt: skip
    assert clashes(mine) == []
    sound(mine)


def test_two_who_decide_alike_do_not_clash(mine: store.Library, shared: store.Library) -> None:
    for library in (mine, shared):
        fix(library, 0, verdict="loss")
    assert merge(mine, shared).clashes == 0
    assert {c.who for c in store.note_history(mine, 1)} == {"Dana", "Ruben"}


def test_a_clash_is_listed_mine_stays_and_it_can_be_settled(
    mine: store.Library, shared: store.Library
) -> None:
    fix(mine, 0, verdict="neutral")
    fix(shared, 0, verdict="loss", finish="-")
    assert merge(mine, shared).clashes == 1
    assert (value(mine, "verdict"), value(mine, "finish")) == ("neutral", "-")
    [clash] = clashes(mine)
    assert (clash.field, clash.mine, clash.theirs, clash.mine_who, clash.theirs_who, clash.rep) == (
        "verdict", "neutral", "loss", "Dana", "Ruben", 1,
    )  # fmt: skip
    settle_clash(mine, clash.id, "theirs")
    assert value(mine, "verdict") == "loss" and clashes(mine) == []
    store.undo(mine, 1)
    assert value(mine, "verdict") == "neutral" and clashes(mine) == [clash], "taking back opens it again"
    settle_clash(mine, clash.id, "mine")
    assert value(mine, "verdict") == "neutral" and clashes(mine) == []
    with pytest.raises(InputError, match=r"There is no open clash 1; `reviewer merge` lists"):
        settle_clash(mine, clash.id, "mine")
    sound(mine)


def test_fixing_the_value_later_settles_it_too(mine: store.Library, shared: store.Library) -> None:
    fix(mine, 0, verdict="neutral")
    fix(shared, 0, verdict="loss")
    merge(mine, shared)
    fix(mine, 0, verdict="win")
    assert clashes(mine) == []


@pytest.mark.parametrize(("take", "verdict"), [("mine", "neutral"), ("theirs", "loss")])
def test_a_settled_clash_is_settled_for_the_other_too(
    mine: store.Library, shared: store.Library, take: Any, verdict: str
) -> None:
    fix(mine, 0, verdict="neutral")
    fix(shared, 0, verdict="loss")
    merge(mine, shared)
    merge(shared, mine)
    assert value(shared, "verdict") == "loss" and len(clashes(shared)) == 1, "an open one stays open there"
    assert merge(mine, shared).nothing_new
    assert value(mine, "verdict") == "neutral"
    assert settle_all(mine, take) == 1
    merge(shared, mine)
    assert value(shared, "verdict") == verdict and clashes(shared) == []
    assert facts(mine) == facts(shared)
    sound(shared)


def test_who_saw_the_others_decision_decides_over_it(mine: store.Library, shared: store.Library) -> None:
    fix(mine, 0, verdict="neutral")
    merge(shared, mine)
    fix(shared, 0, verdict="loss")
    done = merge(mine, shared)
    assert done.clashes == 0 and value(mine, "verdict") == "loss"
    store.set_fields(mine, store.current_rows(mine, 1)[0].id, {"verdict": "win"})
    assert merge(mine, shared).nothing_new and value(mine, "verdict") == "win"


def test_what_was_undone_there_is_undone_here(mine: store.Library, shared: store.Library) -> None:
    fix(mine, 0, verdict="neutral")
    merge(shared, mine)
    store.undo(shared, 1)
    assert merge(mine, shared).added == {"undone": 1}
    assert value(mine, "verdict") == "win"
    sound(mine)
    assert merge(mine, shared).nothing_new


def test_reps_cut_by_one_of_them(mine: store.Library, shared: store.Library) -> None:
    rep = store.state_of(shared, 1).reps[1].id
    _, _ = store.split_rep(shared, rep, 22)
    store.set_fields(shared, store.current_rows(shared, 1)[2].id, {"verdict": "win"})
    fix(mine, 0, verdict="neutral")
    assert merge(mine, shared).clashes == 0
    assert [row.current.rep for row in store.current_rows(mine, 1)] == [1, 2, 3, 4, 4]
    assert value(mine, "verdict", 2) == "win" and value(mine, "verdict") == "neutral"
    sound(mine)
    assert merge(mine, shared).nothing_new


def test_reps_cut_by_both(mine: store.Library, shared: store.Library) -> None:
    rep = store.state_of(shared, 1).reps[1].id
    store.split_rep(mine, rep, 21)
    store.split_rep(shared, rep, 24, rows=[{"player": "64", "verdict": "win"}])
    fix(shared, 0, verdict="neutral")
    before, there = picture(mine, 1), picture(shared, 1)
    assert merge(mine, shared).clashes == 1
    assert value(mine, "verdict") == "neutral", "what is no cut holds"
    assert picture(mine, 1)["reps"] == before["reps"]
    [clash] = clashes(mine)
    assert (clash.field, clash.mine, clash.theirs) == ("reps", 4, 4)
    sound(mine)
    assert merge(mine, shared).nothing_new
    settle_clash(mine, clash.id, "theirs")
    assert [cut for _, _, cut in picture(mine, 1)["reps"]] == [cut for _, _, cut in there["reps"]]
    assert value(mine, "player", 2) == "64"
    assert clashes(mine) == []
    sound(mine)
    store.undo(mine, 1)
    assert picture(mine, 1)["reps"] == before["reps"] and clashes(mine) == [clash]
    settle_clash(mine, clash.id, "mine")
    assert clashes(mine) == []


def test_a_row_they_fixed_and_i_deleted(mine: store.Library, shared: store.Library) -> None:
    store.delete_row(mine, store.current_rows(mine, 1)[1].id)
    fix(shared, 1, verdict="neutral")
    assert merge(mine, shared).clashes == 1
    assert len(store.current_rows(mine, 1)) == 3
    [clash] = clashes(mine)
    assert (clash.field, clash.theirs_who) == ("row", "Ruben")
    settle_clash(mine, clash.id, "theirs")
    assert value(mine, "verdict", 1) == "neutral" and clashes(mine) == []
    sound(mine)


def test_a_row_they_deleted_and_i_fixed(mine: store.Library, shared: store.Library) -> None:
    store.delete_row(shared, store.current_rows(shared, 1)[1].id)
    fix(mine, 1, verdict="neutral")
    assert merge(mine, shared).clashes == 1
    assert value(mine, "verdict", 1) == "neutral", "what I decided is never taken away unasked"
    assert [clash.field for clash in clashes(mine)] == ["reps"]
    sound(mine)


def test_the_same_recording_read_by_another_model(mine: store.Library, theirs: store.Library) -> None:
    """Rows are told by time and player, so a fix there is a fix here."""
    store.add_note(mine, new_note(), scene())
    heard = scene((*BLOCKS, (4, "Last one he pancakes the end", ({"player": "76", "verdict": "win"},))))
    store.add_note(theirs, new_note(model="other"), heard)
    fix(theirs, 1, faults=["lunge"])
    fix(theirs, 4, labels=["teach"])
    done = merge(mine, theirs)
    assert value(mine, "faults", 1) == ["lunge"]
    assert len(store.current_rows(mine, 1)) == 4, "mine is the reading in force"
    assert len(store.readings_of(mine, 1)) == 2
    assert done.left == ["Second half: 1 rows that only their reading has are kept, not shown."]
    [clash] = clashes(mine)
    assert clash.field == "row" and done.clashes == 1
    sound(mine)
    assert merge(mine, theirs).nothing_new
    settle_clash(mine, clash.id, "theirs")
    assert value(mine, "labels", 4) == ["teach"] and clashes(mine) == []
    sound(mine)


def test_read_again_by_one_of_them(mine: store.Library, shared: store.Library) -> None:
    again = scene((*BLOCKS, (4, "Last one he pancakes the end", ({"player": "76", "verdict": "win"},))))
    fix(mine, 0, verdict="neutral")
    store.add_reading(shared, 1, again, model="better")
    fix(shared, 4, labels=["teach"])
    done = merge(mine, shared)
    assert done.clashes == 0 and value(mine, "labels", 4) == ["teach"] and value(mine, "verdict") == "neutral"
    assert store.note(mine, 1).model == "better"
    sound(mine)
    assert merge(mine, shared).nothing_new


def test_read_again_by_both(mine: store.Library, shared: store.Library) -> None:
    for library, model in ((mine, "one"), (shared, "two")):
        store.add_reading(
            library, 1, scene((*BLOCKS, (4, f"And {model} more", ({"player": "76"},)))), model=model
        )
    fix(shared, 0, verdict="neutral")
    before = picture(mine, 1)["reps"]
    merge(mine, shared)
    assert store.note(mine, 1).model == "one" and picture(mine, 1)["reps"] == before
    assert value(mine, "verdict") == "neutral"
    assert [clash.field for clash in clashes(mine)] == ["reps"]
    sound(mine)
    assert merge(mine, shared).nothing_new
    settle_all(mine, "theirs")
    assert store.note(mine, 1).model == "two"
    assert [r.current.verdict for r in store.current_rows(mine, 1)] == [
        r.current.verdict for r in store.current_rows(shared, 1)
    ]
    sound(mine)


def test_what_is_otherwise_there_is_told_and_mine_stays(mine: store.Library, theirs: store.Library) -> None:
    full(mine)
    full(theirs)
    store.save_roster(theirs, "Hollow Creek", "2026", [RosterEntry("76", "Teo Brandvold", "LT", "own")])
    save_plays(theirs, 1, [Play(1, down=3, distance=3)])
    save_film(theirs, 1, NoteFilm("film.mp4", "25", "", ()))
    store.rename_note(theirs, 1, "Pine Bluff at home")
    done = merge(mine, theirs)
    assert sorted(done.left) == [
        "Number 76 of 2026 plays LT there; yours stays RT.",
        "The film of Week 3 0 has other marks there; yours stay.",
        "The note Pine Bluff at home has another title here; it stays.",
        "The play list of Week 3 is another one there; yours stays.",
    ]
    assert store.note(mine, 1).title == "Week 3 0"
    assert len(plays_of(mine, 1)) == 2


def test_saved_searches_of_one_name_both_stay(mine: store.Library, theirs: store.Library) -> None:
    save_search(mine, "Beaten", "--verdict loss")
    save_search(theirs, "beaten", "overset")
    for _ in range(2):
        merge(mine, theirs)
    assert [(s.name, s.typed) for s in saved_searches(mine)] == [
        ("Beaten", "--verdict loss"), ("beaten (2)", "overset"),
    ]  # fmt: skip


def test_games_are_the_same_by_date_and_opponent(mine: store.Library, theirs: store.Library) -> None:
    day = datetime(2026, 9, 12, tzinfo=UTC).date()
    store.save_game(mine, store.Game("Week 3", "2026", day, "Hollow Creek", "Pine Bluff"))
    store.save_game(theirs, store.Game("At home", "2026", day, "Hollow Creek", "pine bluff", "home"))
    store.save_game(theirs, store.Game("Week 3", "2025", None, "Hollow Creek", "Pine Bluff"))
    done = merge(mine, theirs)
    assert sorted((g.title, g.season, g.place) for g in store.games(mine)) == [
        ("Week 3", "2025", None), ("Week 3", "2026", "home"),
    ]  # fmt: skip
    assert done.left == ["The game Week 3 has another title there; yours stays."]


def test_the_same_talk_in_another_game_is_another_note(mine: store.Library, theirs: store.Library) -> None:
    for library in (mine, theirs):
        store.add_note(library, new_note(), scene())
    other = NoteContext(player="64", position="RG")
    store.add_note(theirs, new_note(context=other), scene())
    assert merge(mine, theirs).added["notes"] == 1
    assert [note.slug for note in store.notes(mine)] == ["second-half-2", "second-half"]


def test_two_coaches_of_one_name_are_told_apart(mine: store.Library, shared: store.Library) -> None:
    shared.who = "Dana"
    fix(shared, 0, verdict="loss")
    merge(mine, shared, whose={"Dana": "Ruben"})
    assert [c.who for c in store.note_history(mine, 1)] == ["Ruben"]
    assert merge(mine, shared).nothing_new


def test_a_merge_that_fails_at_the_end_leaves_nothing(mine: store.Library, shared: store.Library) -> None:
    fix(shared, 0, verdict="loss")
    before = dumped(mine)

    def refuse(_done: object) -> None:
        raise InputError("the disk is full")

    with pytest.raises(InputError, match="the disk is full"):
        merge(mine, shared, before=refuse)
    assert dumped(mine) == before


def test_a_window_that_is_open_sees_what_came(mine: store.Library, shared: store.Library) -> None:
    """The review holds a revision: writing over what a merge brought is a conflict, as from any window."""
    row = store.current_rows(mine, 1)[0].id
    seen = store.revision_of(mine, 1)
    fix(shared, 0, verdict="loss")
    merge(mine, shared)
    with pytest.raises(store.Conflict):
        store.set_fields(mine, row, {"verdict": "neutral"}, seen=seen)
    assert store.set_fields(mine, row, {"finish": "+"}, seen=seen).merged


def test_a_library_is_not_merged_into_itself(mine: store.Library) -> None:
    with pytest.raises(InputError, match="cannot be merged into itself"):
        merge(mine, mine)


STEP = st.tuples(
    st.sampled_from(["mine", "theirs"]),
    st.sampled_from(["fix", "confirm", "undo", "redo", "delete", "split", "merge", "comment"]),
    st.integers(0, 3),
    st.sampled_from(["win", "loss", "neutral"]),
)


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(STEP, max_size=14))
def test_whatever_two_coaches_do_both_books_stay_sound(tmp_path: Path, steps: list[tuple[Any, ...]]) -> None:
    """And merging again in either direction brings nothing once both have merged."""
    for old in tmp_path.glob("*.db*"):
        old.unlink()
    with opened(tmp_path / "one.db", "Dana", 1) as one:
        store.add_note(one, new_note(), scene())
        with copied(one, tmp_path / "two.db", "Ruben", 2) as two:
            for side, what, place, verdict in steps:
                library, other = (one, two) if side == "mine" else (two, one)
                _step(library, other, what, place, verdict)
            merge(one, two)
            merge(two, one)
            for library, other in ((one, two), (two, one)):
                assert store.check(library) == []
                for clash in clashes(library):
                    if clash.field in GRADE_FIELDS and clash.row is not None:
                        row = next(r for r in store.current_rows(library, 1) if r.id == clash.row)
                        assert getattr(row.current, clash.field) == clash.mine
                again = dumped(library)
                merge(library, other)
                assert dumped(library) == again
            assert facts(one) == facts(two)


def _step(library: store.Library, other: store.Library, what: str, place: int, verdict: str) -> None:
    rows = store.current_rows(library, 1)
    if what in ("undo", "redo"):
        getattr(store, what)(library, 1)
    elif what == "merge":
        merge(library, other)
    elif rows:
        row = rows[place % len(rows)]
        if what == "fix":
            store.set_fields(library, row.id, {"verdict": verdict})
        elif what == "confirm":
            store.set_confirmed(library, row.id, not row.confirmed)
        elif what == "comment":
            store.set_comment(library, row.id, verdict)
        elif what == "delete":
            store.delete_row(library, row.id)
        else:
            rep = store.state_of(library, 1).rep(row.rep_id)
            if rep and rep.stretches and rep.stretches[0][1] - rep.stretches[0][0] > place + 2:
                store.split_rep(library, rep.id, rep.stretches[0][0] + place + 1)
