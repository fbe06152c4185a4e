"""One awkward sheet through every format, read back by other libraries."""

import csv
import html
import io
import re
import xml.etree.ElementTree as ET
import zipfile
from html.parser import HTMLParser

import pytest
from openpyxl import load_workbook

from reviewer.errors import InputError
from reviewer.reports.document import Document, Line, Table
from reviewer.reports.formats import FORMATS, render, write
from reviewer.reports.formats.as_html import page
from reviewer.reports.formats.as_json import ReportData
from reviewer.reports.formats.charts import bars_svg, line_svg
from reviewer.reports.gather import Selection, gather
from reviewer.reports.scale import load_scale
from reviewer.reports.sheet import grade_sheet
from reviewer.reports.sheet_document import sheet_document

from .build import GAME_2, GAME_3, graded, run_of

AWKWARD = '=2+2 | *he* said "<b>no</b>" & [b]left[/b] C:\\film #1 — ünïcode'


@pytest.fixture
def document(tmp_path):
    audio = tmp_path / "recordings" / "a note #1.wav"
    audio.parent.mkdir()
    audio.write_bytes(b"RIFF")
    reps = [
        graded(
            1, words=AWKWARD, coach_note="<script>x</script>", audio=audio, phase="pass", set="vertical",
            moves=["bull rush", "long arm"], opponents=["00", "94"], alignment="wide 9", down=3, distance=7,
            techniques=["punch"], assignment="+", technique="-", events=["knockdown"], start=61.25, end=70.5,
            confirmed=False, inferred=frozenset({"phase"}),
        ),
        graded(2, "loss", down=1, goal_to_go=True, listed=frozenset({"down"}), safety=["injury"]),
        *run_of(3, 2, game=GAME_2, phase="run", concepts=["duo"]),
        *run_of(2, 2, neutral=1, game=GAME_3),
    ]  # fmt: skip
    return sheet_document(grade_sheet(reps, load_scale(), "74"))


def test_csv_reads_back_to_the_rows(document):
    records = list(csv.DictReader(io.StringIO(render(document, "csv"))))
    assert len(records) == 12
    first = records[0]
    assert first["words"] == f"'{AWKWARD}"  # or a spreadsheet would compute it
    assert (first["opponents"], first["moves"], first["down"]) == ("00; 94", "bull rush; long arm", "3")
    assert (first["confirmed"], first["inferred"], first["assignment"]) == ("no", "phase", "+")
    assert (records[1]["goal_to_go"], records[1]["distance"]) == ("yes", "")


def test_json_fits_its_schema_and_keeps_numbers(document):
    data = ReportData.model_validate_json(render(document, "json"))
    assert data.reps["reps"][0].row.opponents == ["00", "94"]
    assert data.reps["reps"][0].words == AWKWARD
    overall = data.tables["overall"].rows[0]
    assert (overall["wins"], overall["losses"], overall["share_of"]) == (6, 5, 11)
    assert overall["share"] == pytest.approx(6 / 11)
    grid = data.tables["set_against_moves"].rows
    assert {"set": "vertical", "moves": "bull rush", "tally_wins": 1}.items() <= grid[0].items()


def test_the_workbook_opens_elsewhere_with_real_numbers(document, tmp_path):
    path = write(document, "xlsx", tmp_path / "sheet.xlsx")
    book = load_workbook(path)
    reps = book["Every rep"]
    header = [cell.value for cell in reps[1]]
    first = dict(zip(header, [cell.value for cell in reps[2]], strict=True))
    assert reps.freeze_panes == "A2"
    assert first["start"] == 61.25
    assert first["date"].isoformat() == "2031-09-05T00:00:00"
    assert first["words"] == AWKWARD  # text, not a formula
    assert (first["player"], first["opponents"]) == ("74", "00; 94")
    games = book["By game"]
    assert games.freeze_panes == "A2"
    assert [cell.value for cell in games[1]][:3] == ["Game", "Reps", "Wins"]
    assert [cell.value for cell in games[3]][:3] == ["2031-09-12 Ebbing Point", 5, 3]
    share = next(c for c in games[3] if c.number_format == "0%")
    assert share.value == pytest.approx(0.6)
    assert all(len(name) <= 31 for name in book.sheetnames)


class _Page(HTMLParser):
    """What a browser would find: tags with attributes, and the text shown."""

    def __init__(self):
        super().__init__()
        self.tags, self.text = [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.text.append(data)


def parsed(html):
    page = _Page()
    page.feed(html)
    return page


def test_the_page_shows_words_as_said_and_loads_nothing(document):
    found = parsed(page(document))
    assert AWKWARD in found.text
    assert "Coach's note: <script>x</script>" in found.text
    assert [tag for tag, _ in found.tags].count("script") == 1
    assert not [a for tag, a in found.tags if tag in ("link", "img", "iframe") or "src" in a]
    openers = [a for tag, a in found.tags if tag == "button" and a.get("class") == "open"]
    ids = {a["id"] for tag, a in found.tags if "id" in a}
    assert openers
    assert {a["aria-controls"] for a in openers} <= ids


def test_the_script_is_the_one_the_page_allows(document):
    import base64
    import hashlib

    html = page(document)
    script = re.search(r"<script>(.*)</script>", html, re.DOTALL)[1]
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src &#39;sha256-{digest}&#39;" in html or f"script-src 'sha256-{digest}'" in html


def sources(path):
    found = parsed(path.read_text("utf-8"))
    return {a["data-src"] for tag, a in found.tags if tag == "button" and "data-src" in a}


def test_sound_is_linked_from_where_the_page_lies(document, tmp_path):
    out = tmp_path / "out" / "sheet.html"
    out.parent.mkdir()
    write(document, "html", out)
    assert sources(out) == {"../recordings/a%20note%20%231.wav"}


def test_sound_is_copied_beside_the_page(document, tmp_path):
    out = tmp_path / "sheet.html"
    write(document, "html", out, audio="copy")
    assert sources(out) == {"sheet-audio/01-a%20note%20%231.wav"}
    assert (tmp_path / "sheet-audio" / "01-a note #1.wav").read_bytes() == b"RIFF"


def test_sound_can_be_left_out(document, tmp_path):
    write(document, "html", tmp_path / "sheet.html", audio="none")
    assert sources(tmp_path / "sheet.html") == set()
    with pytest.raises(InputError, match="say link, copy or none"):
        write(document, "html", tmp_path / "sheet.html", audio="loud")


def test_markdown_escapes_and_keeps_its_columns(document):
    lines = render(document, "md").splitlines()
    row = next(line for line in lines if "said" in line and line.startswith("| 2031"))
    assert r"=2+2 \| \*he\* said" in row
    above = lines[: lines.index(row)]
    header = next(line for line in reversed(above) if line.startswith("| Game | Rep |"))
    assert len(re.findall(r"(?<!\\)\|", row)) == len(re.findall(r"(?<!\\)\|", header))


def test_the_terminal_takes_brackets_as_text(document):
    text = render(document, "table", width=300, words=True)
    assert "[b]left[/b]" in text
    assert "3rd and 7" in text
    assert "+ win" in text
    assert "2nd" not in text


def test_a_narrow_terminal_still_shows_every_figure(document):
    text = render(document, "table", width=60)
    assert max(map(len, text.splitlines())) <= 60 + 40  # charts do not wrap
    assert "55 %" in text


def test_the_pdf_is_one_with_its_words(document, tmp_path):
    path = write(document, "pdf", tmp_path / "sheet.pdf")
    data = path.read_bytes()
    assert data.startswith(b"%PDF-")
    assert data.rstrip().endswith(b"%%EOF")


def test_every_value_inferred_or_listed_is_marked_in_every_text(document):
    for format in ("table", "md", "html"):
        text = " ".join(render(document, format, width=400).split())
        assert "inferred, not said: run or pass" in text
        assert "from the play list: down" in text
        assert "Any sign of concussion: out at once" in text


def test_files_are_whole_or_not_there(document, tmp_path):
    with pytest.raises(InputError, match="cannot be written"):
        write(document, "csv", tmp_path / "no" / "folder" / "x.csv")
    with pytest.raises(InputError, match="is a folder"):
        write(document, "csv", tmp_path)
    assert not list(tmp_path.glob(".*"))


def test_unknown_formats_name_the_known(document):
    with pytest.raises(InputError, match=", ".join(FORMATS)):
        render(document, "docx")
    with pytest.raises(InputError, match="name a file for it"):
        render(document, "pdf")


def test_charts_are_sound_svg_with_every_count(document):
    for block in document.blocks:
        if block.key.startswith("chart"):
            svg = line_svg(block) if isinstance(block, Line) else bars_svg(block)
            ET.fromstring(svg)
    line = line_svg(document.block("chart_games"))
    assert line.count("<circle") == 3
    assert "cut-off" in line
    assert "09-12 Ebbing Point" in line


def test_a_report_without_reps_gives_its_first_table_as_csv():
    table = Table("t", "T", {"a": "A", "b": "B"}, [("x", 1), ("y", None)])
    assert render(Document("D", blocks=(table,)), "csv") == "a,b\r\nx,1\r\ny,\r\n"


def test_an_unknown_block_is_a_key_error(document):
    with pytest.raises(KeyError):
        document.block("nothing")


def test_a_workbook_draws_the_grade_by_game(season, tmp_path):
    reps = gather(season, Selection(player="74"))
    out = write(sheet_document(grade_sheet(reps, load_scale(), "74")), "xlsx", tmp_path / "x.xlsx")
    summary = load_workbook(out)["Summary"]
    rows = list(summary.iter_rows(values_only=True))
    first = next(n for n, row in enumerate(rows) if row[0] == "Grade by game")
    assert rows[first][1:5] == ("Grade", "From", "To", "Cut-off")
    name, value, low, high, cutoff = rows[first + 1][:5]
    assert (name, cutoff) == ("2031-09-05 Calder Falls", 0.8)
    assert low < value < high
    with zipfile.ZipFile(out) as parts:
        charts = [parts.read(n).decode() for n in parts.namelist() if n.startswith("xl/charts/chart")]
    assert sum("<c:lineChart>" in chart and "<c:errBars>" in chart for chart in charts) == 1


def test_shares_and_intervals_stay_on_one_line_and_text_stays_text():
    from reviewer.reports.formats.as_html import held

    said = '69 % of 235 (63–75) <b> & 0.98 (0.98 to 0.99), 2031-09-05 "Falls"'
    shown = str(held(said))
    assert shown.count('<span class="k">') == 4
    assert '<span class="k">69 % of 235</span> <span class="k">(63–75)</span> &lt;b&gt; &amp; 0.98' in shown
    assert html.unescape(re.sub(r"</?span[^>]*>", "", shown)) == said


def test_a_table_too_wide_for_a_phone_stands_in_lines_there(document):
    shown = page(document)
    wide = re.search(r'<section id="by_game".*?</section>', shown, re.DOTALL)[0]
    assert '<table class="stack">' in wide
    assert '<td class="head"><span class="k">2031-09-05</span> Calder Falls</td>' in wide
    assert 'data-t="Wins"' in wide
    narrow = re.search(r'<section id="by_phase".*?</section>', shown, re.DOTALL)[0]
    assert "stack" not in narrow
