"""The machine's first reading of a row beside what stands now."""

from __future__ import annotations

from dataclasses import dataclass

from reviewer.errors import InputError
from reviewer.review.plain import plain
from reviewer.review.session import Session
from reviewer.review.slots import SLOTS, Slot, differs, words_for


@dataclass(frozen=True, slots=True)
class Difference:
    """A slot that does not stand as first read; both values for people, "" for nothing."""

    slot: Slot
    first: str
    now: str


def differences(session: Session) -> list[Difference]:
    """The slots of the row in hand that differ from the machine's first reading.

    Raises InputError for a row that no machine read.
    """
    row = session.row
    if row is None:
        raise InputError("There is no row here.")
    if row.first is None:
        raise InputError("This row was added by hand: the machine did not read it.")
    first, now = row.first, row.current
    return [
        Difference(slot, plain(words_for(slot, first)), plain(words_for(slot, now)))
        for slot in SLOTS
        if differs(slot, first, now)
    ]
