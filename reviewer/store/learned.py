"""What was learned from a coach: spoken forms, mishearings and habits, each with its origin."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from reviewer.errors import InputError
from reviewer.store.library import Library

LearnedKind = Literal["form", "mishearing", "habit"]


@dataclass(frozen=True)
class Learned:
    """One learned thing. `term` is the vocabulary id (or the habit's name) that `form` stands for.

    at: UTC text. note, row: where it was learned, None where that was deleted or is not known.
    """

    id: int
    kind: LearnedKind
    term: str
    form: str
    at: str
    note: int | None
    row: int | None


def learn(
    library: Library,
    kind: LearnedKind,
    term: str,
    form: str,
    *,
    note: int | None = None,
    row: int | None = None,
) -> int:
    """Keep a spoken form; returns its id. What is known already keeps its first origin."""
    term, form = term.strip(), " ".join(form.split())
    if not term or not form:
        raise InputError("A learned form needs the term and the words that were said for it; give both.")
    with library.writing() as db:
        db.execute(
            "INSERT INTO learned (kind, term, form, at, note_id, row_id) VALUES (?, ?, ?, ?, ?, ?) "
            "ON CONFLICT DO NOTHING",
            (kind, term, form, library.now(), note, row),
        )
        found = db.execute(
            "SELECT id FROM learned WHERE kind = ? AND term = ? AND form = ?", (kind, term, form)
        )
        return int(found.fetchone()[0])


def learned(library: Library, kind: LearnedKind | None = None) -> list[Learned]:
    """What was learned, by term, oldest first."""
    with library.reading() as db:
        query = (
            "SELECT id, kind, term, form, at, note_id, row_id FROM learned "
            "WHERE ? IS NULL OR kind = ? ORDER BY term, id"
        )
        return [Learned(*record) for record in db.execute(query, (kind, kind))]


def forget(library: Library, number: int) -> None:
    """Remove something learned."""
    with library.writing() as db:
        if not db.execute("DELETE FROM learned WHERE id = ?", (number,)).rowcount:
            raise InputError(
                f"Nothing learned has the number {number}; list what was learned to see the numbers."
            )
