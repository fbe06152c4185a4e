"""Hits of a search for sharing: nobody named, nothing of what was said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from reviewer.reports.anonymous import Anonymizer
from reviewer.reports.gather import Selection, gather

if TYPE_CHECKING:
    from reviewer.store.library import Library
    from reviewer.store.search import Hit


def unnamed_hits(library: Library, hits: Sequence[Hit]) -> list[Hit]:
    """The hits, in their order, with notes counted and men replaced as in the other reports; their words
    and ids are left out."""
    rows = tuple(hit.row for hit in hits if hit.row is not None)
    names = {rep.row_id: rep.name for rep in gather(library, Selection(rows=rows))} if rows else {}
    hand = Anonymizer()
    return [
        replace(
            hit,
            id=place,
            note=hand.note(hit.note),
            title=f"note {hand.note(hit.note):02}",
            row=None if hit.row is None else 0,
            player=hand.player(hit.player, names.get(hit.row or 0, "")),
            text="",
            marks=(),
        )
        for place, hit in enumerate(hits, 1)
    ]
