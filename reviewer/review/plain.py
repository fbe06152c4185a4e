"""Text from outside, made harmless for a terminal."""

from __future__ import annotations

import re
import unicodedata

_REPLACED = "\N{REPLACEMENT CHARACTER}"
_PICTURES = 0x2400
_DELETE = 0x7F
_JOINERS = "\u200c\u200d"
"""Zero-width joiners belong to how some scripts and pictures are written."""


def plain(text: str) -> str:
    """The text on one line with nothing in it that a terminal would act on.

    Escape and other control characters are shown as their pictures ("␛"), characters that reorder
    text as "�"; line breaks and tabs become blanks. What is stored keeps every character.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(_shown(char) for char in text)


def _shown(char: str) -> str:
    kind = unicodedata.category(char)
    if char in "\t\n\r\v\f" or kind in {"Zl", "Zp"}:
        return " "
    if kind == "Cc":
        code = ord(char)
        if code < 0x20:
            return chr(_PICTURES + code)
        return "\N{SYMBOL FOR DELETE}" if code == _DELETE else _REPLACED
    if kind == "Cf":
        return char if char in _JOINERS else _REPLACED
    return _REPLACED if kind in {"Cs", "Co", "Cn"} else char


_ACTS = re.compile("[\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")


def plain_json(text: str) -> str:
    """A JSON text that means the same, with nothing in it that a terminal would act on.

    JSON itself escapes the lower control characters; these are the others, and marks that reorder text.
    """
    return _ACTS.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def clock(seconds: float) -> str:
    """Seconds as m:ss, or h:mm:ss from an hour on."""
    whole = max(0, int(seconds))
    hours, minutes, left = whole // 3600, whole // 60 % 60, whole % 60
    return f"{hours}:{minutes:02}:{left:02}" if hours else f"{minutes}:{left:02}"


def count(number: int, thing: str) -> str:
    """A number with its thing: "1 row", "3 rows"."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"
