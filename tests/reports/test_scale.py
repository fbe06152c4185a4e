"""Grading scales: the shipped ones, reading, and what they make of rows."""

import pytest

from reviewer import paths
from reviewer.errors import InputError
from reviewer.reports.intervals import wilson
from reviewer.reports.scale import grade, load_scale, score, shipped_scales

from .build import graded, run_of


def rows(reps):
    return [rep.row for rep in reps]


def test_plus_minus_is_the_share_with_wilsons_interval():
    found = grade(rows(run_of(7, 3, neutral=5)), load_scale("plus-minus"))
    assert (found.reps, found.points, found.value) == (10, 7.0, 0.7)
    assert found.interval == wilson(7, 10)
    assert found.winning is False
    assert not found.sure  # .397 to .892 holds the cut-off of .80


def test_three_marks_count_only_what_was_marked():
    scale = load_scale("three-marks")
    all_right = graded(assignment="+", technique="+", finish="+").row
    half = graded(2, "loss", assignment="+", technique="-").row
    unmarked = graded(3).row
    assert score(unmarked, scale) is None
    found = grade([all_right, half, unmarked], scale)
    assert (found.reps, found.points, found.value) == (2, 4.0, 0.8)  # four of five marks


def test_zero_one_two_averages_points():
    found = grade(rows(run_of(2, 1, neutral=1)), load_scale("zero-one-two"))
    assert (found.reps, found.points, found.value) == (4, 5.0, 1.25)
    assert found.interval.low < 1.25 < found.interval.high
    assert found.interval.low >= 0
    assert found.interval.high <= 2


def test_production_adds_events():
    scale = load_scale("production")
    assert score(graded(events=["knockdown"]).row, scale).points == 2
    assert score(graded(verdict="loss", events=["sack"]).row, scale).points == -4
    found = grade([graded(verdict="loss", events=["sack"]).row], scale)
    assert found.value == -4
    assert -4 in found.interval


def test_nothing_graded_has_no_number():
    found = grade(rows(run_of(0, 0, neutral=3)), load_scale("plus-minus"))
    assert (found.reps, found.value, found.interval, found.winning) == (0, None, None, None)


def test_every_shipped_scale_loads():
    assert shipped_scales() == ["plus-minus", "production", "three-marks", "zero-one-two"]
    for name in shipped_scales():
        assert load_scale(name).about


def test_the_users_own_scale_is_the_default():
    own = paths.home() / "scale.toml"
    own.parent.mkdir(parents=True)
    own.write_text('title = "Ours"\ncutoff = 0.9\n[verdict]\nwin = 1\nloss = 0\n')
    assert (load_scale().title, load_scale().cutoff) == ("Ours", 0.9)
    own.unlink()
    assert load_scale().name == "plus-minus"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("title = ", "cannot be read"),
        ("[verdict]\nwin = 1\nlost = 0", "[verdict] knows win, neutral, loss, not 'lost'"),
        ("[verdict]\nwin = 'one'", "the points of 'win' in [verdict] must be a number"),
        ("[verdict]\nwin = 1\nloss = 1", "a better mark must be worth more"),
        ("cutoff = 0.8", "scores nothing"),
        ("cutoff = 80\n[verdict]\nwin = 1\nloss = 0", "must lie between 0 and 1"),
        ("show = 'stars'\n[verdict]\nwin = 1\nloss = 0", 'must be "percent" or "average"'),
        ("colour = 1\n[verdict]\nwin = 1\nloss = 0", "unknown key 'colour'"),
        ("cutoff = true\n[verdict]\nwin = 1\nloss = 0", "`cutoff` must be a number"),
    ],
)
def test_a_bad_scale_gets_one_sentence(tmp_path, text, says):
    path = tmp_path / "bad.toml"
    path.write_text(text)
    with pytest.raises(InputError) as problem:
        load_scale(str(path))
    assert says in str(problem.value)
    assert "bad.toml" in str(problem.value)


def test_an_unknown_scale_names_the_known():
    with pytest.raises(InputError, match="plus-minus, production, three-marks, zero-one-two"):
        load_scale("five-stars")
