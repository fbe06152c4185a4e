"""The film of a note: where it lies, its rate and first timecode, and the sync marks."""

from __future__ import annotations

from dataclasses import dataclass

from reviewer.store.codec import dump, load
from reviewer.store.journal import revision_of
from reviewer.store.library import Library


@dataclass(frozen=True)
class NoteFilm:
    """What is known of a note's film.

    path: the file as the user gave it, "" when not known. rate: as typed ("29.97df"), "" when the
    file says it. start: timecode of its first frame. marks: (recording seconds, film seconds).
    """

    path: str = ""
    rate: str = ""
    start: str = ""
    marks: tuple[tuple[float, float], ...] = ()


def save_film(library: Library, note: int, film: NoteFilm) -> None:
    """Keep this as the note's film."""
    with library.writing() as db:
        revision_of(library, note)
        db.execute(
            "INSERT OR REPLACE INTO film (note_id, path, rate, start, marks) VALUES (?, ?, ?, ?, ?)",
            (note, film.path, film.rate, film.start, dump([list(mark) for mark in film.marks])),
        )


def film_of(library: Library, note: int) -> NoteFilm:
    """What is known of the note's film; an empty one when nothing is."""
    with library.reading() as db:
        found = db.execute("SELECT path, rate, start, marks FROM film WHERE note_id = ?", (note,)).fetchone()
    if found is None:
        return NoteFilm()
    path, rate, start, marks = found
    return NoteFilm(path, rate, start, tuple((recording, film) for recording, film in load(marks)))
