"""The three marks of a grade sheet said in a row: "assignment plus, technique minus", "plus on all
three", "plus, plus, minus" (assignment, technique, finish in that order: common practice)."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from reviewer import paths
from reviewer.language.tokens import Token

NAMES = ("assignment", "technique", "finish")


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark: its name, "+" or "-", and the tokens first..last (exclusive) that said it."""

    name: str
    sign: str
    first: int
    last: int


@lru_cache(maxsize=1)
def _words() -> tuple[dict[str, str], dict[str, str], tuple[tuple[str, ...], ...]]:
    data = tomllib.loads((paths.vocabulary() / "marks_words.toml").read_text("utf-8"))
    names = {word: name for name, words in data["names"].items() for word in words}
    signs = {word: sign for sign, words in data["signs"].items() for word in words}
    return names, signs, tuple(tuple(p.split()) for p in data["all_three"]["phrases"])


def read_marks(tokens: Sequence[Token], first: int, last: int) -> list[Mark]:
    """The marks said in tokens first..last (exclusive) of one sentence."""
    names, signs, _ = _words()
    said_signs = [k for k in range(first, last) if tokens[k].text in signs]
    if not said_signs:
        return []
    in_a_row = _three_signs(tokens, first, last, said_signs)
    if in_a_row:
        return in_a_row
    everything = _all_three(tokens, first, last)
    if everything is not None:
        sign = signs[tokens[said_signs[0]].text]
        return [Mark(name, sign, said_signs[0], max(everything, said_signs[0] + 1)) for name in NAMES]
    found: list[Mark] = []
    pending: list[int] = []
    sign_at: int | None = None
    for k in range(first, last):
        text = tokens[k].text
        if text in signs:
            follows = tokens[k + 1].text if k + 1 < last else ""
            if pending and follows not in {"on", "for", "in"}:
                found += [Mark(names[tokens[n].text], signs[text], n, k + 1) for n in pending]
                pending, sign_at = [], None
            else:
                pending, sign_at = [], k
        elif text in names and text not in {"job", "who"}:
            if sign_at is not None and k - sign_at <= 5:
                found.append(Mark(names[text], signs[tokens[sign_at].text], sign_at, k + 1))
            else:
                pending.append(k)
    return found


def _three_signs(tokens: Sequence[Token], first: int, last: int, at: Sequence[int]) -> list[Mark]:
    """Three signs with nothing between: assignment, technique, finish."""
    _, signs, _ = _words()
    if (
        len(at) == 3
        and at[2] - at[0] == 2
        and not any(tokens[k].text in _words()[0] for k in range(first, last))
    ):
        return [Mark(name, signs[tokens[k].text], k, k + 1) for name, k in zip(NAMES, at, strict=True)]
    return []


def _all_three(tokens: Sequence[Token], first: int, last: int) -> int | None:
    texts = tuple(t.text for t in tokens[first:last])
    for phrase in _words()[2]:
        for k in range(len(texts) - len(phrase) + 1):
            if texts[k : k + len(phrase)] == phrase:
                return first + k + len(phrase)
    return None
