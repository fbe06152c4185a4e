"""A reading as a spaCy document: tokens with their seconds, one span group a field.

For whoever wants to look into readings with general language tools, or to train on confirmed notes:
`token._.start`, `token._.end` (seconds) and `token._.heard` (the words as heard, "" where read so);
`doc.spans["reps"]` has one span a stretch of a rep, labelled with its number; `doc.spans[field]` the
words that each value of a grade row was read from, labelled with the value.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reviewer.records import GradeRow, Reading

if TYPE_CHECKING:
    from spacy.tokens import Doc, Span

TOKEN_FIELDS = {"start": 0.0, "end": 0.0, "heard": ""}


def to_document(reading: Reading, title: str = "") -> Doc:
    """The reading as a spaCy Doc. A word is a token, as it was read."""
    import spacy
    from spacy.tokens import Doc, Token

    for name, default in TOKEN_FIELDS.items():
        if not Token.has_extension(name):
            Token.set_extension(name, default=default)
    spoken = [(w, w.text.strip() or "…") for w in reading.words]
    doc = Doc(spacy.blank("en").vocab, words=[text for _, text in spoken])
    doc.user_data["title"] = title
    for token, (word, _) in zip(doc, spoken, strict=True):
        token._.start, token._.end, token._.heard = word.start, word.end, word.heard or ""
    doc.spans["reps"] = [
        _span(doc, first, last, str(rep.index)) for rep in reading.reps for first, last in rep.stretches
    ]
    starts = [w.start for w in reading.words]
    ends = [w.end for w in reading.words]
    spans: dict[str, list[Span]] = {}
    for row in reading.rows:
        for name, evidence in row.evidence.items():
            for piece in evidence:
                first, last = bisect_left(starts, piece.start), bisect_right(ends, piece.end)
                if first < last:
                    spans.setdefault(name, []).append(_span(doc, first, last, _label(row, name)))
    for name, found in spans.items():
        doc.spans[name] = found
    return doc


def _span(doc: Doc, first: int, last: int, label: str) -> Span:
    from spacy.tokens import Span

    return Span(doc, first, last, label=label)


def _label(row: GradeRow, name: str) -> str:
    """A value as a label: rep, man and value, as "3|76|swim"."""
    value: Any = getattr(row, name)
    said = ", ".join(value) if isinstance(value, list) else str(value)
    return f"{row.rep}|{row.player or ''}|{said}"


def write_documents(path: Path, documents: Iterable[Doc]) -> None:
    """Write documents as one spaCy DocBin file, whole or not at all."""
    from spacy.tokens import DocBin

    store = DocBin(store_user_data=True)
    for document in documents:
        store.add(document)
    beside = path.with_name(path.name + ".part")
    beside.write_bytes(store.to_bytes())
    beside.replace(path)
