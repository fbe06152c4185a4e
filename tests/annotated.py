"""The annotated notes of tests/notes, by part."""

from __future__ import annotations

from pathlib import Path

from reviewer.compare.annotated import AnnotatedNote, GoldRep, load_note, note_context

__all__ = ["AnnotatedNote", "GoldRep", "load_note", "load_part", "note_context"]

NOTES = Path(__file__).parent / "notes"


def load_part(part: str, paced: bool = True) -> list[AnnotatedNote]:
    """All notes of a part: "dev" or "test"."""
    return [load_note(path, paced) for path in sorted((NOTES / part).glob("*.yaml"))]
