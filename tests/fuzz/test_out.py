"""What goes out: spreadsheets, pages, lists and the terminal, with names and words that are attacks."""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from html.parser import HTMLParser
from pathlib import Path

import opentimelineio
import pytest
import webvtt
from openpyxl import load_workbook

from reviewer import store
from reviewer.reports.cuts.lists import edl, otio, vtt
from reviewer.reports.cuts.moments import Film, Moment
from reviewer.reports.cuts.timecode import read_rate
from reviewer.reports.document import Document
from reviewer.reports.formats import render, write
from reviewer.reports.formats.as_html import page
from reviewer.reports.reps import GameInfo
from reviewer.reports.scale import load_scale
from reviewer.reports.sheet import grade_sheet
from reviewer.reports.sheet_document import sheet_document
from reviewer.store import Library
from tests.conftest import Cli
from tests.fuzz.hostile import EVIL, unseen
from tests.reports.build import graded
from tests.store.scene import BLOCKS, new_note, scene

FORMULAS = ("=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1+1", "\r=1+1", "=cmd|' /C calc'!A0", " =1+1", "＝1+1")
SCRIPT = "\"><script>alert(1)</script><img src=x onerror=alert(1)>'--><![CDATA[x]]>"
BREAKS = "one\n001  FAKE V C 00:00:00:00\r\n* COMMENT: forged\x0bx\x85y\u2028z"
PIPES = "a | b \\| c \\\\| `d | e` [x](javascript:alert(1)) | |\n|---|"
ATTACKS = (*FORMULAS, SCRIPT, BREAKS, PIPES, EVIL)


def sheet_of(text: str) -> Document:
    """A sheet in which everything that a person can name or say is this text."""
    game = GameInfo(1, text, "2031-09-05", "home", "2031", "college")
    reps = [
        graded(
            1, words=text, coach_note=text, note=text, name=text, game=game, techniques=[text], moves=[text]
        ),
        graded(2, "loss", words=text, game=game, faults=[text], opponents=["91"], set=text, phase="pass"),
    ]
    return sheet_document(grade_sheet(reps, load_scale(), "74"))


@pytest.mark.parametrize("text", ATTACKS, ids=range(len(ATTACKS)))
def test_text_stays_text_in_csv(text: str) -> None:
    """No program that opens the file may compute a cell; what was said is still all there.

    A leading apostrophe is the common guard (common practice, no source).
    """
    records = list(csv.reader(io.StringIO(render(sheet_of(text), "csv"), newline="")))
    assert len({len(record) for record in records}) == 1
    for cell in (cell for record in records for cell in record):
        assert not re.match(r"\s*[=+@＝]", cell), cell
        assert not re.match(r"\s*-(?![\d.]+$)", cell), cell
        assert not cell.startswith(("\t", "\r"))
    header, first, _ = records
    assert dict(zip(header, first, strict=True))["words"].removeprefix("'").strip() == text.strip()


@pytest.mark.parametrize("text", ATTACKS, ids=range(len(ATTACKS)))
def test_text_stays_text_in_a_workbook(text: str, tmp_path: Path) -> None:
    path = write(sheet_of(text), "xlsx", tmp_path / "sheet.xlsx")
    book = load_workbook(path)
    kinds = {cell.data_type for sheet in book for row in sheet.iter_rows() for cell in row}
    assert "f" not in kinds
    with zipfile.ZipFile(path) as parts:
        for name in parts.namelist():
            data = parts.read(name).decode("utf-8", "replace")
            assert "<f>" not in re.sub(r"<c:f>.*?</c:f>", "", data) or "chart" in name
            assert "externalLink" not in name
            assert "<hyperlink " not in data


@pytest.mark.parametrize("text", ATTACKS, ids=range(len(ATTACKS)))
def test_markdown_keeps_its_columns_and_its_lines(text: str) -> None:
    lines = render(sheet_of(text), "md").split("\n")
    assert unseen("\n".join(lines)) == []
    width = 0
    for line in lines:
        if not line.startswith("|"):
            width = 0
            continue
        cells = len(re.findall(r"(?<!\\)(?:\\\\)*\|", line))
        width = width or cells
        assert cells == width, line
    assert "<script" not in "\n".join(lines).replace("\\<", "")
    # a cell that is opened in a spreadsheet after all
    assert not [line for line in lines if re.match(r"\| *[=@]", line) and "\\" not in line]


class _Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))


@pytest.mark.parametrize("text", ATTACKS, ids=range(len(ATTACKS)))
def test_a_page_has_no_tags_but_those_of_plain_text(text: str) -> None:
    found, plain = _Page(), _Page()
    found.feed(page(sheet_of(text)))
    plain.feed(page(sheet_of("plain words")))
    assert {tag for tag, _ in found.tags} <= {tag for tag, _ in plain.tags}
    tags, usual = ([tag for tag, _ in one.tags] for one in (found, plain))
    assert [tags.count(tag) for tag in ("script", "style", "meta")] == [
        usual.count(tag) for tag in ("script", "style", "meta")
    ]
    for _, attributes in found.tags:
        assert not [name for name in attributes if name.startswith("on")]
        assert not str(attributes.get("href") or "").lower().startswith("javascript")


@pytest.mark.parametrize("text", [EVIL, BREAKS], ids=["escapes", "breaks"])
@pytest.mark.parametrize("format_", ["table", "md", "json"])
def test_nothing_in_a_report_acts_on_the_terminal(text: str, format_: str) -> None:
    assert unseen(render(sheet_of(text), format_, words=True, width=300)) == []


@pytest.mark.parametrize("text", ATTACKS, ids=range(len(ATTACKS)))
def test_a_pdf_is_made_all_the_same(text: str, tmp_path: Path) -> None:
    assert write(sheet_of(text), "pdf", tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF-")


def moments(text: str) -> list[Moment]:
    film = Film(text, read_rate("30"), None, 0)
    return [
        Moment(film, first, first + 90, f"rep {n} {text}", "win", (f"74: {text}",))
        for n, first in enumerate((0, 300), 1)
    ]


@pytest.mark.parametrize("text", ATTACKS, ids=range(len(ATTACKS)))
def test_names_forge_no_line_of_a_cut_list(text: str, tmp_path: Path) -> None:
    told = edl(moments(text), text)
    assert unseen(told) == []
    lines = told.split("\n")
    assert [line[:3] for line in lines if re.match(r"\d", line)] == ["001", "002"]
    assert len([line for line in lines if line.startswith("* COMMENT")]) == 2
    assert all(line.startswith(("TITLE: ", "FCM: ", "0", "* ")) for line in lines if line)
    path = tmp_path / "list.vtt"
    path.write_text(vtt(moments(text)), "utf-8")
    assert len(webvtt.read(str(path)).captions) == 2
    assert unseen(path.read_text("utf-8")) == []
    assert "<script" not in path.read_text("utf-8")
    told = otio(moments(text), text)
    timeline = opentimelineio.adapters.read_from_string(told, "otio_json")
    assert len(timeline.tracks[0]) == 2
    assert json.loads(told)["name"] == text
    assert unseen(told) == []


@pytest.fixture
def hostile_book() -> None:
    """The user's own grade book with notes, teams and words that are attacks."""
    with Library.open() as library:
        for number, text in enumerate((EVIL, SCRIPT, BREAKS)):
            said = text.replace("\n", " ")
            blocks = tuple((rep, f"{words} {said} seals", rows) for rep, words, rows in BLOCKS)
            note = store.add_note(library, new_note(f"d{number}", title=f"half {text}"), scene(blocks))
            store.rename_note(library, note, f"half {text}")


COMMANDS = (
    ("notes",),
    ("search", "seals"),
    ("search", "seals", "--json"),
    ("notes", "--json"),
    ("search", EVIL),
    ("search", f"{EVIL}:x"),
    ("search", f'"{EVIL}"'),
    ("sheet", "--player", "76"),
    ("sheet", "--player", "76", "--words"),
    ("sheet", "--player", EVIL),
    ("sheet", "--player", "76", "--format", "md"),
    ("cutlist", "seals", "--format", "vtt"),
    ("cutlist", EVIL, "--format", "edl"),
    ("opponent", EVIL),
    ("review", EVIL),
    ("grade", f"{EVIL.replace('/', '')}.wav"),
    ("grade", "x.txt", "--player", EVIL),
    ("model", EVIL),
    ("vocabulary", EVIL),
    ("restore", EVIL),
    ("plays", "import", EVIL, "--game", EVIL),
    ("sheet", f"--{EVIL}"),
    (EVIL,),
)


@pytest.mark.parametrize("arguments", COMMANDS, ids=range(len(COMMANDS)))
def test_no_command_lets_a_name_act_on_the_terminal(
    arguments: tuple[str, ...], hostile_book: None, cli: Cli
) -> None:
    ran = cli(*arguments)
    assert ran.out or ran.err
    assert unseen(ran.out + ran.err) == []
    assert "Traceback" not in ran.err
