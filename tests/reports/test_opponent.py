"""The page of an opponent."""

import pytest

from reviewer.errors import InputError
from reviewer.reports.formats import render
from reviewer.reports.gather import Selection, find_games, gather
from reviewer.reports.opponent import opponent_document, opponent_page

from .build import graded


def test_what_he_uses_and_on_whom_it_works():
    reps = [
        *(graded(n, "loss", opponents=["94"], moves=["bull rush"]) for n in range(1, 7)),
        *(graded(n, "win", opponents=["94"], moves=["spin"]) for n in range(7, 10)),
        graded(10, "win", opponents=["94", "57"], games=["T-E stunt"]),
        graded(11, "win", player="78", opponents=["57"], moves=["bull rush"]),
    ]
    page = opponent_page(reps, "Calder Falls", names={"94": "Ira Murrin"})
    first = page.defenders[0]
    assert (first.jersey, first.name, first.tally.reps, first.shared) == ("94", "Ira Murrin", 10, 1)
    assert [g.name for g in first.uses["moves"]] == ["bull rush", "spin"]
    assert page.works.cells["74", "bull rush"].losses == 6
    document = opponent_document(page)
    assert "The bull rush works on 74: he won 0 of 6." in document.remarks
    assert not any("works on 78" in remark for remark in document.remarks)  # one rep proves nothing
    assert any(remark.startswith("1 rep was worked against more than one man") for remark in document.remarks)


def test_one_man_only():
    reps = [graded(1, opponents=["94"]), graded(2, opponents=["57"])]
    page = opponent_page(reps, "Calder Falls", "57")
    assert [man.jersey for man in page.defenders] == ["57"]
    assert len(page.reps) == 1
    assert opponent_document(page).title == "Calder Falls 57"


def test_nobody_is_a_sentence():
    with pytest.raises(InputError, match="no graded reps against Calder Falls 3"):
        opponent_page([graded(1, opponents=["94"])], "Calder Falls", "3")


def test_a_whole_opponent_of_the_season_renders(season):
    reps = gather(season, Selection(games=find_games(season, ["Oxpasture"])))
    document = opponent_document(opponent_page(reps, "Oxpasture"))
    named = {jersey for rep in reps for jersey in rep.row.opponents}
    assert {row[0] for row in document.block("defenders").rows} == named
    for format in ("table", "md", "html", "json", "csv"):
        assert "Oxpasture" in render(document, format)
