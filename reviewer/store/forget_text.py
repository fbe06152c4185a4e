"""A person's name taken out of text, of JSON, and of words with times. Pure functions."""

from __future__ import annotations

import json
import re
import unicodedata
from bisect import bisect_right
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

REMOVED = "[removed]"
"""What stands where a name or number was."""

_LEAST_BARE = 3
"""A last name shorter than this is a word of its own too often; it goes only with the first name."""


@dataclass(frozen=True)
class Name:
    """A name to take out. bare: the last name goes where it stands alone too. first: and the first name
    (with a capital letter) as well."""

    full: str
    bare: bool = True
    first: bool = False
    _pattern: re.Pattern[str] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_pattern", self._made())

    @property
    def parts(self) -> list[str]:
        """The words of the name."""
        return self.full.split()

    def _made(self) -> re.Pattern[str]:
        parts = self.parts
        gap = r"[\s_.,\-]+"
        wanted = [gap.join(map(_letters, parts))]
        if len(parts) > 1:
            wanted.append(_letters(parts[-1]) + r"\s*,\s*" + gap.join(map(_letters, parts[:-1])))
        if self.bare and (len(parts[-1]) >= _LEAST_BARE or len(parts) == 1):
            wanted.append(_letters(parts[-1]))
        either = f"(?i:{'|'.join(wanted)})"
        if self.first and len(parts) > 1:
            # case counts: "Will" may be a man, "will" is none
            either = f"(?:{either}|{re.escape(parts[0])})"
        return re.compile(rf"(?<![^\W_]){either}(?:[’'][sS])?(?![^\W_])")

    def found_in(self, text: str) -> bool:
        """Whether the text holds the name."""
        return bool(self._pattern.search(text))

    def places(self, text: str) -> list[tuple[int, int]]:
        """Where the text holds the name, as (first, last) characters, last exclusive."""
        return [match.span() for match in self._pattern.finditer(text)]

    def out_of(self, text: str) -> str:
        """The text without the name."""
        return self._pattern.sub(REMOVED, text)


def _letters(part: str) -> str:
    """A part of a name however its accents are stored, or without them."""
    forms = {unicodedata.normalize(form, part) for form in ("NFC", "NFD")}
    plain = "".join(c for c in unicodedata.normalize("NFD", part) if not unicodedata.combining(c))
    return f"(?:{'|'.join(sorted(map(re.escape, forms | {plain})))})"


def out_of_value(name: Name, value: Any) -> Any:
    """JSON data without the name, in keys too."""
    if isinstance(value, str):
        inner = _inner(value)
        if inner is not None:
            return (
                _dumped(out_of_value(name, inner))
                if name.found_in(json.dumps(inner, ensure_ascii=False))
                else value
            )
        return name.out_of(value)
    if isinstance(value, list):
        return [out_of_value(name, item) for item in value]
    if isinstance(value, dict):
        return {name.out_of(key): out_of_value(name, item) for key, item in value.items()}
    return value


def _inner(text: str) -> Any:
    """JSON data inside a text, None where it is none."""
    if not text.startswith(("[", "{", '"')):
        return None
    try:
        return json.loads(text)
    except ValueError:
        return None


def out_of_stored(name: Name, text: str) -> str:
    """A stored text without the name, whether it is plain or JSON."""
    inner = _inner(text)
    if inner is None:
        return name.out_of(text)
    cleaned = out_of_value(name, inner)
    return text if cleaned == inner else _dumped(cleaned)


def _dumped(value: Any) -> str:
    return json.dumps(value, sort_keys=True, separators=(",", ":"))


def named(name: Name, words: Sequence[Sequence[Any]], inside: Collection[int] | None = None) -> list[int]:
    """Indices of the words that are part of the name. words: as stored, text first.

    inside: look at these indices only.
    """
    starts: list[int] = []
    length = 0
    for word in words:
        starts.append(length)
        length += len(str(word[0])) + 1
    found: set[int] = set()
    for first, last in name.places(" ".join(str(word[0]) for word in words)):
        hit = range(bisect_right(starts, first) - 1, bisect_right(starts, last - 1))
        if inside is None or all(n in inside for n in hit):
            found.update(hit)
    return sorted(found)


def blanked(words: Sequence[Sequence[Any]], gone: Iterable[int]) -> list[list[Any]]:
    """Stored words with some of them removed; their number and times stay, what was heard goes."""
    wanted = set(gone)
    result = [list(word) for word in words]
    for place in sorted(wanted):
        word = result[place]
        tail = re.sub(r"^.*?([.,?!;:]*)$", r"\1", str(word[0]), flags=re.S)
        follows = place - 1 in wanted
        result[place] = [tail if follows else REMOVED + tail, *word[1:4]]
    return result
