"""The figures over annotated notes: checked by hand and against published values."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from rapidfuzz.distance import Levenshtein

from reviewer.compare.annotated import AnnotatedNote, load_note
from reviewer.compare.heard import places
from reviewer.compare.score import Tally, calibration_error, match_reps, pair_rows, score_note
from reviewer.errors import InputError
from reviewer.records import GradeRow, Reading, Rep, Word

NOTE = """\
note: short
style: a coach of few words
player: "74"
position: RT
opponent: Calder Stags
roster:
  - ["74", "Wes Tillery", RT, own]
  - ["91", "Dante Orlov", DE, opp]
blocks:
  - text: "Here we go."
  - rep: 1
    text: "First and ten, duo. He drives ninety-one. Win."
    rows:
      - {player: "74", position: RT, down: 1, distance: 10, phase: run, concepts: [duo],
         opponents: ["91"], techniques: [drive], verdict: win}
  - rep: 2
    text: "Third and six. Ninety-one swims. Loss."
    rows:
      - {player: "74", position: RT, down: 3, distance: 6, phase: pass, opponents: ["91"],
         moves: [swim], verdict: loss}
  - rep: 1
    text: "Back to the first one, that was a fine block."
"""


@pytest.fixture
def note(tmp_path: Path) -> AnnotatedNote:
    path = tmp_path / "short.yaml"
    path.write_text(NOTE, "utf-8")
    return load_note(path)


def perfect(note: AnnotatedNote) -> Reading:
    """A reading that finds all of it."""
    reps = [Rep(gold.number, 0.0, 1.0, tuple((w, w + 1) for w in sorted(gold.words))) for gold in note.reps]
    rows = [
        GradeRow(rep=gold.number, start=0, end=1, confidence=1.0, **row)
        for gold in note.reps
        for row in gold.rows
    ]
    return Reading(note.words, (), reps, rows)


def test_a_note_as_it_is_written(note: AnnotatedNote) -> None:
    assert [gold.number for gold in note.reps] == [1, 2]
    said = {n: " ".join(note.words[w].text for w in sorted(gold.words)) for n, gold in enumerate(note.reps)}
    assert (
        said[0]
        == "First and ten, duo. He drives ninety-one. Win. Back to the first one, that was a fine block."
    )
    assert [(rep, last - first) for rep, first, last in note.blocks] == [(None, 3), (1, 8), (2, 6), (1, 10)]
    assert note.context.player == "74"
    assert all(a.end <= b.start for a, b in zip(note.words, note.words[1:], strict=False))


def test_a_perfect_reading_has_perfect_figures(note: AnnotatedNote) -> None:
    tally = Tally()
    score_note(note, perfect(note), tally)
    assert tally.f1("rep") == 1
    assert tally.misses == []
    for name in ("verdict", "player", "phase", "down and distance", "hands-off"):
        assert tally.share(name) == 1
        assert tally.total[name] == 2
    assert tally.f1("moves") == 1


def test_what_is_wrong_counts_in_its_field_alone(note: AnnotatedNote) -> None:
    reading = perfect(note)
    wrong = reading.rows[1].model_copy(update={"verdict": "win", "moves": ["swim", "rip"]})
    tally = Tally()
    score_note(note, replace(reading, rows=[reading.rows[0], wrong]), tally)
    assert tally.share("verdict") == 0.5
    assert tally.share("player") == 1
    assert tally.share("hands-off") == 0.5
    assert tally.f1("moves") == pytest.approx(2 / 3)  # one right of two read and one expected
    assert tally.misses == [
        "short rep 2 74: verdict want 'loss' read 'win'",
        "short rep 2 74: moves want ['swim'] read ['swim', 'rip']",
    ]


def test_a_rep_that_was_not_found_is_wrong_in_every_field(note: AnnotatedNote) -> None:
    reading = perfect(note)
    tally = Tally()
    score_note(note, replace(reading, reps=reading.reps[:1], rows=reading.rows[:1]), tally)
    assert (tally.true["rep"], tally.gold["rep"], tally.read["rep"]) == (1, 2, 1)
    assert [tally.share(n) for n in ("verdict", "player", "phase", "hands-off")] == [0.5] * 4


def test_an_extra_row_costs_hands_off_only(note: AnnotatedNote) -> None:
    reading = perfect(note)
    extra = GradeRow(rep=1, start=0, end=1, player="65", verdict="win", confidence=0.9)
    tally = Tally()
    score_note(note, replace(reading, rows=[*reading.rows, extra]), tally)
    assert tally.share("verdict") == 1
    assert tally.share("hands-off") == pytest.approx(2 / 3)


def test_reps_match_by_half_of_their_joint_words(note: AnnotatedNote) -> None:
    spoken = sorted(note.reps[0].words)
    assert len(spoken) == 18
    for count, found in ((9, {1: 7}), (8, {})):
        rep = Rep(7, 0.0, 1.0, tuple((word, word + 1) for word in spoken[:count]))
        assert match_reps(note, Reading(note.words, (), [rep])) == found


def test_rows_of_a_rep_are_paired_by_player_first() -> None:
    gold = [{"player": "74", "verdict": "win"}, {"player": "65", "verdict": "loss"}]
    read = [GradeRow(rep=1, start=0, end=1, player=p) for p in ("65", "70", "74")]
    pairs = [(g and g["player"], r and r.player) for g, r in pair_rows(gold, read)]
    assert pairs == [("74", "74"), ("65", "65"), (None, "70")]


def test_calibration_error_of_published_values() -> None:
    """Guo et al., ICML 2017, eq. 3 (from memory), bins (lo, hi].

    The first data are those of scikit-learn 1.9.1's calibration_curve docstring; 5/36 follows by hand.
    """
    y = [0, 0, 0, 0, 1, 1, 1, 1, 1]
    p = [0.1, 0.2, 0.3, 0.4, 0.65, 0.7, 0.8, 0.9, 1]
    assert calibration_error([(a, bool(b)) for a, b in zip(p, y, strict=True)], 3) == pytest.approx(5 / 36)
    y = [1, 1, 1, 0, 1, 0, 0, 1, 0, 0]
    p = [0.95, 0.9, 0.85, 0.8, 0.75, 0.6, 0.45, 0.4, 0.2, 0.1]
    assert calibration_error([(a, bool(b)) for a, b in zip(p, y, strict=True)], 5) == pytest.approx(0.28)
    assert calibration_error([], 10) == 0


def words(text: str) -> list[Word]:
    return [Word(piece, n * 0.4, n * 0.4 + 0.3) for n, piece in enumerate(text.split())]


@pytest.mark.parametrize(
    ("heard", "spoken", "found"),
    [
        ("he wins it", "he wins it", {0: 0, 1: 1, 2: 2}),
        ("He wins, it.", "he wins it", {0: 0, 1: 1, 2: 2}),
        ("well he wins it", "he wins it", {1: 0, 2: 1, 3: 2}),
        ("he wins", "he wins it", {0: 0, 1: 1}),
        ("he beats 94 inside", "he beats ninety-four inside", {0: 0, 1: 1, 2: 2, 3: 3}),
        ("", "he wins it", {}),
    ],
)
def test_heard_words_find_their_place(heard: str, spoken: str, found: dict[int, int]) -> None:
    assert places(words(heard), words(spoken)) == found


def test_places_use_the_fewest_changes() -> None:
    heard, spoken = words("the cat sit on mat"), words("the cat sat on the mat")
    found = places(heard, spoken)
    same = sum(heard[a].text == spoken[b].text for a, b in found.items())
    changes = Levenshtein.distance([w.text for w in heard], [w.text for w in spoken])
    assert len(spoken) - same == changes == 2


@pytest.mark.parametrize("text", ["", "note: x", "[1, 2", "blocks: 7\nroster: []\nnote: x\nstyle: y"])
def test_a_file_that_is_no_annotated_note_is_one_sentence(tmp_path: Path, text: str) -> None:
    path = tmp_path / "bad.yaml"
    path.write_text(text, "utf-8")
    with pytest.raises(InputError, match="is no annotated note"):
        load_note(path)
