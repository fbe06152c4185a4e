"""The two sides of a comparison, fetched from the grade book."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from reviewer.errors import InputError
from reviewer.reports.agreement import Agreement, Pair, agreement, pair_rows
from reviewer.reports.anonymous import Anonymizer
from reviewer.reports.gather import Selection, gather

if TYPE_CHECKING:
    from reviewer.store.library import Library


def two_graders(library: Library, first: str, second: str, hidden: bool = False) -> Agreement:
    """Compare two notes (id or slug) on the same film. hidden: call them only first and second, and
    replace the men.

    Raises InputError when a note does not exist, both are one, or they have no rep in common.
    """
    from reviewer.store.notes import note

    one, two = note(library, first), note(library, second)
    if one.id == two.id:
        raise InputError(f"Both are the note {one.title!r}; name two notes on the same film.")
    paired = pair_rows(
        gather(library, Selection(notes=(one.id,))), gather(library, Selection(notes=(two.id,)))
    )
    titles = ("the first grader", "the second grader") if hidden else (one.title, two.title)
    pairs = _hidden(paired.pairs) if hidden else paired.pairs
    return agreement(pairs, *titles, paired.only_first, paired.only_second)


def _hidden(pairs: Sequence[Pair]) -> list[Pair]:
    """The pairs with their men replaced, by one hand, so that what was the same stays the same."""
    hand = Anonymizer()
    return [(hand.row(one), hand.row(two)) for one, two in pairs]


def machine_and_coach(library: Library, which: str | None = None, hidden: bool = False) -> Agreement:
    """Compare the machine's first reading with the rows that the coach confirmed: of a note, or of all.
    hidden: with the men replaced.

    Rows that the coach added himself have no first reading; they are counted as the coach's own.
    Raises InputError when no row is confirmed.
    """
    from reviewer.store.notes import note
    from reviewer.store.rows import graded_rows

    number = note(library, which).id if which is not None else None
    rows = graded_rows(library, note=number, confirmed=True)
    if not rows:
        where = f"of {which}" if which is not None else "in the grade book"
        raise InputError(
            f"No row {where} is confirmed yet; confirm some first, then the machine can be judged."
        )
    pairs = [(row.first, row.current) for row in rows if row.first is not None]
    pairs = _hidden(pairs) if hidden else pairs
    return agreement(pairs, "the machine's first reading", "the coach", 0, len(rows) - len(pairs))
