"""Annotated notes: what is said, what is known beforehand, and the rows that a fair grader writes."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from reviewer.errors import InputError
from reviewer.records import NoteContext, RosterEntry, Word

SECONDS_PER_WORD = 0.34
STOP_S = 0.3
PAUSE_S = 0.9


@dataclass(frozen=True)
class GoldRep:
    """One annotated rep: the words about it (indices) and its rows as written."""

    number: int
    words: frozenset[int]
    rows: tuple[dict[str, Any], ...]


@dataclass(frozen=True)
class AnnotatedNote:
    """An annotated note. words: in spoken order, with the times of a talking pace.

    blocks: (rep or None, first word, last word exclusive) in spoken order.
    """

    slug: str
    style: str
    context: NoteContext
    words: tuple[Word, ...]
    reps: tuple[GoldRep, ...]
    blocks: tuple[tuple[int | None, int, int], ...] = field(default=())


def note_context(data: dict[str, Any]) -> NoteContext:
    """The context block of an annotated note."""
    return NoteContext(
        player=data.get("player"),
        position=data.get("position"),
        opponent=data.get("opponent"),
        roster=tuple(RosterEntry(str(j), n, p, s) for j, n, p, s in data["roster"]),
    )


def load_note(path: Path, paced: bool = True, seed: int = 7) -> AnnotatedNote:
    """Read one note. `paced` puts a speaker's pause between blocks; else the talk runs on.

    Raises InputError where the file cannot be read as an annotated note.
    """
    import yaml

    try:
        data = yaml.safe_load(path.read_text("utf-8"))
        return _note(data, random.Random(f"{seed}{path.name}"), paced)
    except (
        OSError,
        UnicodeDecodeError,
        yaml.YAMLError,
        KeyError,
        TypeError,
        ValueError,
        AttributeError,
    ) as error:
        raise InputError(f"{path} is no annotated note ({type(error).__name__}: {error}); mend it") from error


def _note(data: dict[str, Any], rng: random.Random, paced: bool) -> AnnotatedNote:
    words: list[Word] = []
    blocks: list[tuple[int | None, int, int]] = []
    spoken: dict[int, set[int]] = {}
    rows: dict[int, list[dict[str, Any]]] = {}
    at = 0.0
    for block in data["blocks"]:
        first = len(words)
        for piece in block["text"].split():
            words.append(Word(piece, round(at, 3), round(at + SECONDS_PER_WORD * 0.9, 3)))
            at += SECONDS_PER_WORD
            if piece.rstrip("\"')").endswith((".", "?", "!")):
                at += STOP_S
        rep = block.get("rep")
        blocks.append((rep, first, len(words)))
        if rep is not None:
            spoken.setdefault(rep, set()).update(range(first, len(words)))
            rows.setdefault(rep, []).extend(block.get("rows") or [])
        if paced:
            at += PAUSE_S * rng.uniform(0.7, 1.5)
    reps = tuple(GoldRep(n, frozenset(spoken[n]), tuple(rows[n])) for n in spoken)
    return AnnotatedNote(data["note"], data["style"], note_context(data), tuple(words), reps, tuple(blocks))
