"""What needs a look: how doubtful a row and its fields are, and which comes next."""

from __future__ import annotations

from collections.abc import Sequence

from reviewer.review.slots import BY_FIELD, SLOTS, Slot, words_for
from reviewer.store.fold import StoredRow

LOOK_BELOW = 0.8
"""A field or row less sure than this is marked as doubtful. The coach's own choice of a confidence
for confirming many rows is separate."""

_BOUNDS = "rep"
"""The name under which a row keeps how sure its rep's bounds are."""


def sureness(row: StoredRow, slot: Slot) -> float:
    """How sure the machine is of a slot, 0..1; 1 for what the coach decided or confirmed."""
    if row.confirmed or row.by_hand or decided(row, slot):
        return 1.0
    known = row.current.field_confidence
    return min((known[name] for name in slot.fields if name in known), default=1.0)


def decided(row: StoredRow, slot: Slot) -> bool:
    """Whether the coach's own correction stands in the slot."""
    return any(name in row.corrected for name in slot.fields)


def inferred(row: StoredRow, slot: Slot) -> bool:
    """Whether the slot holds a value that no words carry and nobody decided.

    A neutral verdict is the absence of a judgement and needs no words.
    """
    if row.confirmed or row.by_hand or decided(row, slot) or not words_for(slot, row.current):
        return False
    if slot.kind == "verdict" and row.current.verdict == "neutral":
        return False
    return not any(name in row.current.evidence for name in slot.fields)


def bounds_sureness(row: StoredRow) -> float:
    """How sure the machine is of where the row's rep begins and ends, 0..1."""
    return row.current.field_confidence.get(_BOUNDS, 1.0)


def by_doubt(row: StoredRow) -> list[Slot]:
    """The slots of a row, the least sure first; of equally sure ones the first shown."""
    return sorted(SLOTS, key=lambda slot: sureness(row, slot))


def doubtful_slot(row: StoredRow) -> Slot:
    """The slot to look at first: the least sure one; the verdict where nothing is in doubt."""
    first = by_doubt(row)[0]
    sure = sureness(row, first)
    doubted = sure < LOOK_BELOW or (sure < 1 and needs_look(row))
    return first if doubted else BY_FIELD["verdict"]


def bounds_doubtful(row: StoredRow) -> bool:
    """Whether the machine doubts where the row's rep begins or ends, and nobody has confirmed the row."""
    return not row.confirmed and not row.by_hand and bounds_sureness(row) < LOOK_BELOW


def needs_look(row: StoredRow) -> bool:
    """Whether the machine doubts the row and nobody has confirmed it."""
    return not row.confirmed and (row.by_hand or row.current.confidence < LOOK_BELOW)


def queue(rows: Sequence[StoredRow]) -> list[StoredRow]:
    """The rows left to confirm, the most doubtful first.

    Rows of one rep follow each other, so that its words are read once: the rep with the most
    doubtful row comes first, in it the most doubtful row.
    """
    left = [row for row in rows if not row.confirmed]
    worst: dict[int, float] = {}
    for row in left:
        worst[row.rep_id] = min(worst.get(row.rep_id, 1.0), _doubt_key(row))
    return sorted(left, key=lambda r: (worst[r.rep_id], r.current.rep, _doubt_key(r), r.seq, r.id))


def _doubt_key(row: StoredRow) -> float:
    # a row by hand was typed by the coach: it only waits for his confirmation
    return 1.0 if row.by_hand else row.current.confidence


def next_to_look(rows: Sequence[StoredRow], now: int | None) -> int | None:
    """The id of the row to look at after this one: the most doubtful one left.

    Rows left in the same rep come first. None when every row is confirmed.
    """
    left = [row for row in queue(rows) if row.id != now]
    here = next((row.rep_id for row in rows if row.id == now), None)
    same = [row for row in left if row.rep_id == here]
    chosen = same or left
    return chosen[0].id if chosen else None
