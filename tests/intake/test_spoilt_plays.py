"""Play lists with plays missing, doubled, out of order, without times and with other clocks, laid beside
the sample season's notes as they were first read."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

from reviewer.intake.beside import SURE, lay_beside
from reviewer.intake.clocks import packed, read_clock, with_quarter
from reviewer.intake.play_order import follows, in_order
from reviewer.intake.plays import read_plays
from reviewer.intake.tables import Problem
from reviewer.store.plays import Play
from tests.intake.spoilt import (
    Lines,
    clock,
    doubled,
    drives_moved,
    missing,
    neighbours_swapped,
    read,
    shuffled,
    slips,
    without,
    write,
)
from tests.intake.test_plays import SEASON, concept_of, season_note

Step = Callable[[Lines, random.Random], Lines]
GAMES = sorted((SEASON / "plays").glob("*.csv"))
NO_TIMES = without("Play", "Qtr", "Clock", "Film")


@dataclass
class Counted:
    """Reps of twelve notes. listed: whose play the list still has; sure: matched surely; right: of these,
    with the play that it was; stray: whose play the list has lost; any_right: matched rightly, surely or
    not."""

    listed: int = 0
    sure: int = 0
    right: int = 0
    stray: int = 0
    any_right: int = 0


def laid(tmp_path: Path, steps: Sequence[Step]) -> Counted:
    dice, count = random.Random(7), Counted()
    for number, game in enumerate(GAMES):
        reps, _, truth = season_note(number)
        # the true number rides along in a column that no heading of a list is like
        lines = [{**line, "~": line["Play"]} for line in read(game)]
        for step in steps:
            lines = step(lines, dice)
        plays = read_plays(write(tmp_path / game.name, lines), concept_of).plays
        really = {play.place: int(lines[play.line - 2]["~"]) for play in plays}
        on_list = set(really.values())
        count.listed += sum(truth[rep.rep_id] in on_list for rep in reps)
        for match in lay_beside(reps, plays).matches:
            right = really[match.place] == truth[match.rep_id]
            count.any_right += right
            if match.probability >= SURE:
                count.sure += 1
                count.right += right
                count.stray += truth[match.rep_id] not in on_list
    return count


@pytest.mark.parametrize(
    ("steps", "right_of_sure", "found"),
    # least share of the sure matches that are right, least share of the listed reps surely matched
    [
        pytest.param([NO_TIMES], 1.0, 0.75, id="no times"),
        pytest.param([missing, NO_TIMES], 0.95, 0.70, id="missing, no times"),
        pytest.param([doubled, NO_TIMES], 0.98, 0.68, id="doubled, no times"),
        pytest.param([drives_moved, NO_TIMES], 0.97, 0.65, id="drives elsewhere, no times"),
        pytest.param([missing, doubled, shuffled, slips], 0.95, 0.70, id="everything, film times"),
        pytest.param(
            [missing, doubled, neighbours_swapped, slips, NO_TIMES], 0.92, 0.65, id="everything, no times"
        ),
    ],
)
def test_what_is_surely_matched_is_right(tmp_path, steps, right_of_sure, found):
    count = laid(tmp_path, steps)
    assert count.right >= right_of_sure * count.sure
    assert count.right >= found * count.listed
    assert count.stray <= 0.04 * 264


def test_a_list_in_no_order_at_all_fills_hardly_anything(tmp_path):
    count = laid(tmp_path, [shuffled, NO_TIMES])
    assert count.sure - count.right <= 1
    assert count.any_right >= 0.5 * count.listed  # by its looks alone


@pytest.mark.parametrize("kept", [("Film",), ("Qtr", "Clock"), ("Play",)], ids=str)
def test_any_of_its_times_puts_a_shuffled_list_in_order(tmp_path, kept):
    lines = read(GAMES[0])
    gone = without(*({"Play", "Qtr", "Clock", "Film"} - set(kept)))
    mixed = shuffled(lines, random.Random(1))
    found = read_plays(write(tmp_path / "plays.csv", gone(mixed, random.Random(1))), concept_of)
    order = [mixed[play.line - 2]["Play"] for play in found.plays]
    assert order == [line["Play"] for line in lines]
    assert "put in that order" in str(found.problems[-1])


def test_a_list_in_no_order_says_so(tmp_path):
    mixed = NO_TIMES(shuffled(read(GAMES[0]), random.Random(1)), random.Random(1))
    found = read_plays(write(tmp_path / "plays.csv", mixed), concept_of)
    assert "in no order of play" in str(found.problems[-1])
    assert not follows(found.plays)


def test_lines_there_twice_are_taken_once_and_named(tmp_path):
    lines = read(GAMES[0])
    twice = [*lines[:10], lines[4], *lines[10:]]
    found = read_plays(write(tmp_path / "plays.csv", twice), concept_of)
    assert len(found.plays) == len(lines)
    assert "Line 12 (play 5): the same play as in line 6; left out." in map(str, found.problems)


def test_plays_that_only_look_alike_stay(tmp_path):
    (tmp_path / "plays.csv").write_text("Dn,Dist,Type\n1,10,Run\n1,10,Run\n", "utf-8")
    assert len(read_plays(tmp_path / "plays.csv").plays) == 2


@pytest.mark.parametrize(
    "form",
    [
        lambda m, s: f"{m:02}:{s:02}",
        lambda m, s: f"{m:02}:{s:02}:00",
        lambda m, s: f"{m or 12}:{s:02}:00 {'PM' if m == 12 else 'AM'}",
        lambda m, s: f"{m}:{s:02}.0",
        lambda m, s: f"{m}{s:02}",
        lambda m, s: f"{60 * m + s}",
        lambda m, s: f"{m}m {s}s",
        lambda m, s: f"{m}:{s:02}" if m else f":{s:02}",
    ],
    ids=["07:41", "07:41:00", "7:41 AM", "7:41.0", "741", "461", "7m 41s", ":41"],
)
def test_clocks_in_many_forms(tmp_path, form):
    lines = read(GAMES[0])
    plain = read_plays(GAMES[0], concept_of)
    # half a day from midnight has no thirteenth hour
    lines = [line for line in lines if int(line["Clock"].split(":")[0]) < 13]
    wanted = {p.number: p.clock_s for p in plain.plays if p.clock_s is not None and p.clock_s < 780}
    path = write(tmp_path / "plays.csv", clock(form)(lines, random.Random(1)))
    found = read_plays(path, concept_of)
    assert {play.number: play.clock_s for play in found.plays} == wanted
    assert not [problem for problem in found.problems if "clock" in problem.says]


def test_a_clock_with_its_quarter(tmp_path):
    text = "Time,Dn,Dist\nQ1 12:30,1,10\n2nd 7:41,2,6\n3 - 0:05,3,1\n"
    (tmp_path / "plays.csv").write_text(text, "utf-8")
    found = read_plays(tmp_path / "plays.csv").plays
    assert [(p.quarter, p.clock_s) for p in found] == [(1, 750.0), (2, 461.0), (3, 5.0)]


@pytest.mark.parametrize("text", ["15:01", "7:61", "4:00 PM", "soon", "-3", "7:41:30", "901", "²"])
def test_what_is_no_game_clock(text):
    assert read_clock(text) is None


def test_a_few_bare_numbers_are_seconds():
    assert not packed(["741", "659"])
    assert not packed(["741", "659", "612", "575", "539"])
    assert packed(["741", "659", "612", "555", "539", ""])
    assert with_quarter("12:30") is None


def plays_at(*clocks: tuple[int, int]) -> list[Play]:
    return [
        Play(0, quarter=quarter, clock_s=float(left), down=1, line=line)
        for line, (quarter, left) in enumerate(clocks, 2)
    ]


def test_a_clock_that_counts_up_keeps_its_order():
    up = plays_at((1, 10), (1, 50), (1, 90), (2, 5), (2, 60))
    problems: list[Problem] = []
    assert [p.line for p in in_order(up, problems)] == [2, 3, 4, 5, 6]
    assert problems == []


def test_a_list_from_the_last_play_to_the_first_is_turned():
    last_first = plays_at((2, 60), (2, 700), (1, 10), (1, 500), (1, 880))
    problems: list[Problem] = []
    assert [p.line for p in in_order(last_first, problems)] == [6, 5, 4, 3, 2]
    assert len(problems) == 1


def test_a_play_without_its_time_stays_behind_the_one_before_it():
    some = [
        Play(0, film_s=90.0, line=2), Play(0, line=3), Play(0, film_s=10.0, line=4), Play(0, line=5),
        Play(0, film_s=50.0, line=6),
    ]  # fmt: skip
    assert [p.line for p in in_order(some, [])] == [4, 5, 6, 2, 3]
