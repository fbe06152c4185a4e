"""Captions and plain text as notes."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewer.errors import InputError
from reviewer.language.tokens import words_from_text
from reviewer.pipeline.source import open_source, spoken_words
from reviewer.records import Word
from reviewer.speech.captions import MOST_BYTES, read_captions, write_srt, write_vtt
from tests.fuzz.hostile import EVIL, file_of, fuzzed, result_or_sentence, spoilt
from tests.talk import TEXT

VTT = b"""WEBVTT

NOTE made by hand

one
00:00:01.000 --> 00:00:04.500 align:start
First and ten, <b>outside zone</b>.
Number 91 is over him.

00:00:05.000 --> 00:01:00.000
He reaches him &amp; seals the edge.
"""
SRT = b"""1
00:00:01,000 --> 00:00:04,500
First and ten, {\\an8}outside zone.

2
00:00:05,000 --> 00:01:00,000
That's a win.
"""


@fuzzed(120)
@given(spoilt([VTT, SRT]), st.sampled_from(["note.vtt", "note.srt"]))
def test_captions(data: bytes, name: str) -> None:
    with file_of(data, name) as path:
        words = result_or_sentence(lambda: read_captions(path))
    if words is not None:
        assert words
        assert all(0 <= word.start <= word.end < 1e9 for word in words)
        assert all(word.text == word.text.strip() != "" for word in words)


@fuzzed(60)
@given(spoilt([TEXT.encode()]))
def test_text(data: bytes) -> None:
    with file_of(data, "note.txt") as path:
        words = result_or_sentence(lambda: spoken_words(open_source(path)))
    if words is not None:
        assert words
        assert all(word.text.strip() for word in words)


@pytest.mark.parametrize("hours", ["99999", "9" * 20, "9" * 5000], ids=["5", "20", "5000"])
def test_a_cue_of_absurd_hours(tmp_path: Path, hours: str) -> None:
    path = tmp_path / "long.vtt"
    path.write_text(f"WEBVTT\n\n00:00:01.000 --> {hours}:00:00.000\nwin\n")
    with pytest.raises(InputError, match=r"line 3: .* 1000 hours or more"):
        read_captions(path)


@pytest.mark.parametrize(
    "line", [b"x" * 10_000_000, b"win " * 2_500_000, b"<" * 10_000_000], ids=["x", "win", "<"]
)
def test_a_line_of_ten_megabytes_is_refused_before_it_is_read(tmp_path: Path, line: bytes) -> None:
    captions, text = tmp_path / "long.vtt", tmp_path / "long.txt"
    captions.write_bytes(b"WEBVTT\n\n00:01.000 --> 00:02.000\n" + line)
    text.write_bytes(line)
    tracemalloc.start()
    with pytest.raises(InputError, match=f"larger than {MOST_BYTES // 1_000_000} MB"):
        read_captions(captions)
    with pytest.raises(InputError, match="larger than 5 MB"):
        open_source(text)
    assert tracemalloc.get_traced_memory()[1] < 12_000_000
    tracemalloc.stop()


@pytest.mark.parametrize(
    "text",
    ["x" * 300_000, "<" * 100_000, "&" * 100_000, "a.b" * 60_000, "'" * 100_000],
    ids=["x", "<", "&", "a.b", "quote"],
)
def test_long_lines_take_no_long_time(tmp_path: Path, text: str) -> None:
    """Each of these would take minutes where the work grows with the square of the length."""
    path = tmp_path / "long.vtt"
    path.write_text(f"WEBVTT\n\n00:01.000 --> 00:02.000\n{text}\n")
    result_or_sentence(lambda: read_captions(path))
    words_from_text(text)


def test_written_captions_keep_what_was_said_from_being_markup(tmp_path: Path) -> None:
    said = ["<script>x</script>", "-->", EVIL, "</v>", "&lt;", "NOTE", "WEBVTT", "12", "=cmd"]
    words = [Word(text, float(n), n + 0.5) for n, text in enumerate(said)]
    for ending, text in (("vtt", write_vtt(words)), ("srt", write_srt(words))):
        assert "\x1b" not in text
        assert "\x85" not in text
        path = tmp_path / f"out.{ending}"
        path.write_text(text, "utf-8")
        back = " ".join(word.text for word in read_captions(path))
        assert back.endswith("&lt; NOTE WEBVTT 12 =cmd")
        # SubRip has no way to write a "<" that is none of its tags
        assert ending == "srt" or back.startswith("<script>x</script> →")
