"""The users' own vocabulary files joined: lessons get their numbers here, tables by hand come as they are."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from contextlib import suppress
from itertools import pairwise
from typing import Any

from reviewer import paths
from reviewer.errors import InputError
from reviewer.store.learned import Learned, learned
from reviewer.store.library import Library

_TABLE = "[[term]]"


def joined_vocabulary(
    library: Library, lessons: Mapping[int, int], theirs: str | None
) -> tuple[str | None, int, list[str]]:
    """The text of mine with theirs added, None when nothing comes; how many entries; what is not taken.

    lessons: the numbers of lessons that came, theirs to mine. theirs: the text of their file, None where
    there is none; lessons without a table there get one made of what the grade book knows.
    """
    from reviewer.review.own_words import numbers, read_text

    mine = read_text(paths.user_vocabulary())
    try:
        tables = _tables(mine)
        coming = list(blocks(theirs or ""))
    except tomllib.TOMLDecodeError as problem:
        return None, 0, [f"A vocabulary file cannot be read ({problem}); their own words did not come."]
    known, there = [table for _, _, table in tables], numbers(mine)
    parts: list[str] = []
    written: set[int] = set()
    for number, text, table in coming:
        if number is None and table not in known:
            known.append(table)
            parts.append(text)
        elif number is not None and number in lessons and lessons[number] not in there:
            written.add(number)
            parts.append(text.replace(f"# learned {number}:", f"# learned {lessons[number]}:", 1))
    rest = {here for old, here in lessons.items() if old not in written and here not in there}
    made, left = _made(library, rest)
    parts += made
    if not parts:
        return None, 0, left
    text = "\n".join([*([mine.rstrip("\n") + "\n"] if mine.strip() else []), *parts])
    if fault := _fault(text):
        return None, 0, [*left, f"Their own words do not fit yours ({fault}); they did not come."]
    return text, len(parts), left


def _tables(text: str) -> list[tuple[int | None, str, Any]]:
    return list(blocks(text))


def blocks(text: str) -> Iterator[tuple[int | None, str, Any]]:
    """Each [[term]] table with the comments right above it: lesson number or None, text, value."""
    from reviewer.review.own_words import numbers

    tomllib.loads(text)
    lines = text.splitlines()
    starts = []
    for place, line in enumerate(lines):
        if line.strip() == _TABLE:
            first = place
            while first and lines[first - 1].startswith("#"):
                first -= 1
            starts.append(first)
    for first, last in pairwise([*starts, len(lines)]):
        block = "\n".join(lines[first:last]).strip() + "\n"
        lesson = next(iter(numbers(block)), None)
        yield lesson, block, tomllib.loads(block)["term"][0]


def _made(library: Library, wanted: set[int]) -> tuple[list[str], list[str]]:
    """Tables of lessons that came without theirs."""
    from reviewer.language.vocabulary import load_vocabulary
    from reviewer.review.own_words import entry_text

    if not wanted:
        return [], []
    groups: dict[str, list[str]] = {}
    with suppress(InputError):
        for term in load_vocabulary().terms:
            groups.setdefault(term.id, []).append(term.group)
    parts, left = [], []
    for one in learned(library):
        if one.id not in wanted:
            continue
        fitting = groups.get(one.term, []) if one.kind == "form" else ["wording"]
        if len(fitting) == 1:
            parts.append(entry_text(one.id, f"{one.at[:10]}, from another library", _entry(one, fitting[0])))
        else:
            left.append(f"The lesson “{one.form}” for {one.term} came without its table; teach it anew.")
    return parts, left


def _entry(one: Learned, group: str) -> dict[str, str | list[str]]:
    kind = "forms" if one.kind == "form" else "mishearings"
    return {"id": one.term, "group": group, kind: [one.form], "from": "another library"}


def _fault(text: str) -> str:
    """What the vocabulary would say against such a file; "" when it takes it."""
    import tempfile
    from pathlib import Path

    from reviewer.language.vocabulary import load_vocabulary

    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "vocabulary.toml"
        file.write_text(text, "utf-8")
        try:
            load_vocabulary(file)
        except InputError as problem:
            return str(problem).replace(f"{file}, ", "").rstrip(".")
    return ""
