"""Agreement of two graders, and of the machine with the coach."""

import pytest

from reviewer.errors import InputError
from reviewer.reports.agreement import agreement, agreement_document, pair_rows
from reviewer.reports.formats import render
from reviewer.reports.kappa import kappa

from .build import graded


def row(**fields):
    return graded(1, fields.pop("verdict", "win"), **fields).row


def of_field(found, name):
    return next(f for f in found.fields if f.field == name)


def test_verdicts_as_cohens_own_table():
    # Cohen, Psychol. Bull. 70 (1968) 213-220, Table 1, its categories taken as loss, neutral, win.
    table = [[88, 14, 18], [10, 40, 10], [2, 6, 12]]
    names = ("loss", "neutral", "win")
    pairs = [
        (row(verdict=one), row(verdict=two))
        for i, one in enumerate(names)
        for j, two in enumerate(names)
        for _ in range(table[i][j])
    ]
    found = of_field(agreement(pairs, "A", "B"), "verdict")
    assert (found.same.hits, found.same.total, found.weighted) == (140, 200, True)
    assert found.kappa == kappa(table, "linear")
    assert round(found.kappa.value, 6) == 0.473684
    assert found.differences[0] == ("loss", "win", 18)


def test_lists_are_judged_term_by_term():
    pairs = [
        (row(faults=["lunge"]), row(faults=["lunge"])),
        (row(faults=["lunge", "overset"]), row(faults=["lunge"])),
        (row(), row(faults=["overset"])),
        (row(), row()),
    ]
    found = of_field(agreement(pairs, "A", "B"), "faults")
    assert (found.same.hits, found.same.total) == (1, 3)  # where either named one
    # lunge: 2 both, 2 neither; overset: 1 only first, 1 only second, 2 neither
    assert found.kappa == kappa([[4, 1], [1, 2]])


def test_nothing_said_is_a_value_of_a_mark():
    found = of_field(
        agreement([(row(finish="+"), row()), (row(finish="-"), row(finish="-"))], "A", "B"), "finish"
    )
    assert (found.same.hits, found.same.total) == (1, 2)
    assert found.differences == (("+", "(nothing)", 1),)


def test_fields_nobody_filled_are_left_out():
    names = {f.field for f in agreement([(row(), row())], "A", "B").fields}
    assert "set" not in names
    assert "verdict" in names


def test_no_common_rep_is_a_sentence():
    with pytest.raises(InputError, match="A and B have no graded rep in common"):
        agreement([], "A", "B")


def test_two_notes_are_paired_by_order_and_situation():
    first = [
        graded(1, down=1, distance=10, concepts=["duo"]),
        graded(2, down=2, distance=7, concepts=["screen"]),
        graded(3, down=3, distance=2, concepts=["power"]),
        graded(3, down=3, distance=2, concepts=["power"], player="78"),
    ]
    second = [
        graded(1, "loss", down=1, distance=10, concepts=["duo"]),
        graded(2, "loss", down=3, distance=2, concepts=["power"]),
    ]
    found = pair_rows(first, second)
    assert [(one.rep, two.rep) for one, two in found.pairs] == [(1, 1), (3, 2)]
    assert (found.only_first, found.only_second) == (2, 0)


def test_matched_plays_decide():
    first = [graded(1, down=1, distance=10, play="play 4"), graded(2, down=1, distance=10, play="play 9")]
    second = [graded(1, down=1, distance=10, play="play 9")]
    assert [(one.rep, two.rep) for one, two in pair_rows(first, second).pairs] == [(2, 1)]


def test_the_report_puts_what_differs_most_first_and_renders():
    pairs = [(row(faults=["lunge"]), row()) for _ in range(3)] + [(row(verdict="win"), row(verdict="loss"))]
    document = agreement_document(agreement(pairs, "Ann", "Bo", only_first=1))
    table = document.block("fields")
    assert [r[0] for r in table.rows][:2] == ["Fault", "Verdict"]
    assert "1 row is only in Ann." in document.remarks
    for format in ("table", "md", "html", "csv", "json"):
        assert "Fault" in render(document, format, width=200)
