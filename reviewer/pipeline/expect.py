"""The words that a speech model may expect in a note, as its prompt and hotwords."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from reviewer.records import NoteContext

if TYPE_CHECKING:
    from reviewer.language.vocabulary import Vocabulary


@dataclass(frozen=True, slots=True)
class Expected:
    """What to tell the speech model beforehand; "" for nothing."""

    prompt: str = ""
    hotwords: str = ""


def expected(vocabulary: Vocabulary, context: NoteContext) -> Expected:
    """What to expect in a note."""
    return Expected()
