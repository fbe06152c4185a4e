"""Play lists: reading, and laying them beside a note."""

import json
import random
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from reviewer.errors import InputError
from reviewer.intake.beside import SURE, SaidRep, lay_beside, lay_plays
from reviewer.intake.plays import import_plays, read_plays
from reviewer.intake.season import load_season, season_reading
from reviewer.playlist import FIELDS, said_fields
from reviewer.records import Evidence, GradeRow, NoteContext
from reviewer.reports.gather import Selection, gather
from reviewer.store.edit import set_fields
from reviewer.store.journal import undo
from reviewer.store.library import Library
from reviewer.store.notes import NewNote, add_note, assign_game, current_rows, notes
from reviewer.store.plays import Play, matches_of, plays_of

SEASON = Path(__file__).parents[2] / "shared" / "season"
KNOWN = {
    "inside zone",
    "outside zone",
    "power",
    "counter",
    "duo",
    "dropback",
    "quick game",
    "play action",
    "screen",
}


def concept_of(text):
    return text.lower() if text.lower() in KNOWN else None


def file(tmp_path, text):
    path = tmp_path / "plays.csv"
    path.write_text(text, "utf-8")
    return path


def test_a_list_as_people_write_it(tmp_path):
    text = (
        "Play #,Qtr,Game Clock,Dn,Dist,Yard Ln,Play Type,Off Play,Gn/Ls,Result,Video\n"
        "1,1st,15:00,1st,10,-25,Run,Power,4,Rush,0:40.5\n"
        "2,Q1,14:22:00,2,6,-29,P,Dropback,-7,Sack,1:02\n"
        "3,1,13:41,3,G,+8,Pass,Moon shot,8,\"Complete, TD\",01:00:15;15\n"
        "4,2,12:00,0,,50,FG,,,No Good,90\n"
        "5,OT,1:00,4,inches,own 45,Rush,,0,,95\n"
        ",,,,,,,,,,\n"
        "End of half,,,,,,,,,,\n"
        "7,9:5,77:00,7,ten,-88,dance,,x,Rush,soon\n"
    )  # fmt: skip
    read = read_plays(file(tmp_path, text), concept_of)
    plays = {play.number: play for play in read.plays}
    one = plays["1"]
    assert (one.quarter, one.clock_s, one.down, one.distance, one.yard_line) == (1, 900, 1, 10, 25)
    assert (one.phase, one.concept, one.gain, one.result, one.film_s) == ("run", "power", 4, "gain", 40.5)
    two = plays["2"]
    assert (two.quarter, two.clock_s, two.phase, two.result) == (1, 862, "pass", "sack")
    three = plays["3"]
    assert (three.goal_to_go, three.distance, three.yard_line, three.result) == (True, None, 92, "touchdown")
    assert (three.film_s, three.concept) == (3615.5, None)
    four = plays["4"]
    assert (four.phase, four.down, four.distance) == ("other", None, None)
    five = plays["5"]
    assert (five.quarter, five.distance, five.yard_line, five.phase, five.result) == (
        5,
        1,
        45,
        "run",
        "no gain",
    )
    said = [str(problem) for problem in read.problems]
    assert any(
        "Line 4" in text and "'Moon shot' is no play that the vocabulary knows" in text for text in said
    )
    assert any("Line 8" in text and "the line is left out" in text for text in said)
    for what in (
        "down",
        "distance",
        "quarter",
        "game clock",
        "yard line",
        "film time",
        "gain",
        "run or pass",
    ):
        assert any("Line 9" in text and f"is no {what}" in text for text in said), what


def test_one_column_for_down_and_distance(tmp_path):
    read = read_plays(file(tmp_path, "Down & Distance,Type\n2nd & 7,Run\n1-10,Pass\n3rd and Goal,Pass\n"))
    assert [(p.down, p.distance, p.goal_to_go) for p in read.plays] == [
        (2, 7, False),
        (1, 10, False),
        (3, None, True),
    ]


def test_a_list_out_of_order_is_put_in_order_and_said(tmp_path):
    text = "Play,Qtr,Clock,Dn\n3,2,10:00,1\n1,1,12:00,1\n2,1,3:00,2\n"
    read = read_plays(file(tmp_path, text))
    assert [(p.place, p.number, p.line) for p in read.plays] == [(1, "1", 3), (2, "2", 4), (3, "3", 2)]
    assert "put in that order" in str(read.problems[-1])


def evidence(*fields):
    return {field: [Evidence(start=0, end=1, heard="x", read="x")] for field in fields}


def said(rep_id, number, film_s=None, **fields):
    row = GradeRow(
        rep=number,
        start=10.0 * number,
        end=10.0 * number + 5,
        player="74",
        evidence=evidence(*fields),
        **fields,
    )
    return SaidRep(rep_id, number, ((rep_id * 10, row, said_fields(row, ())),), film_s)


PLAYS = [
    Play(1, "1", down=1, distance=10, phase="run", concept="duo", result="gain"),
    Play(2, "2", down=2, distance=6, phase="pass", concept="screen", result="complete"),
    Play(3, "3", down=3, distance=2, phase="run", concept="power", result="no gain"),
    Play(4, "4", down=None, phase="other"),
    Play(5, "5", down=1, distance=10, phase="pass", concept="dropback", result="incomplete"),
    Play(6, "6", down=2, distance=10, phase="pass", concept="quick game", result="complete"),
]


def test_what_was_not_said_is_filled_and_a_slip_is_shown():
    reps = [
        said(1, 1, down=1, distance=10, concepts=["duo"]),
        said(2, 2, concepts=["screen"], down=2, distance=6),
        said(3, 3, down=3, distance=1, concepts=["power"]),
        said(4, 4, down=1, distance=10, phase="pass", concepts=["dropback"]),
        said(5, 5, down=2, distance=10, concepts=["quick game"]),
    ]
    found = lay_beside(reps, PLAYS)
    assert [(m.rep_id, m.place) for m in found.matches] == [(1, 1), (2, 2), (3, 3), (4, 5), (5, 6)]
    assert found.fills[10] == {"phase": "run", "play_result": "gain"}
    assert found.fills[20] == {"phase": "pass", "play_result": "complete"}
    assert [(d.rep, d.field, d.said, d.listed) for d in found.disputes] == [(3, "distance", 1, 2)]
    assert "distance" not in found.fills[30]


def test_a_rep_taken_out_of_order_is_found_by_its_situation():
    reps = [
        said(1, 1, down=2, distance=6, concepts=["screen"], phase="pass"),
        said(2, 2, down=3, distance=2, concepts=["power"]),
        said(3, 3, down=1, distance=10, concepts=["dropback"], phase="pass"),
        said(4, 4, down=2, distance=10, concepts=["quick game"], phase="pass"),
        said(5, 5, down=1, distance=10, concepts=["duo"], phase="run", play_result="gain"),
    ]
    plays = [replace(PLAYS[0], distance=8), *PLAYS[1:]]
    reps[4] = said(5, 5, down=1, distance=8, concepts=["duo"], phase="run", play_result="gain")
    found = {m.rep_id: m for m in lay_beside(reps, plays).matches}
    assert (found[5].place, found[5].out_of_order) == (1, True)
    assert not found[1].out_of_order


def test_a_rep_that_says_nothing_between_two_possible_plays_is_left_alone():
    reps = [
        said(1, 1, down=1, distance=10, concepts=["duo"]),
        said(2, 2),
        said(3, 3, down=2, distance=10, concepts=["quick game"]),
    ]
    found = lay_beside(reps, PLAYS)
    assert 20 not in found.fills
    assert 2 in found.unmatched or 2 in found.unsure


def test_film_time_tells_two_alike_plays_apart():
    plays = [Play(n, str(n), down=1, distance=10, film_s=60.0 * n) for n in range(1, 8)]
    found = lay_beside([said(1, 1, film_s=301.0, down=1, distance=10)], plays)
    assert [(m.place, m.probability > SURE) for m in found.matches] == [(5, True)]


def season_note(number):
    """A note's reps with the play each really is, and its game's plays."""
    path = sorted((SEASON / "notes").glob("*.jsonl"))[number]
    _, *blocks = [json.loads(line) for line in path.read_text("utf-8").splitlines()]
    reading = season_reading(blocks)
    truth = {block["rep"]: block["play"] for block in blocks}
    plays = read_plays(SEASON / "plays" / f"{path.stem}.csv", concept_of).plays
    reps = {}
    for place, row in enumerate(reading.rows):
        reps.setdefault(row.rep, []).append((place, row, said_fields(row, ())))
    return [SaidRep(rep, rep, tuple(rows)) for rep, rows in reps.items()], plays, truth


def hushed(reps, dice, share):
    """The reps with so many of what was said about the situation left unsaid."""
    for rep in reps:
        gone = {field for field in FIELDS if dice.random() < share}
        yield replace(rep, rows=tuple((n, row, said - gone) for n, row, said in rep.rows))


@pytest.mark.parametrize(
    ("lost", "unsaid", "film", "found"),
    # lost: share of plays missing from the list; unsaid: share of the talk's situation values not said;
    # film: whether sync marks tell the film time, give or take a few seconds; found: least share of
    # the reps whose play is on the list that must be surely matched.
    [(0.0, 0.0, False, 0.75), (0.15, 0.0, False, 0.65), (0.15, 0.3, False, 0.35), (0.15, 0.3, True, 0.90)],
)
def test_lists_with_holes_and_talk_with_holes(lost, unsaid, film, found):
    """Twelve games of 110 plays, 22 of them talked about: what is surely matched is right, and hardly
    ever a rep whose play the list has lost."""
    dice = random.Random(7)
    sure = right = stray = possible = reps_seen = 0
    for number in range(12):
        reps, plays, truth = season_note(number)
        times = {play.number: play.film_s for play in plays}
        kept = [play for play in plays if dice.random() >= lost]
        numbers = {play.place: int(play.number) for play in kept}
        heard = list(hushed(reps, dice, unsaid))
        if film:
            heard = [replace(r, film_s=times[str(truth[r.rep_id])] + dice.gauss(0, 4)) for r in heard]
        reps_seen += len(reps)
        possible += sum(truth[rep.rep_id] in numbers.values() for rep in reps)
        for match in lay_beside(heard, kept).matches:
            if match.probability >= SURE:
                sure += 1
                right += numbers[match.place] == truth[match.rep_id]
                stray += truth[match.rep_id] not in numbers.values()
    assert right / sure >= 0.95
    assert stray / reps_seen <= 0.03
    assert right / possible >= found


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    """A grade book with the sample season, to be copied."""
    path = tmp_path_factory.mktemp("season") / "gradebook.db"
    with Library.open(path) as library:
        load_season(library, SEASON)
    return path


@pytest.fixture
def library(tmp_path, loaded):
    with Library.open(shutil.copy(loaded, tmp_path / "gradebook.db")) as library:
        yield library


def bare_note(library):
    """The Wexmoor talk again as another note, with only what was said of the play in its rows."""
    path = SEASON / "notes" / "11-wexmoor.jsonl"
    head, *blocks = [json.loads(line) for line in path.read_text("utf-8").splitlines()]
    reading = season_reading(blocks)
    rows = [row.model_copy(update={"play_result": None, "phase": None}) for row in reading.rows]
    game = next(n for n in notes(library) if n.opponent == "Wexmoor").game_id
    context = NoteContext(opponent=head["opponent"], game="again")
    new = NewNote(digest="again", kind="text", duration_s=600, context=context, title="again", game_id=game)
    return add_note(library, new, replace(reading, rows=rows)), game


def sure_row(library, note):
    """A row of a rep that is matched beyond doubt, and the match."""
    matches = {m.rep_id: m for m in lay_plays(library, note, fill=False).matches if m.probability > 0.99}
    rows = current_rows(library, note)
    return next(
        row for row in rows if row.rep_id in matches and row.current.distance and row.current.player == "74"
    )


def matches_place(library, note, row):
    return next(m.place for m in matches_of(library, note) if m.rep_id == row.rep_id)


def test_a_list_in_the_grade_book_fills_rows_and_can_be_undone(library):
    note, game = bare_note(library)
    with pytest.raises(InputError, match="no play list; import one first"):
        lay_plays(library, note)
    done = import_plays(library, SEASON / "plays" / "11-wexmoor.csv", game, concept_of)
    assert done.plays == len(plays_of(library, game)) > 40
    row = sure_row(library, note)
    before = row.current.distance
    set_fields(library, row.id, {"distance": before + 1})
    found = lay_plays(library, note)
    assert len(matches_of(library, note)) == len(found.matches) >= 18
    (rep,) = gather(library, Selection(rows=[row.id]))
    assert rep.listed == {"phase", "play_result"}
    play = plays_of(library, game)[matches_place(library, note, row) - 1]
    assert (rep.row.phase, rep.row.play_result) == (play.phase, play.result)
    assert rep.inferred.isdisjoint(rep.listed)
    assert dict(rep.disputes) == {"distance": before}
    assert rep.row.distance == before + 1  # what the coach decided stays
    assert rep.play.startswith("play ")
    assert lay_plays(library, note).matches == found.matches
    set_fields(library, row.id, {"play_result": "incomplete"})
    (rep,) = gather(library, Selection(rows=[row.id]))
    assert rep.listed == {"phase"}  # decided by the coach now
    undo(library, note)
    undo(library, note)
    (rep,) = gather(library, Selection(rows=[row.id]))
    assert (rep.row.phase, rep.listed) == (None, frozenset())


def test_what_the_coach_cleared_stays_clear(library):
    note, game = bare_note(library)
    import_plays(library, SEASON / "plays" / "11-wexmoor.csv", game, concept_of)
    row = sure_row(library, note)
    set_fields(library, row.id, {"concepts": []})
    lay_plays(library, note)
    (rep,) = gather(library, Selection(rows=[row.id]))
    assert rep.row.concepts == []
    assert rep.row.phase is not None


def test_matching_without_filling(library):
    note, game = bare_note(library)
    import_plays(library, SEASON / "plays" / "11-wexmoor.csv", game, concept_of)
    assert lay_plays(library, note, fill=False).fills
    assert all(row.current.phase is None for row in current_rows(library, note))


def test_a_note_without_a_game_is_a_sentence(library):
    note, _ = bare_note(library)
    assign_game(library, note, None)
    with pytest.raises(InputError, match="tied to no game"):
        lay_plays(library, note)


def test_nothing_usable_saves_nothing(library, tmp_path):
    with pytest.raises(InputError, match=r"No line of .* is a play"):
        import_plays(library, file(tmp_path, "Down,Dist\n,\nx,y\n"), 1)
    assert plays_of(library, 1) == []
