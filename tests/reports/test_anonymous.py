"""The anonymous way out carries nothing that names anybody."""

import json
import re
from pathlib import Path

import pytest

from reviewer.records import Evidence
from reviewer.reports.anonymous import Anonymizer, anonymous
from reviewer.reports.formats import render, write
from reviewer.reports.gather import Selection, gather
from reviewer.reports.scale import load_scale
from reviewer.reports.sheet import grade_sheet
from reviewer.reports.sheet_document import sheet_document

from .build import GAME_1, GAME_2, graded

SECRET = [
    "Quist", "Halvard", "Calder", "2031", "Tarn", "my words", "Murrin", "secret", "recordings", "a note",
    "Q2",
]  # fmt: skip


@pytest.fixture
def reps():
    said = {"verdict": [Evidence(start=1, end=2, heard="my words", read="my words")]}
    around = {
        "words": "my words about Quist", "coach_note": "secret", "name": "Halvard Quist",
        "audio": Path("/recordings/x.wav"), "note": "a note", "note_id": 31, "row_id": 99,
        "play": "play 9, Q2 1:02",
        "film_s": 12.0,
    }  # fmt: skip
    return [
        graded(1, opponents=["94", "57"], evidence=said, **around),
        graded(2, "loss", opponents=["94"], game=GAME_2, **around),
        graded(3, "loss", player="78", opponents=["57"], **{**around, "name": "Emeka Stavros"}),
    ]


def test_no_format_tells(reps, tmp_path):
    document = sheet_document(grade_sheet(anonymous(reps), load_scale(), ""))
    texts = [render(document, format, width=200, words=True) for format in ("table", "md", "csv", "json")]
    page = re.sub(r"<(style|script).*?</\1>", "", render(document, "html"), flags=re.DOTALL)
    for text in (*texts, page):
        for secret in SECRET:
            assert secret not in text, (secret, text)
    assert b"Quist" not in write(document, "pdf", tmp_path / "x.pdf").read_bytes()


def test_replacements_are_the_same_all_through(reps):
    one, two, three = anonymous(reps)
    assert (one.row.player, two.row.player, three.row.player) == ("P1", "P1", "P2")
    assert one.row.opponents == ["D1", "D2"]
    assert two.row.opponents == ["D3"]  # another team's 94 is another man
    assert three.row.opponents == ["D2"]
    assert (one.game.opponent, two.game.opponent) == ("game 01", "game 02")
    assert one.game == three.game


def test_what_teaches_stays(reps):
    before, after = reps[1].row, anonymous(reps)[1].row
    kept = {"verdict", "techniques", "faults", "moves", "down", "distance", "set", "rep", "start"}
    assert before.model_dump(include=kept) == after.model_dump(include=kept)


def test_a_number_that_changed_hands_is_two_men():
    hand = Anonymizer()
    assert hand.player("63", "Corwin Tabbert") != hand.player("63", "Dashiell Runkle")
    assert hand.player(None) is None


def test_the_numbers_of_a_sheet_are_the_same(season):
    reps = gather(season, Selection(player="74"))
    open_, hidden = (grade_sheet(r, load_scale(), "x") for r in (reps, anonymous(reps)))
    assert open_.tally == hidden.tally
    assert open_.grade == hidden.grade
    assert [line.tally for line in open_.games] == [line.tally for line in hidden.games]
    text = json.dumps([rep.row.model_dump(mode="json") for rep in hidden.reps])
    assert '"74"' not in text


def test_same_game_objects_for_grouping():
    hidden = anonymous([graded(1), graded(2)])
    assert hidden[0].game is hidden[1].game
    assert hidden[0].game != GAME_1
