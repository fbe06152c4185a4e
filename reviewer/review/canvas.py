"""Lines of styled text with what a click on them means: what the review draws, without a terminal.

A style is a name (see `reviewer.screens.lines`); a tag is what lies under the mouse, as a pair of a
kind and a value: ("slot", "verdict"), ("word", 12), ("row", 7), ("act", "undo").
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

Tag = tuple[str, Any]


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of a line in one style; `tag` is what a click on it means, None for nothing."""

    text: str
    style: str = ""
    tag: Tag | None = None


Line = tuple[Span, ...]


def cells(text: str) -> int:
    """Columns that a text takes on a terminal."""
    if text.isascii():
        return len(text)
    from rich.cells import cell_len

    return cell_len(text)


def width_of(line: Iterable[Span]) -> int:
    """Columns that a line takes."""
    return sum(cells(span.text) for span in line)


def clipped(text: str, width: int) -> str:
    """The text in at most `width` columns, with "…" where it was cut."""
    if cells(text) <= width:
        return text
    if width <= 0:
        return ""
    from rich.cells import set_cell_size

    return set_cell_size(text, width - 1).rstrip() + "…"


def padded(text: str, width: int) -> str:
    """The text in exactly `width` columns."""
    short = clipped(text, width)
    return short + " " * (width - cells(short))


def fitted(line: Sequence[Span], width: int) -> Line:
    """A line in at most `width` columns, cut at its end."""
    result: list[Span] = []
    left = width
    for span in line:
        size = cells(span.text)
        if size > left:
            result.append(Span(clipped(span.text, left), span.style, span.tag))
            break
        result.append(span)
        left -= size
    return tuple(result)


def both_ends(left: Sequence[Span], right: Sequence[Span], width: int) -> Line:
    """A line with one part at each end; where it is narrow the left part is cut first."""
    right = fitted(right, width)
    room = width - width_of(right) - 1
    short = fitted(left, max(0, room))
    gap = width - width_of(short) - width_of(right)
    return (*short, Span(" " * max(0, gap)), *right)


def wrapped(text: str, width: int, style: str = "") -> list[Line]:
    """A text on as many lines as it needs."""
    from rich.console import Console
    from rich.text import Text

    if not text:
        return []
    console = Console(width=max(1, width), color_system=None, legacy_windows=False)
    return [(Span(part.plain.rstrip(), style),) for part in Text(text).wrap(console, max(1, width))]


def tag_at(line: Sequence[Span], column: int) -> Tag | None:
    """What lies under a column of a line."""
    at = 0
    for span in line:
        at += cells(span.text)
        if column < at:
            return span.tag
    return None
