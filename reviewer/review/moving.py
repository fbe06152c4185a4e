"""Moving the cursor over the fields."""

from __future__ import annotations

from reviewer.review.slots import BY_ID, SLOTS, Slot


def _column(right: bool) -> list[Slot]:
    return [slot for slot in SLOTS if slot.right == right]


def vertical(slot: str, by: int) -> str:
    """The slot so many lines down (or up); past an end the other column goes on."""
    ids = [one.id for one in SLOTS]
    return ids[(ids.index(slot) + by) % len(ids)]


def across(slot: str, right: bool) -> str:
    """The slot beside it in the right or the left column."""
    here = BY_ID[slot]
    if here.right == right:
        return slot
    place = _column(here.right).index(here)
    other = _column(right)
    return other[min(place, len(other) - 1)].id
