"""The user's own vocabulary file: lessons are added to it and taken out of it, the rest stays as it is.

A lesson is one [[term]] table under a comment with its number. What the user wrote there by hand, with
his comments, is never touched.
"""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path

from reviewer import paths
from reviewer.errors import InputError
from reviewer.reports.files import write_whole

_MARK = "# learned {number}: {origin}"
_MARKED = re.compile(r"^# learned (\d+):")

Entry = Mapping[str, str | Sequence[str]]
"""Keys and values of a [[term]] table."""


def add_entry(number: int, origin: str, entry: Entry, path: Path | None = None) -> None:
    """Add a lesson's table, unless it is there already. Raises InputError when the file cannot be
    read or written."""
    where = path or paths.user_vocabulary()
    text = read_text(where)
    if number in numbers(text):
        return
    gap = "" if not text else "\n" if text.endswith("\n") else "\n\n"
    write_text(where, f"{text}{gap}{entry_text(number, origin, entry)}")


def entry_text(number: int, origin: str, entry: Entry) -> str:
    """A lesson's table under its comment."""
    lines = [_MARK.format(number=number, origin=" ".join(origin.split())), "[[term]]"]
    lines += [f"{key} = {_toml(value)}" for key, value in entry.items()]
    return "\n".join(lines) + "\n"


def remove_entry(number: int, path: Path | None = None) -> bool:
    """Take a lesson's table out; False when it is not there (the user took it out by hand)."""
    where = path or paths.user_vocabulary()
    lines = read_text(where).splitlines(keepends=True)
    first = next((i for i, line in enumerate(lines) if _number(line) == number), None)
    if first is None:
        return False
    last = _end_of_entry(lines, first)
    while first and not lines[first - 1].strip() and (last == len(lines) or not lines[last].strip()):
        first -= 1
    write_text(where, "".join((*lines[:first], *lines[last:])))
    return True


def _end_of_entry(lines: Sequence[str], first: int) -> int:
    """The line after a lesson: its table ends at the next one or at a comment of the user's."""
    tables = 0
    for place in range(first + 1, len(lines)):
        tables += lines[place].startswith("[")
        if tables > 1 or lines[place].startswith("#"):
            return place
    return len(lines)


def _number(line: str) -> int | None:
    mark = _MARKED.match(line)
    return int(mark.group(1)) if mark else None


def numbers(text: str) -> set[int]:
    """The numbers of the lessons in a vocabulary file's text."""
    return {number for line in text.splitlines() if (number := _number(line)) is not None}


def cut_off(form: str, kept: Collection[int], path: Path | None = None) -> set[int]:
    """The numbers under which the file holds a form as a lesson that the grade book does not list: a
    crash came between the two. kept: the numbers of the lessons it lists."""
    lines = read_text(path or paths.user_vocabulary()).splitlines(keepends=True)
    said = json.dumps(form, ensure_ascii=False)
    return {
        number
        for first, line in enumerate(lines)
        if (number := _number(line)) is not None
        and number not in kept
        and said in "".join(lines[first : _end_of_entry(lines, first)])
    }


def _toml(value: str | Sequence[str]) -> str:
    # a JSON text or list of texts is one in TOML too, but for the sign DEL
    text = json.dumps(value if isinstance(value, str) else list(value), ensure_ascii=False)
    return text.replace("\x7f", "")


def read_text(where: Path) -> str:
    """The file's text, "" where there is none. Raises InputError where it cannot be read."""
    try:
        return where.read_text("utf-8") if where.exists() else ""
    except (OSError, UnicodeDecodeError) as problem:
        raise InputError(
            f"The vocabulary file {where} cannot be read ({problem}); mend or remove it."
        ) from problem


def write_text(where: Path, text: str) -> None:
    """Write the file whole. Raises InputError where it cannot be written."""
    try:
        paths.private_folder(where.parent)
    except OSError as problem:
        raise InputError(f"The folder {where.parent} cannot be made ({problem.strerror}).") from problem
    write_whole(where, text)
