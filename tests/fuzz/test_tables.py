"""Rosters, games and play lists: CSV and workbooks."""

from __future__ import annotations

import csv
import io
import tracemalloc
import zipfile
from functools import lru_cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewer.errors import InputError
from reviewer.intake.games import import_games, read_games
from reviewer.intake.plays import read_plays
from reviewer.intake.rosters import import_roster, read_roster
from reviewer.intake.tables import MOST_BYTES, read_sheet
from reviewer.pipeline.roster_file import read_note_roster
from reviewer.store import Library
from reviewer.store.rosters import games, teams
from tests.fuzz.hostile import EVIL, file_of, fuzzed, result_or_sentence, spoilt
from tests.talk import ROSTER_CSV

ROSTER = b"""Number,Name,Position,Team,Season,From,To
74,Wes Tillery,RT,Tarn,2031,2031-09-01,
00,"Orr, Al",C,Tarn,2031,,
"""
GAMES = b"""Date;Opponent;Place;Level;Season
9/5/2031;@ Calder Falls;away;college;2031
;vs Norwick;;high school;2031
"""
PLAYS = b"""Play|Qtr|Clock|Down|Dist|Yard line|Type|Play call|Gain|Result|Film
1|1|14:55|1|10|-25|Run|inside zone|4|gain|0:01:15
2|1|14:20|2nd|6|+40|Pass|screen||incomplete|95.5
"""
SAMPLES = [ROSTER, GAMES, PLAYS, ROSTER_CSV.encode()]


def workbook(rows: list[list[object]]) -> bytes:
    from openpyxl import Workbook

    book = Workbook()
    for row in rows:
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


@lru_cache(maxsize=1)
def parts() -> dict[str, bytes]:
    """The files inside a workbook of a roster."""
    rows: list[list[object]] = [list(row) for row in csv.reader(io.StringIO(ROSTER.decode()))]
    with zipfile.ZipFile(io.BytesIO(workbook(rows))) as book:
        return {name: book.read(name) for name in book.namelist()}


def zipped(inside: dict[str, bytes], how: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", how) as book:
        for name, data in inside.items():
            book.writestr(name, data)
    return out.getvalue()


def read_all(path: Path) -> None:
    result_or_sentence(lambda: read_roster(path, "Tarn", "2031", "college"))
    result_or_sentence(lambda: read_games(path, "2031"))
    result_or_sentence(lambda: read_plays(path))
    result_or_sentence(lambda: read_note_roster(path))


@fuzzed(150)
@given(spoilt(SAMPLES))
def test_csv(data: bytes) -> None:
    with file_of(data, "list.csv") as path:
        read_all(path)


@fuzzed(40)
@given(st.data())
def test_a_workbook_whose_bytes_are_spoilt(data: st.DataObject) -> None:
    with file_of(data.draw(spoilt([zipped(parts())])), "list.xlsx") as path:
        read_all(path)


@fuzzed(60)
@given(st.data())
def test_a_workbook_whose_parts_are_spoilt(data: st.DataObject) -> None:
    inside = dict(parts())
    name = data.draw(st.sampled_from(sorted(inside)))
    inside[name] = data.draw(spoilt([inside[name]]))
    if data.draw(st.integers(0, 4)) == 0:
        del inside[data.draw(st.sampled_from(sorted(inside)))]
    with file_of(zipped(inside), "list.xlsx") as path:
        read_all(path)


@fuzzed(40)
@given(spoilt([ROSTER, GAMES]))
def test_nothing_is_half_imported(data: bytes) -> None:
    with file_of(data, "list.csv") as path, Library.memory() as library:
        roster = result_or_sentence(lambda: import_roster(library, path, team="Tarn", season="2031"))
        assert (roster is None) == (not teams(library))
    with file_of(data, "list.csv") as path, Library.memory() as library:
        saved = result_or_sentence(lambda: import_games(library, path, season="2031"))
        assert len(games(library)) == (len(set(saved.saved)) if saved else 0)


def refused(path: Path, sentence: str, most_memory: int = 20_000_000) -> None:
    tracemalloc.start()
    try:
        with pytest.raises(InputError, match=sentence):
            read_sheet(path, "roster", (("jersey", "name"),))
        assert tracemalloc.get_traced_memory()[1] < most_memory
    finally:
        tracemalloc.stop()


def test_a_workbook_that_swells_when_it_is_unpacked(tmp_path: Path) -> None:
    """300 MB of zeros in 300 kB, by ratio and by size; what the header says is not believed."""
    path = tmp_path / "bomb.xlsx"
    block = b"\0" * (1 << 20)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as book:
        for name, data in parts().items():
            book.writestr(name, data)
        with book.open("xl/media/image1.png", "w", force_zip64=True) as out:
            for _ in range(300):
                out.write(block)
    assert path.stat().st_size < 3_000_000
    refused(path, "unpack")


def test_a_workbook_that_lies_about_its_size(tmp_path: Path) -> None:
    inside = dict(parts())
    sheet = "xl/worksheets/sheet1.xml"
    inside[sheet] = inside[sheet].replace(b"<sheetData>", b"<sheetData>" + b" " * 60_000_000)
    data = bytearray(zipped(inside))
    # both headers of the sheet now say that it is small
    for mark, at in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        place = -1
        while (place := data.find(mark, place + 1)) >= 0:
            if sheet.encode() in data[place : place + 100]:
                data[place + at : place + at + 4] = (5000).to_bytes(4, "little")
    path = tmp_path / "liar.xlsx"
    path.write_bytes(bytes(data))
    refused(path, "no workbook that can be read|unpack")


def test_a_sheet_of_too_many_rows(tmp_path: Path) -> None:
    """Sixty thousand rows are no list, whatever little room they take."""
    inside = dict(parts())
    sheet = "xl/worksheets/sheet1.xml"
    rows = b"".join(b'<row r="%d"><c r="A%d"><v>1</v></c></row>' % (n, n) for n in range(10, 60_000))
    inside[sheet] = inside[sheet].replace(b"</sheetData>", rows + b"</sheetData>")
    path = tmp_path / "many.xlsx"
    path.write_bytes(zipped(inside, zipfile.ZIP_STORED))
    refused(path, "more than 50000 lines", 80_000_000)


def test_a_cell_far_away_makes_no_wide_row(tmp_path: Path) -> None:
    inside = dict(parts())
    sheet = "xl/worksheets/sheet1.xml"
    rows = b"".join(b'<row r="%d"><c r="XFD%d"><v>1</v></c></row>' % (n, n) for n in range(10, 2000))
    inside[sheet] = inside[sheet].replace(b"</sheetData>", rows + b"</sheetData>")
    path = tmp_path / "wide.xlsx"
    path.write_bytes(zipped(inside))
    with pytest.raises(InputError, match=r"more than \d+ columns"):
        read_sheet(path, "roster", (("jersey", "name"),))


ENTITIES = {
    "a billion laughs": b'<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "'
    + b"&a;" * 50
    + b'"><!ENTITY c "'
    + b"&b;" * 50
    + b'"><!ENTITY d "'
    + b"&c;" * 50
    + b'">]>',
    "a file of the machine": b'<!DOCTYPE x [<!ENTITY d SYSTEM "file:///etc/passwd">]>',
    "a place in a network": b'<!DOCTYPE x SYSTEM "http://127.0.0.1:9/x.dtd">',
}


@pytest.mark.parametrize("head", ENTITIES.values(), ids=ENTITIES.keys())
@pytest.mark.parametrize("name", ["xl/styles.xml", "xl/workbook.xml", "xl/worksheets/sheet1.xml"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_workbook_with_entities(tmp_path: Path, head: bytes, name: str, encoding: str) -> None:
    inside = dict(parts())
    body = inside[name].split(b"?>", 1)[-1]
    body = body.replace(b"Wes", b"&d;") if b"ENTITY d" in head else body
    text = (b'<?xml version="1.0" encoding="' + encoding.encode() + b'"?>' + head + body).decode()
    inside[name] = text.encode(encoding)
    path = tmp_path / "laughs.xlsx"
    path.write_bytes(zipped(inside))
    refused(path, "declares entities|no workbook that can be read")


def test_paths_inside_a_workbook_lead_nowhere(tmp_path: Path) -> None:
    inside = dict(parts()) | {"../../out.txt": b"x", "/abs.txt": b"x", "xl/../../../up.txt": b"x"}
    folder = tmp_path / "deep" / "er"
    folder.mkdir(parents=True)
    path = folder / "paths.xlsx"
    path.write_bytes(zipped(inside))
    assert len(read_sheet(path, "roster", (("jersey", "name"),)).lines) == 2
    assert sorted(p.name for p in tmp_path.rglob("*")) == ["deep", "er", "paths.xlsx"]


def test_a_link_as_a_list_is_read_as_what_it_points_to(tmp_path: Path) -> None:
    (tmp_path / "roster.csv").symlink_to("/dev/zero")
    with pytest.raises(InputError, match=r"There is no file|is larger"):
        read_sheet(tmp_path / "roster.csv", "roster", (("jersey", "name"),))


@pytest.mark.parametrize(
    "line", [b"x" * 10_000_000, b"," * 10_000_000, b'"' * 9_999_999, b"1,2\n" * 60_000], ids=range(4)
)
def test_lists_of_absurd_lines(tmp_path: Path, line: bytes) -> None:
    path = tmp_path / "list.csv"
    path.write_bytes(b"Number,Name\n74," + line)
    assert path.stat().st_size < MOST_BYTES
    result_or_sentence(lambda: read_sheet(path, "roster", (("jersey", "name"),)))


def test_names_from_a_list_do_not_act_on_the_terminal(tmp_path: Path, cli: object) -> None:
    from tests.fuzz.hostile import unseen

    path = tmp_path / "roster.csv"
    path.write_text(f"Number,Name,Position\n74,Wes {EVIL},{EVIL}\n7x,{EVIL},RT\n", "utf-8")
    games_csv = tmp_path / "games.csv"
    games_csv.write_text(f"Date,Opponent,Place\n2031-09-05,Stags {EVIL},{EVIL}\n{EVIL},x,\n", "utf-8")
    for arguments in (
        ("roster", "import", path, "--team", f"Tarn{EVIL}", "--season", f"2031{EVIL}"),
        ("roster", "show", f"Tarn{EVIL}"),
        ("game", "import", games_csv),
        ("game", "show"),
        ("roster", "show", EVIL),
        ("game", "import", games_csv, f"--{EVIL}"),
        (EVIL,),
    ):
        ran = cli(*arguments)  # type: ignore[operator]
        assert ran.out or ran.err
        assert unseen(ran.out + ran.err) == [], arguments
