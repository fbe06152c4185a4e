"""Counting, the matrix and the reps to show."""

from reviewer.reports.matrix import matrix
from reviewer.reports.showing import to_show
from reviewer.reports.tally import groups, marks, tally_reps

from .build import graded, run_of


def test_neutral_takes_no_side():
    found = tally_reps(run_of(3, 1, neutral=6))
    assert (found.wins, found.losses, found.neutral, found.reps) == (3, 1, 6, 10)
    assert (found.share.hits, found.share.total) == (3, 4)


def test_a_rep_with_two_plays_stands_in_both_groups_and_the_rest_last():
    reps = [
        graded(1, concepts=["dropback", "slide protection"]),
        graded(2, "loss", concepts=["dropback"]),
        graded(3),
    ]
    found = groups(reps, "concepts")
    assert [(g.name, g.tally.reps) for g in found] == [
        ("dropback", 2),
        ("slide protection", 1),
        ("not said", 1),
    ]


def test_a_field_nobody_spoke_of_has_no_groups():
    assert groups([graded(1), graded(2)], "set") == []


def test_marks_count_what_was_not_marked():
    found = marks([graded(1, assignment="+", finish="-"), graded(2, assignment="-"), graded(3)])
    assert (found["assignment"].plus, found["assignment"].minus, found["assignment"].unmarked) == (1, 1, 1)
    assert found["technique"].share.value is None


def test_matrix_totals_count_each_rep_once():
    reps = [
        graded(1, set="vertical", moves=["bull rush", "long arm"]),
        graded(2, "loss", set="vertical", moves=["bull rush"]),
        graded(3, set="jump"),
        graded(4),
    ]
    found = matrix(reps)
    assert found.rows == ("vertical", "jump")
    assert found.columns == ("bull rush", "long arm", "not said")
    assert found.cells["vertical", "bull rush"].reps == 2
    assert ("jump", "bull rush") not in found.cells
    assert found.row_totals["vertical"].reps == 2
    assert found.total.reps == 3  # the rep where neither was said teaches nothing here


def test_showing_is_balanced_and_prefers_the_coachs_labels():
    labelled = [graded(20, "loss", labels=["teach"]), graded(21, labels=["highlight"])]
    reps = [*run_of(6, 2), *labelled]
    found = to_show(reps, 6)
    assert len(found.teach) == len(found.highlight) == 3
    assert found.balanced
    assert reps[-1] in found.highlight
    assert reps[-2] in found.teach


def test_showing_says_when_it_cannot_balance():
    assert not to_show(run_of(9, 1), 10).balanced


def test_showing_spreads_over_terms():
    reps = [graded(n, "loss", faults=["lunge"]) for n in (1, 2, 3)] + [graded(4, "loss", faults=["overset"])]
    assert {r.row.faults[0] for r in to_show(reps, 4).teach} == {"lunge", "overset"}


def test_a_rep_with_head_contact_is_not_shown_by_itself():
    reps = [
        graded(1, "loss", safety=["head contact"]),
        graded(2, "loss", safety=["injury"], labels=["teach"]),
    ]
    assert [r.row.rep for r in to_show(reps).teach] == [2]
