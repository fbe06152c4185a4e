"""Records to JSON text and back, as the grade book keeps them.

Words are arrays `[text, start, end, probability]` with the heard words as a fifth item where they
differ; everything else is JSON with the record's own names. Defaults of a grade row are left out.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

from reviewer.records import GradeRow, Mend, Reading, Word

Stretches = tuple[tuple[int, int], ...]
"""Word index ranges, last exclusive, sorted, neither empty nor touching."""


def dump(value: Any) -> str:
    """Compact JSON with a stable key order (equal values give equal text)."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"))


def load(text: str) -> Any:
    """The value of a JSON text."""
    return json.loads(text)


def dump_row(row: GradeRow) -> str:
    """A grade row with its field confidences."""
    data = row.model_dump(mode="json", exclude_defaults=True)
    if row.field_confidence:
        data["field_confidence"] = row.field_confidence
    return dump(data)


def load_row(text: str) -> GradeRow:
    """The grade row of `dump_row`."""
    return GradeRow.model_validate_json(text)


def dump_words(words: Iterable[Word]) -> str:
    """Words as arrays."""
    return dump(
        [[w.text, w.start, w.end, w.probability, *([] if w.heard is None else [w.heard])] for w in words]
    )


def load_words(text: str) -> tuple[Word, ...]:
    """The words of `dump_words`."""
    return tuple(Word(*item) for item in json.loads(text))


def dump_mends(mends: Iterable[Mend]) -> str:
    """Mends as objects."""
    return dump([asdict(mend) for mend in mends])


def load_mends(text: str) -> tuple[Mend, ...]:
    """The mends of `dump_mends`."""
    return tuple(Mend(**item) for item in json.loads(text))


def load_stretches(value: Sequence[Sequence[int]]) -> Stretches:
    """Stretches from their JSON value."""
    return tuple((first, last) for first, last in value)


def reading_digest(reading: Reading, model: str, settings: Mapping[str, Any]) -> str:
    """Tells two readings apart: equal digests mean nothing new was read."""
    parts = (
        dump_words(reading.words),
        dump_mends(reading.mends),
        dump([[rep.index, rep.start, rep.end, rep.stretches] for rep in reading.reps]),
        *(dump_row(row) for row in reading.rows),
        model,
        dump(dict(settings)),
    )
    return hashlib.sha256("\n".join(parts).encode("utf-8", "surrogatepass")).hexdigest()


def storable(text: str) -> str:
    """Text that can be stored: half characters (a broken file name, a bad paste) become "?"."""
    return text.encode("utf-8", "replace").decode()


def stamp(moment: datetime) -> str:
    """A moment as UTC text that sorts by time."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
