"""A reading as a spaCy document, read back by spaCy itself (3.8)."""

from __future__ import annotations

from pathlib import Path

import spacy
from spacy.tokens import DocBin

from reviewer.language.document import to_document, write_documents
from reviewer.language.read import Reader
from reviewer.language.tokens import words_from_text
from reviewer.records import NoteContext, Reading


def test_a_document_keeps_words_times_and_spans(tmp_path: Path) -> None:
    text = "First and ten, dropback. Ninety-four tries the spin. He mirrors him. That's a win."
    reading = Reader.load().read(words_from_text(text), NoteContext(player="76", position="RT"))
    target = tmp_path / "note.spacy"
    write_documents(target, [to_document(reading, "one")])
    (doc,) = DocBin().from_bytes(target.read_bytes()).get_docs(spacy.blank("en").vocab)
    assert [t.text for t in doc] == [w.text for w in reading.words]
    assert [t._.start for t in doc] == [w.start for w in reading.words]
    (moves,) = doc.spans["moves"]
    assert moves.text == "spin." and moves.label_ == "1|76|spin"
    assert [s.label_ for s in doc.spans["reps"]] == ["1"]
    assert not list(tmp_path.glob("*.part"))


def test_an_empty_reading_is_an_empty_document() -> None:
    assert len(to_document(Reading(words=()))) == 0
