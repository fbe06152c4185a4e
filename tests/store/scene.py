"""Invented notes to store, and a plain picture of everything a note shows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from reviewer import store
from reviewer.records import Evidence, GradeRow, Mend, NoteContext, Reading, Rep, Word

PACE_S = 0.5
"""Seconds from one word's start to the next one's."""

Block = tuple[int | None, str, Sequence[Mapping[str, Any]]]

BLOCKS: tuple[Block, ...] = (
    (None, "All right fellas, this is the second half.", ()),
    (1, "First one he reaches the nose and seals him.",
     ({"player": "76", "techniques": ["reach", "seal"], "verdict": "win", "confidence": 0.9},)),
    (2, "Next rep, the end brings an arm over and he oversets.",
     ({"player": "76", "moves": ["swim"], "faults": ["overset"], "verdict": "loss", "confidence": 0.4},)),
    (None, "Coach on the other side says he's slow.", ()),
    (3, "Third and eight, good punch by the guard, the tackle climbs.",
     ({"player": "64", "down": 3, "distance": 8, "techniques": ["punch"], "verdict": "win",
       "confidence": 0.8},
      {"player": "76", "down": 3, "distance": 8, "techniques": ["climb"], "confidence": 0.6})),
)  # fmt: skip

CONTEXT = NoteContext(player="76", position="RT", opponent="Hollow Creek")


def scene(blocks: Sequence[Block] = BLOCKS, *, shift_s: float = 0.0, mends: Sequence[Mend] = ()) -> Reading:
    """A reading made of blocks (rep or None, words, rows), one word every half second."""
    words: list[Word] = []
    stretches: dict[int, list[tuple[int, int]]] = {}
    drafts: list[tuple[int, Mapping[str, Any]]] = []
    for rep, text, rows in blocks:
        first = len(words)
        for piece in text.split():
            at = shift_s + len(words) * PACE_S
            words.append(Word(piece, at, at + 0.4, 0.9))
        if rep is not None:
            stretches.setdefault(rep, []).append((first, len(words)))
            drafts += [(rep, row) for row in rows]
    reps = [
        Rep(rep, words[cuts[0][0]].start, words[cuts[0][1] - 1].end, tuple(cuts))
        for rep, cuts in stretches.items()
    ]
    spans = {rep.index: (rep.start, rep.end) for rep in reps}
    graded = tuple(_row(rep, spans[rep], fields) for rep, fields in drafts)
    return Reading(tuple(words), tuple(mends), tuple(reps), graded)


def _row(rep: int, span: tuple[float, float], fields: Mapping[str, Any]) -> GradeRow:
    said = Evidence(start=span[0], end=span[1], heard="as said", read="as said")
    names = [name for name in fields if name not in ("confidence", "player")]
    return GradeRow(
        rep=rep,
        start=span[0],
        end=span[1],
        evidence={name: [said] for name in names},
        field_confidence=dict.fromkeys(names, 0.5),
        **fields,
    )


def new_note(digest: str = "d1", **given: Any) -> store.NewNote:
    """What is known of the invented note."""
    return store.NewNote(
        **{
            "digest": digest,
            "kind": "audio",
            "duration_s": 30.0,
            "context": CONTEXT,
            "title": "Second half",
            **given,
        }
    )


def picture(library: store.Library, note: int) -> dict[str, Any]:
    """Everything the note shows, as plain values; from the log and from the tables alike."""
    state = store.state_of(library, note)
    shown = store.current_rows(library, note)
    assert [_plain(row) for row in shown] == [_plain(row) for row in state.rows]
    return {
        "rows": [_plain(row) for row in state.rows],
        "hidden": sorted(row.id for row in state.hidden),
        "reps": [(rep.id, rep.number, rep.stretches) for rep in state.reps if rep.number],
        "refused": sorted(state.refused),
        "reading": state.reading,
        "words": [word.text for word in store.words_of(library, note)],
        "questions": [question.id for question in store.open_questions(library, note)],
        "talk": [hit.text for hit in store.search(library, store.SearchQuery(note=note)) if hit.row is None],
    }


def _plain(row: store.StoredRow) -> tuple[Any, ...]:
    grade = row.current.model_dump()
    first = row.first.model_dump() if row.first else None
    machine = row.machine.model_dump() if row.machine else None
    facts = (row.id, row.rep_id, row.seq, row.confirmed, sorted(row.corrected), row.comment)
    return (*facts, grade, row.current.field_confidence, first, machine)
