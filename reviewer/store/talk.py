"""The talk of a note, rep by rep: its words, and the rows that each rep has."""

from __future__ import annotations

from dataclasses import dataclass

from reviewer.records import Word
from reviewer.store.codec import Stretches
from reviewer.store.derive import words_as_read
from reviewer.store.fold import StoredRow
from reviewer.store.journal import load_fold, revision_of
from reviewer.store.library import Library


@dataclass(frozen=True)
class RepTalk:
    """One rep: (first, last) indices into the note's words, last exclusive, and its live rows as they
    stand, as spoken."""

    stretches: Stretches
    rows: tuple[StoredRow, ...]


@dataclass(frozen=True)
class Talk:
    """A note's words as read (refused mends stand as heard), and its live reps."""

    words: tuple[Word, ...]
    reps: tuple[RepTalk, ...]


def talk_of(library: Library, note: int) -> Talk:
    """The talk of a note. Raises InputError when there is no such note."""
    with library.reading() as db:
        revision_of(library, note)
        state = load_fold(library, note).state()
        words = words_as_read(db, state)
    reps = (RepTalk(rep.stretches, tuple(state.rows_of(rep.id))) for rep in state.reps)
    return Talk(words, tuple(rep for rep in reps if rep.rows))
