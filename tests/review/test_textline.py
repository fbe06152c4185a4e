"""A line being typed."""

from __future__ import annotations

import pytest

from reviewer.review.canvas import width_of
from reviewer.review.textline import TextLine


def typed(start: str, *keys: str, whole: bool = False) -> TextLine:
    line = TextLine(start, whole)
    for key in keys:
        line.key(key, key if len(key) == 1 else {"space": " "}.get(key))
    return line


@pytest.mark.parametrize(
    ("start", "keys", "text", "at"),
    [
        ("", ("a", "b"), "ab", 2),
        ("ab", ("left", "x"), "axb", 2),
        ("ab", ("home", "x", "end", "y"), "xaby", 4),
        ("ab", ("backspace",), "a", 1),
        ("ab", ("home", "delete"), "b", 0),
        ("ab", ("home", "backspace", "left"), "ab", 0),
        ("one two", ("ctrl+w",), "one", 3),
        ("one two", ("ctrl+u",), "", 0),
        ("a", ("space", "é"), "a é", 3),
    ],
)
def test_keys_of_typing(start: str, keys: tuple[str, ...], text: str, at: int) -> None:
    line = typed(start, *keys)
    assert (line.text, line.at) == (text, at)


def test_an_offered_text_is_replaced_by_typing_and_kept_by_moving() -> None:
    assert typed("old", "n", whole=True).text == "n"
    assert typed("old", "left", "n", whole=True).text == "olnd"
    assert typed("old", "backspace", whole=True).text == ""


def test_other_keys_are_not_taken() -> None:
    line = TextLine("a")
    assert not line.key("f2", None)
    assert not line.key("enter", "\r")
    assert line.text == "a"


@pytest.mark.parametrize("width", [4, 10, 40])
def test_it_is_drawn_within_the_width_with_the_cursor_in_view(width: int) -> None:
    line = TextLine("a long text with 漢字 and \x1b signs")
    for _ in range(len(line.text) + 1):
        drawn = line.line(width, "hint")
        assert width_of(drawn) <= width
        assert [span.style for span in drawn].count("chosen") == 1
        assert "\x1b" not in "".join(span.text for span in drawn)
        line.key("left", None)
    assert width_of(TextLine().line(width, "a long hint")) <= width
