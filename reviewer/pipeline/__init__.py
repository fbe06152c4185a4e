"""The main job from one end to the other: `grade_note`, and what it needs to know of a note."""

from reviewer.pipeline.grade import (
    GradedNote,
    HearWith,
    Progress,
    ReadNote,
    ShouldStop,
    Stage,
    as_graded,
    book_note,
    grade_note,
    read_source,
    read_words,
)
from reviewer.pipeline.setting import Booking, Said, Setting, look_up
from reviewer.pipeline.source import NoteSource, find_notes, open_source, text_source

__all__ = [
    "Booking",
    "GradedNote",
    "HearWith",
    "NoteSource",
    "Progress",
    "ReadNote",
    "Said",
    "Setting",
    "ShouldStop",
    "Stage",
    "as_graded",
    "book_note",
    "find_notes",
    "grade_note",
    "look_up",
    "open_source",
    "read_source",
    "read_words",
    "text_source",
]
