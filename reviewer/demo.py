"""The demo: recordings that ship with the program, graded into a library of their own."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from reviewer import paths
from reviewer.errors import InputError

if TYPE_CHECKING:
    from reviewer.compare.annotated import AnnotatedNote
    from reviewer.compare.score import Tally
    from reviewer.pipeline import GradedNote, HearWith, Progress, ShouldStop
    from reviewer.store import Library


@dataclass(frozen=True, slots=True)
class DemoNote:
    """A demo recording and the note that says what is spoken in it and what it should give."""

    recording: Path
    annotated: AnnotatedNote


def demo_folder() -> Path:
    """Where the demo keeps its own library, beside the user's."""
    return paths.home() / "demo"


def demo_notes() -> list[DemoNote]:
    """The demo recordings, by name. Raises InputError where they did not come with the install."""
    from reviewer.compare.annotated import load_note

    folder = paths.demo_audio()
    found = [
        DemoNote(recording, load_note(recording.with_suffix(".yaml")))
        for recording in sorted(folder.glob("*.ogg"))
        if recording.with_suffix(".yaml").is_file()
    ]
    if not found:
        raise InputError(f"there is no demo recording in {folder}; install Reviewer again")
    return found


def open_demo_library() -> Library:
    """The demo's own grade book. Raises LibraryError where it cannot be written."""
    from reviewer.store.library import Library

    return Library.open(demo_folder() / paths.database().name)


def grade_demo(
    library: Library,
    notes: Sequence[DemoNote],
    how: HearWith,
    *,
    progress: Callable[[str], Progress | None] | None = None,
    should_stop: ShouldStop | None = None,
) -> list[GradedNote]:
    """Grade the demo recordings with the shipped vocabulary alone. progress: one for each name."""
    from reviewer.language.read import Reader
    from reviewer.pipeline import Booking, grade_note
    from reviewer.store.rosters import Game

    reader = Reader.load(own_vocabulary=demo_folder() / paths.user_vocabulary().name)
    graded = []
    for note in notes:
        context = note.annotated.context
        game = Game(f"{context.opponent} (demo)", "demo", team="Our team", opponent=context.opponent)
        graded.append(
            grade_note(
                note.recording,
                context,
                library=library,
                reader=reader,
                booking=Booking(game, context.roster),
                how=how,
                progress=progress(note.recording.name) if progress else None,
                should_stop=should_stop,
            )
        )
    return graded


def check_demo(notes: Sequence[DemoNote], graded: Sequence[GradedNote]) -> Tally:
    """How far the machine's readings are what a fair grader wrote; corrections do not count."""
    from reviewer.compare.heard import places
    from reviewer.compare.score import Tally, score_note

    tally = Tally()
    for note, one in zip(notes, graded, strict=True):
        score_note(note.annotated, one.reading, tally, places(one.reading.words, note.annotated.words))
    return tally
