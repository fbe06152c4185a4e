"""Tables as people keep them, and values as they write them."""

from contextlib import suppress
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from reviewer.errors import InputError
from reviewer.intake.tables import match_headings, meaning, read_sheet
from reviewer.intake.values import read_date, read_int, read_jersey, read_seconds

NEEDED = (("jersey", "name"),)
ROSTER = "Tarn Hollow roster\n\nNo.;Player Name;Pos\n76;Teo Brandt;RT\n\n00;Ansel Öre;DE\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("separator", [";", ",", "\t", "|"])
def test_any_common_csv(tmp_path, encoding, separator):
    path = tmp_path / "roster.csv"
    path.write_bytes(ROSTER.replace(";", separator).encode(encoding))
    sheet = read_sheet(path, "roster", NEEDED)
    assert [(line.number, dict(line.cells)) for line in sheet.lines] == [
        (4, {"jersey": "76", "name": "Teo Brandt", "position": "RT"}),
        (6, {"jersey": "00", "name": "Ansel Öre", "position": "DE"}),
    ]


def test_a_workbook_with_numbers_and_dates(tmp_path):
    book = Workbook()
    book.active.title = "empty"
    sheet = book.create_sheet("Roster")
    sheet.append(["2031 roster"])
    sheet.append(["#", "First", "Last", "From"])
    sheet.append([76, "Teo", "Brandt", date(2031, 9, 1)])
    path = tmp_path / "roster.xlsx"
    book.save(path)
    (line,) = read_sheet(path, "roster", (("jersey", "last"),)).lines
    assert line.number == 3
    assert dict(line.cells) == {"jersey": "76", "first": "Teo", "last": "Brandt", "since": "2031-09-01"}


@pytest.mark.parametrize(
    ("heading", "name"),
    [
        ("JERSEY #", "jersey"),
        ("Uniform Number", "jersey"),
        ("Postion", "position"),
        ("player_name", "name"),
        ("Plyer name", "name"),
    ],
)
def test_headings_need_not_be_exact(heading, name):
    assert match_headings([heading], "roster") == ({0: name}, [])


def test_an_exact_heading_beats_a_close_one_and_the_rest_is_named():
    columns, unknown = match_headings(["Downs", "Down", "Weather"], "plays")
    assert columns == {1: "down"}
    assert unknown == ["Downs", "Weather"]


def test_values_by_meaning():
    assert meaning("places", "@") == "away"
    assert meaning("levels", "HS") == "high school"
    assert meaning("positions", "Left Tackle") == "LT"
    assert meaning("positions", "zebra") is None


def no_headings(path):
    path.write_text("a,b\n1,2\n")


def binary(path):
    path.write_bytes(b"\x00\x01\x02" * 50)


def old_workbook(path):
    path.write_bytes(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 100)


def broken_workbook(path):
    path.write_bytes(b"PK\x03\x04" + b"junk" * 20)


def empty(path):
    path.write_text("")


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda path: None, "There is no file"),
        (no_headings, "no headings for jersey and name .the first line reads: a, b"),
        (binary, "neither text nor a workbook"),
        (old_workbook, "save it as .xlsx or CSV"),
        (broken_workbook, "no workbook that can be read"),
        (empty, "the first line reads: nothing"),
    ],
)
def test_a_bad_file_is_one_sentence(tmp_path, make, says):
    path = tmp_path / "roster.csv"
    make(path)
    with pytest.raises(InputError, match=says):
        read_sheet(path, "roster", NEEDED)


@settings(deadline=None, max_examples=150)
@given(st.binary(max_size=300))
def test_no_bytes_are_a_traceback(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("any") / "any.csv"
    path.write_bytes(data)
    with suppress(InputError):
        read_sheet(path, "roster", NEEDED)


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2031-09-05", date(2031, 9, 5)), ("9/5/2031", date(2031, 9, 5)), ("25/9/2031", date(2031, 9, 25)),
        ("5.9.2031", date(2031, 9, 5)), ("9/5/31", date(2031, 9, 5)), ("Sep 5, 2031", date(2031, 9, 5)),
        ("September 5 2031", date(2031, 9, 5)), ("5 Sep. 2031", date(2031, 9, 5)),
        ("2031-09-05 19:30:00", date(2031, 9, 5)),
        ("13/13/2031", None), ("soon", None), ("", None),
    ],
)  # fmt: skip
def test_dates(text, day):
    assert read_date(text) == day


@pytest.mark.parametrize(
    ("text", "jersey"),
    [
        ("76", "76"),
        ("#76", "76"),
        ("No. 7", "7"),
        ("00", "00"),
        ("07", "07"),
        ("76.0", "76"),
        ("123", None),
        ("TBD", None),
    ],
)
def test_jerseys_as_worn(text, jersey):
    assert read_jersey(text) == jersey


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("75.5", 75.5),
        ("1:15.5", 75.5),
        ("01:02:03", 3723),
        ("1:02:03,5", 3723.5),
        ("90 sec", 90),
        ("1:75", None),
        ("x", None),
    ],
)
def test_times(text, seconds):
    assert read_seconds(text) == seconds


@pytest.mark.parametrize(
    ("text", "value"), [("+7", 7), ("−3", -3), ("1st", 1), ("3.0", 3), ("3.5", None), ("", None)]
)
def test_whole_numbers(text, value):
    assert read_int(text) == value


@pytest.mark.parametrize("heading", ["Jersey #", "Jersy #", "#", "No.", "Uni #", "Jersey#"])
def test_a_number_sign_beside_words_is_a_number(heading):
    columns, unknown = match_headings([heading, "Player Name", "Pos."], "roster")
    assert list(columns.values()) == ["jersey", "name", "position"]
    assert unknown == []
