"""Tables fit the terminal: no word broken, no line too long, nothing lost."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewer.reports.document import Document, Table
from reviewer.reports.formats.as_text import text
from reviewer.reports.formats.text_tables import parted
from reviewer.reports.gather import Selection, gather, of_opponent, opponent_names
from reviewer.reports.opponent import opponent_document, opponent_page
from reviewer.reports.scale import load_scale
from reviewer.reports.sheet import grade_sheet
from reviewer.reports.sheet_document import sheet_document


@given(st.lists(st.integers(1, 30), min_size=1, max_size=12), st.integers(40, 130))
def test_parts_hold_every_column_once_and_fit(least, width):
    parts = parted(least, width)
    assert [place for part in parts for place in part[1:]] == list(range(1, len(least)))
    for part in parts:
        assert part[0] == 0
        # two columns stand together whatever the width is
        assert len(part) <= 2 or sum(least[p] + 3 for p in part) - 3 <= width - 2


def test_a_table_that_fits_is_one():
    assert parted([10, 10, 10], 80) == [[0, 1, 2]]


@pytest.mark.parametrize("width", [80, 120])
def test_reports_of_the_season_break_no_word(season, width):
    reps, team = of_opponent(gather(season, Selection()), "Ferrous Bay")
    pages = (
        opponent_document(opponent_page(reps, team, None, opponent_names(season, reps))),
        sheet_document(grade_sheet(gather(season, Selection(player="74")), load_scale(), "74")),
    )
    for page in pages:
        shown = text(page, width)
        assert max(map(len, shown.splitlines())) <= width + 8  # a chart's line may run on
        assert "…" not in shown
        words = shown.split()
        for whole in ("counter", "Neutral", "rush", "vertical"):
            assert whole in words
        assert "(41–78)" in words or page is pages[1]


def test_a_sign_says_what_shading_says(season):
    reps = gather(season, Selection(player="74"))
    shown = text(sheet_document(grade_sheet(reps, load_scale(), "74")), 200)
    # swim against every set: 14 wins, no loss, 2 neutral (interval 78 to 100)
    assert "14–0–2 ▲" in shown


def test_square_brackets_are_no_markup():
    table = Table("t", "T", {"a": "A"}, [("[bold]x[/bold]",)])
    assert "[bold]x[/bold]" in text(Document("d", blocks=(table,)))
