"""Captions: W3C WebVTT's rules, SubRip, rolled-up lines, and out-and-in again."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewer.errors import InputError
from reviewer.records import Word
from reviewer.speech.captions import read_captions, write_srt, write_vtt

WORDS = [
    Word("Set", 1.0, 1.25, 0.9),
    Word("two,", 1.25, 1.75, 0.4),
    Word("jump", 1.75, 2.0, 0.8),
    Word("set.", 2.0, 2.5, 0.8),
    Word("Wins", 9.125, 9.5, 0.8),
    Word("it", 9.5, 9.625, 0.8),
    Word("<clean>", 9.625, 10.0, 0.8),
    Word("&", 10.0, 10.1, 0.8),
    Word("quick.", 10.1, 10.5, 0.8),
]


def put(folder: Path, text: str, name: str = "talk.vtt") -> Path:
    path = folder / name
    path.write_bytes(text.encode("utf-8"))
    return path


def vtt(body: str) -> str:
    return f"WEBVTT\n\n{body}"


# W3C WebVTT, Editor's Draft of May 2026, sections 4.1 and 4.2: (what stands in the file, ok?)
ACCEPTED = {
    "short time": vtt("00:01.000 --> 00:02.000\nhe wins\n"),
    "long hours": vtt("00:01.000 --> 100:00:01.000\nhe wins\n"),
    "byte order mark, text after the name": "\ufeffWEBVTT - film room\n\n00:01.000 --> 00:02.000\nhe wins\n",
    "tab after the name": "WEBVTT\tx\n\n00:01.000 --> 00:02.000\nhe wins\n",
    "carriage returns": vtt("00:01.000 --> 00:02.000\nhe wins\n").replace("\n", "\r\n"),
    "settings": vtt("00:01.000 --> 00:02.000 align:start line:0\nhe wins\n"),
    "overlap": vtt("00:01.000 --> 00:04.000\nhe\n\n00:02.000 --> 00:03.000\nwins\n"),
    "note and style": vtt(
        "NOTE he loses\n\nSTYLE\n::cue { color: red }\n\n1\n00:01.000 --> 00:02.000\nhe wins"
    ),
    "tags and voice": vtt("00:01.000 --> 00:02.000\n<v Coach>he <b>wins</b>\n"),
}
REFUSED = {
    "comma": (vtt("00:01,000 --> 00:02,000\nhe wins\n"), 3, "is no pair of times"),
    "seconds 60": (vtt("00:01.000 --> 00:60.000\nhe wins\n"), 3, "is no pair of times"),
    "two decimals": (vtt("00:01.00 --> 00:02.000\nhe wins\n"), 3, "is no pair of times"),
    "no space at the arrow": (vtt("00:01.000-->00:02.000\nhe wins\n"), 3, "is no pair of times"),
    "end before start": (vtt("x\n00:02.000 --> 00:01.000\nhe wins\n"), 4, "ends before it starts"),
    "no length": (vtt("00:02.000 --> 00:02.000\nhe wins\n"), 3, "ends before it starts"),
    "start goes back": (
        vtt("00:05.000 --> 00:06.000\nhe\n\n00:01.000 --> 00:02.000\nwins\n"),
        6,
        "starts before the one above it",
    ),
    "no empty line after the name": ("WEBVTT\n00:01.000 --> 00:02.000\nhe wins\n", 2, "an empty line must"),
    "small letters": ("webvtt\n\n00:01.000 --> 00:02.000\nhe wins\n", 1, "WEBVTT in capitals"),
    "joined to the name": ("WEBVTTX\n\n00:01.000 --> 00:02.000\nhe wins\n", 1, "WEBVTT in capitals"),
    "same name twice": (
        vtt("a\n00:01.000 --> 00:02.000\nhe\n\na\n00:03.000 --> 00:04.000\nwins\n"),
        7,
        "was used before",
    ),
    "no empty line between cues": (
        vtt("00:01.000 --> 00:02.000\nhe\n00:03.000 --> 00:04.000\nwins\n"),
        4,
        "an empty line must stand between",
    ),
    "empty line in a cue": (vtt("00:01.000 --> 00:02.000\nhe\n\nwins\n"), 6, "belongs to no cue"),
}


@pytest.mark.parametrize("text", ACCEPTED.values(), ids=ACCEPTED.keys())
def test_what_the_rules_allow_is_read(tmp_path: Path, text: str) -> None:
    assert [word.text for word in read_captions(put(tmp_path, text))] == ["he", "wins"]


@pytest.mark.parametrize(("text", "line", "what"), REFUSED.values(), ids=REFUSED.keys())
def test_what_the_rules_forbid_is_refused_with_its_line(
    tmp_path: Path, text: str, line: int, what: str
) -> None:
    with pytest.raises(InputError) as refused:
        read_captions(put(tmp_path, text))
    message = str(refused.value)
    assert message.startswith(f"talk.vtt, line {line}: ")
    assert what in message
    assert "\n" not in message


def test_times_are_spread_by_letters(tmp_path: Path) -> None:
    words = read_captions(put(tmp_path, vtt("00:01.000 --> 00:02.750\nhe pancakes\n")))
    assert words == [Word("he", 1.0, 1.35), Word("pancakes", 1.35, 2.75)]


def test_character_references_are_letters(tmp_path: Path) -> None:
    words = read_captions(put(tmp_path, vtt("00:01.000 --> 00:02.000\nX&amp;O &lt;go&gt;\n")))
    assert [word.text for word in words] == ["X&O", "<go>"]


def test_subrip_with_comma_point_tags_and_placing(tmp_path: Path) -> None:
    text = (
        "\ufeff1\r\n00:00:01,500 --> 00:00:02,000\r\n{\\an8}<i>he</i>\r\nwins\r\n\r\n"
        "2\r\n00:00:03.000 --> 00:00:04.000\r\nclean & quick\r\n"
    )
    words = read_captions(put(tmp_path, text, "talk.srt"))
    assert [word.text for word in words] == ["he", "wins", "clean", "&", "quick"]
    assert (words[0].start, words[1].end, words[2].start) == (1.5, 2.0, 3.0)


def test_subrip_may_be_out_of_order(tmp_path: Path) -> None:
    text = "1\n00:00:03,000 --> 00:00:04,000\nwins\n\n2\n00:00:01,000 --> 00:00:02,000\nhe\n"
    assert [word.text for word in read_captions(put(tmp_path, text, "talk.srt"))] == ["he", "wins"]


def test_subrip_error_has_its_line(tmp_path: Path) -> None:
    text = "1\n00:00:03,000 --> 00:00:04,000\nwins\n\n2\n00:00:05,000 -> 00:00:06,000\nhe\n"
    with pytest.raises(InputError, match=r"^talk.srt, line 5: this text belongs to no cue"):
        read_captions(put(tmp_path, text, "talk.srt"))


def test_rolled_lines_are_said_once(tmp_path: Path) -> None:
    body = (
        "00:01.000 --> 00:02.000\nsecond and eight\n\n"
        "00:02.000 --> 00:02.010\nsecond and eight\n\n"
        "00:02.010 --> 00:04.000\nsecond and eight\ninside zone left\n"
    )
    words = read_captions(put(tmp_path, vtt(body)))
    assert " ".join(word.text for word in words) == "second and eight inside zone left"


def test_the_same_words_in_two_cues_were_said_twice(tmp_path: Path) -> None:
    body = "00:01.000 --> 00:02.000\nwatch his hands\n\n00:02.000 --> 00:03.000\nwatch his hands\n"
    words = read_captions(put(tmp_path, vtt(body)))
    assert " ".join(word.text for word in words) == "watch his hands watch his hands"


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"", "holds no captions"),
        (b"he wins the rep\n", "belongs to no cue"),
        (b"WEBVTT\n", "holds no captions"),
        (b"WEBVTT\n\n00:01.000 --> 00:02.000\n", "holds no captions"),
        (b"WEBVTT\n\n00:01.000 --> 00:02.000\nna\xefve\n", "line 4: this is not UTF-8"),
        (b"\xff\xfe\x00\x01", "line 1: this is not UTF-8"),
    ],
)
def test_no_captions_is_one_sentence(tmp_path: Path, data: bytes, what: str) -> None:
    path = tmp_path / "talk.vtt"
    path.write_bytes(data)
    with pytest.raises(InputError, match=what):
        read_captions(path)


def test_missing_file_and_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no file"):
        read_captions(tmp_path / "none.vtt")
    with pytest.raises(InputError, match="cannot be read"):
        read_captions(tmp_path)


def test_written_captions_cut_at_pauses_and_escape(tmp_path: Path) -> None:
    assert write_vtt(WORDS) == (
        "WEBVTT\n\n00:00:01.000 --> 00:00:02.500\nSet two, jump set.\n\n"
        "00:00:09.125 --> 00:00:10.500\nWins it &lt;clean&gt; &amp; quick.\n"
    )
    assert write_srt(WORDS) == (
        "1\n00:00:01,000 --> 00:00:02,500\nSet two, jump set.\n\n"
        "2\n00:00:09,125 --> 00:00:10,500\nWins it <clean> & quick.\n"
    )


def test_nothing_said_is_an_empty_file() -> None:
    assert write_vtt([]) == "WEBVTT\n"


_text = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S")), min_size=1, max_size=12)


@given(spoken=st.lists(st.tuples(_text, st.integers(0, 3000), st.integers(0, 2000)), min_size=1, max_size=40))
def test_what_is_written_can_be_read_again(
    spoken: list[tuple[str, int, int]], tmp_path_factory: pytest.TempPathFactory
) -> None:
    words, at = [], 0
    for text, pause, length in spoken:
        words.append(Word(text, (at + pause) / 1000, (at + pause + length) / 1000))
        at += pause + length
    path = tmp_path_factory.mktemp("captions") / "talk.vtt"
    path.write_text(write_vtt(words), "utf-8")
    again = read_captions(path)
    expected = "".join(word.text for word in words).replace("-->", "→")
    assert "".join(word.text for word in again) == expected
    assert all(word.end >= word.start for word in again)
