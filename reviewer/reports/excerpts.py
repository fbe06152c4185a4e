"""What to show of a hit that was found by a term and not by its words: the words that carry the term."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from reviewer.records import Evidence, GradeRow
from reviewer.reports.reps import field_values

if TYPE_CHECKING:
    from reviewer.store.library import Library
    from reviewer.store.search import Hit

AROUND = 90
"""Characters shown before and after."""

GAP = "…"


def with_excerpts(library: Library, hits: Sequence[Hit], sought: Sequence[tuple[str, str]]) -> list[Hit]:
    """The hits, those without a marked word showing where the term was said. sought: fields of the grade
    row and the values that were asked for."""
    rows = [hit.row for hit in hits if hit.row is not None and not hit.marks]
    if not rows or not sought:
        return list(hits)
    with library.reading() as db:
        marks = ", ".join("?" * len(rows))
        found = db.execute(
            "SELECT row_now.row_id, grade, words FROM row_now "
            "JOIN segment ON segment.row_id = row_now.row_id "
            f"WHERE row_now.row_id IN ({marks})",
            rows,
        ).fetchall()
    said = {row: (GradeRow.model_validate_json(grade), words) for row, grade, words in found}
    return [hit if hit.marks or hit.row not in said else _shown(hit, *said[hit.row], sought) for hit in hits]


def _shown(hit: Hit, row: GradeRow, words: str, sought: Sequence[tuple[str, str]]) -> Hit:
    places = sorted(
        place
        for field, value in sought
        for evidence in _carrying(row, field, value)
        if (place := locate(words, evidence, row)) is not None
    )
    if not places:
        return hit
    first, last = _edges(words, places[0])
    head = GAP if first else ""
    text = head + words[first:last] + (GAP if last < len(words) else "")
    moved = len(head) - first
    inside = tuple((a + moved, b + moved) for a, b in dict.fromkeys(places) if a >= first and b <= last)
    return replace(hit, text=text, marks=inside)


def _carrying(row: GradeRow, field: str, value: str) -> list[Evidence]:
    """The evidence of one value: its own where each value has one, else all of the field's."""
    values, places = field_values(row, field), row.evidence.get(field, [])
    if value in values and len(values) == len(places):
        return [places[values.index(value)]]
    return list(places) if value in values else []


def locate(words: str, evidence: Evidence, row: GradeRow) -> tuple[int, int] | None:
    """Where in a rep's words an evidence stands, as character positions; of several places that look
    alike the one that fits its time. None when the words are not there (a refused mend)."""
    pattern = r"\W+".join(map(re.escape, re.findall(r"[\w'-]+", evidence.read)))
    if not pattern:
        return None
    found = [match.span() for match in re.finditer(rf"(?<!\w){pattern}(?!\w)", words, re.IGNORECASE)]
    lasts = max(row.end - row.start, 0.1)
    wanted = (evidence.start - row.start) / lasts * len(words)
    return min(found, key=lambda span: abs(span[0] - wanted), default=None)


def _edges(words: str, place: tuple[int, int]) -> tuple[int, int]:
    """The stretch shown around a place, whole words only."""
    first, last = max(0, place[0] - AROUND), min(len(words), place[1] + AROUND)
    if first:
        first = words.find(" ", first, place[0]) + 1 or place[0]
    if last < len(words):
        last = words.rfind(" ", place[1], last)
        last = last if last > 0 else place[1]
    return first, last
