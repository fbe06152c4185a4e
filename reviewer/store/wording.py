"""What was said, put right by the coach: his words in the place of those heard.

Words put right are a reading of their own, put in force as one undoable action: the one before it
with those words in it, and with the rows anew that were read from them. What was heard stays beside
(`Word.heard`). Decisions lie over it as over any reading. A later reading of the recording takes the
words over (`carried`), and the same reading as before changes nothing (`machine_digest`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

from reviewer.errors import InputError
from reviewer.records import GradeRow, Mend, Reading, Rep, Word
from reviewer.store.codec import load, load_mends, load_words, reading_digest
from reviewer.store.fold import Cell, spoken
from reviewer.store.journal import Done, Edit, editing
from reviewer.store.library import Library
from reviewer.store.notes import insert_reading, insert_rep_reading, insert_row_reading

REWORD = "reword"
"""The kind of action that puts words right."""

_REMARK = "reworded"
"""Remark of a reading with words put right: the digest it rests on ("of"), and the words ("words", each
[start, end, text] in seconds)."""


def reworded(words: Sequence[Word], first: int, last: int, text: str) -> tuple[Word, ...]:
    """The words with `text` in the place of words first..last (exclusive); their number stays.

    Words that stay the same at both ends stay as they are. Of the others the first keeps what was
    heard for all of them, the rest keep "". Where the text has more words than were heard, one
    carries several.
    """
    old, new = [word.text.strip() for word in words[first:last]], text.split()
    if old == new:
        return tuple(words)
    head = 0
    while head < min(len(old), len(new)) and old[head] == new[head]:
        head += 1
    tail = 0
    while tail < min(len(old), len(new)) - head and old[-1 - tail] == new[-1 - tail]:
        tail += 1
    if len(old) - tail == head:
        # words were only put in: they go with the word before them, or with the first one
        head, tail = (head - 1, tail) if head else (head, tail - 1)
    begin, end = first + head, last - tail
    middle = new[head : len(new) - tail]
    heard = " ".join(_heard(word) for word in words[begin:end] if _heard(word))
    same = heard == " ".join(middle)
    result = list(words)
    for place, part in enumerate(_shared(middle, end - begin)):
        mark = None if same else heard if place == 0 else ""
        result[begin + place] = replace(words[begin + place], text=part, probability=1.0, heard=mark)
    return tuple(result)


def _shared(pieces: Sequence[str], places: int) -> list[str]:
    """Pieces of text shared out over places in order; the last places are empty where there are fewer."""
    if len(pieces) < places:
        return [*pieces, *[""] * (places - len(pieces))]
    bounds = [place * len(pieces) // places for place in range(places + 1)]
    return [" ".join(pieces[a:b]) for a, b in pairwise(bounds)]


def _heard(word: Word) -> str:
    return word.text.strip() if word.heard is None else word.heard


def reword(
    library: Library,
    note: int,
    first: int,
    last: int,
    text: str,
    rows: Mapping[int, GradeRow],
    *,
    seen: int | None = None,
) -> Done:
    """Put `text` in the place of words first..last (exclusive) of the reading in force.

    rows: by row id, what the machine reads now for rows that were read from these words. Values that
    the coach gave stay over it. Raises InputError where the text or the words are none.
    """
    if not text.split():
        raise InputError("Type what was said, at least one word.")
    with editing(library, note, REWORD, seen) as edit:
        words, mends, model, settings, remarks, digest = _in_force(edit)
        if not 0 <= first < last <= len(words):
            raise InputError("These words are not in the note; look at it again.")
        as_shown = spoken(words, [(m.first, m.last, m.heard, m.read) for m in mends], edit.before.refused)
        changed = reworded(as_shown, first, last, text)
        whole = [changed[i] if first <= i < last else word for i, word in enumerate(words)]
        if whole == list(words):
            return edit.done
        said = [*_known(remarks), [words[first].start, words[last - 1].end, text]]
        remarks = {**remarks, _REMARK: {"of": digest, "words": said}}
        kept = tuple(mend for mend in mends if mend.last <= first or mend.first >= last)
        number = _insert(edit, Reading(whole, kept, remarks=remarks), model, settings, rows)
        edit.reload()
        edit.write(Cell("note", note, "reading"), number)
        for row in rows:
            edit.need_row(row)
    return edit.done


def _in_force(
    edit: Edit,
) -> tuple[tuple[Word, ...], Sequence[Mend], str, Mapping[str, Any], Mapping[str, Any], str]:
    """Words, mends, model, settings and remarks of the reading in force, and the machine's digest of it."""
    words, mends, model, settings, remarks, digest = edit.library.execute(
        "SELECT words, mends, model, settings, remarks, digest FROM reading WHERE id = ?",
        (edit.fold.reading,),
    ).fetchone()
    notes = load(remarks)
    return load_words(words), load_mends(mends), model, load(settings), notes, machine_digest(notes, digest)


def _insert(
    edit: Edit, reading: Reading, model: str, settings: Mapping[str, Any], rows: Mapping[int, GradeRow]
) -> int:
    """Keep a reading that holds every row and rep of the one in force, some rows anew; returns its id."""
    db, facts, now = edit.library.connection, edit.fold.facts, edit.fold.reading
    grades = {
        base.id: grade for base in facts.rows if (grade := rows.get(base.id) or base.read(now)) is not None
    }
    cuts = {rep.id: rep.read(now) for rep in facts.reps if rep.readings}
    # the same words put right a second time, after an undo, are the same reading
    reps = [Rep(place, 0.0, 0.0, cut) for place, cut in enumerate(cuts.values())]
    whole = replace(reading, rows=tuple(grades.values()), reps=tuple(reps))
    again = db.execute(
        "SELECT id FROM reading WHERE note_id = ? AND digest = ?",
        (edit.note, reading_digest(whole, model, settings)),
    ).fetchone()
    if again is not None:
        return int(again[0])
    number = insert_reading(edit.library, edit.note, whole, model, settings)
    for row, grade in grades.items():
        insert_row_reading(db, row, number, grade)
    for rep, cut in cuts.items():
        insert_rep_reading(db, rep, number, cut)
    return number


def machine_digest(remarks: Mapping[str, Any], digest: str) -> str:
    """The digest of what the machine read, where the coach put words of it right."""
    return str(remarks[_REMARK]["of"]) if _REMARK in remarks else digest


def carried(reading: Reading, digest: str, before: Mapping[str, Any]) -> Reading:
    """A new reading with the words in it that the coach put right in the one before.

    digest: of the new reading. before: the remarks of the one before. Words are looked for by their
    time; rows stay as they were read.
    """
    said = _known(before)
    if not said:
        return reading
    words: Sequence[Word] = reading.words
    mends = reading.mends
    for start, end, text in said:
        inside = [i for i, word in enumerate(words) if start <= (word.start + word.end) / 2 <= end]
        if not inside:
            continue
        first, last = inside[0], inside[-1] + 1
        words = reworded(words, first, last, text)
        mends = tuple(mend for mend in mends if mend.last <= first or mend.first >= last)
    notes = {**reading.remarks, _REMARK: {"of": digest, "words": said}}
    return replace(reading, words=words, mends=mends, remarks=notes)


def _known(remarks: Mapping[str, Any]) -> list[list[Any]]:
    return list(remarks[_REMARK]["words"]) if _REMARK in remarks else []
