"""A note read again: a better model, a larger vocabulary, a refused mend.

The new reading is stored beside the old ones and put in force as one undoable action. What the
coach decided stands:
- Old and new rows are matched by time overlap and player; a matched row keeps its id, its
  corrections, its confirmation and its comment, and takes the new reading under them.
- Where the new reading says something else about a corrected or confirmed value, the coach's
  value stays and a question is kept (`edit.open_questions`).
- A row he touched that the new reading does not have stays, with its words; a question is kept.
- A rep he cut by hand stays as he cut it. A new row inside it that matches none is kept with a
  question, but not shown.
- Rows he never touched follow the new reading.
- Words that he put right (`wording.py`) stand in the new reading too.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from reviewer.records import GRADE_FIELDS, GradeRow, Reading, Rep, Word
from reviewer.store.codec import Stretches, dump, dump_row, load, load_words, reading_digest
from reviewer.store.fold import BASE, Cell, NoteState, StoredRow
from reviewer.store.journal import REREAD, Done, Edit, editing
from reviewer.store.library import Library
from reviewer.store.notes import (
    insert_reading,
    insert_rep,
    insert_rep_reading,
    insert_row,
    insert_row_reading,
    reps_of,
)  # fmt: skip
from reviewer.store.structure import joined, without
from reviewer.store.wording import carried, machine_digest

LEAST_OVERLAP = 0.2
"""Two rows less alike in time (shared time / time of both) than this are not the same rep."""

SAME_PLAYER, UNKNOWN_PLAYER = 1.0, 0.3
"""What a player adds to the overlap when rows are matched; other players never match, but for
`TAKEN_FOR`."""

TAKEN_FOR = 0.6
"""Two different players are the same row read otherwise when the overlap is at least this."""


def match_rows(old: Sequence[StoredRow], new: Sequence[GradeRow], live: frozenset[int]) -> dict[int, int]:
    """Old row id -> index of the new row that is the same one. Each is used at most once.

    live: ids of old rows that are not deleted; they go before deleted ones.
    """
    pairs = sorted(
        (-score, row.id not in live, row.start, index, row.id)
        for row in old
        for index, grade in enumerate(new)
        if (score := _likeness(row, grade)) > 0
    )
    matched: dict[int, int] = {}
    taken: set[int] = set()
    for _, _, _, index, row_id in sorted(pairs, key=lambda p: (round(p[0], 6), *p[1:])):
        if row_id not in matched and index not in taken:
            matched[row_id] = index
            taken.add(index)
    return matched


def _likeness(row: StoredRow, grade: GradeRow) -> float:
    shared = min(row.end, grade.end) - max(row.start, grade.start)
    both = max(row.end, grade.end) - min(row.start, grade.start)
    overlap = shared / both if both > 0 and shared > 0 else 0.0
    if overlap < LEAST_OVERLAP:
        return 0.0
    known = {row.current.player, row.machine.player if row.machine else None} - {None}
    if grade.player in known:
        return overlap + SAME_PLAYER
    if not known or grade.player is None:
        return overlap + UNKNOWN_PLAYER
    return overlap if overlap >= TAKEN_FOR else 0.0


def add_reading(
    library: Library,
    note: int,
    reading: Reading,
    *,
    model: str = "",
    settings: Mapping[str, Any] | None = None,
    seen: int | None = None,
) -> Done:
    """Store a new reading of a note and put it in force. The reading already in force changes nothing."""
    settings = settings or {}
    with library.writing():
        with editing(library, note, REREAD, seen) as edit:
            words, digest, remarks = _in_force(edit)
            read = reading_digest(reading, model, settings)
            if read == digest:
                return edit.done
            reading = carried(reading, read, remarks)
            plan = _Plan(edit, reading, words, insert_reading(library, note, reading, model, settings))
            plan.run()
        library.connection.executemany(
            "INSERT INTO question (note_id, action_id, row_id, field, kept, read) VALUES (?, ?, ?, ?, ?, ?)",
            [
                (note, edit.done.action, row, name, dump(kept), dump(read))
                for row, name, kept, read in plan.questions
            ],
        )
    return edit.done


def _in_force(edit: Edit) -> tuple[tuple[Word, ...], str, Mapping[str, Any]]:
    """The words, the machine's digest and the remarks of the reading in force."""
    query = "SELECT words, digest, remarks FROM reading WHERE id = ?"
    words, digest, remarks = edit.library.execute(query, (edit.fold.reading,)).fetchone()
    notes = load(remarks)
    return load_words(words), machine_digest(notes, digest), notes


@dataclass
class _Plan:
    """The steps of putting a reading in force, on one open action."""

    edit: Edit
    reading: Reading
    old_words: Sequence[Word]
    number: int
    questions: list[tuple[int, str, Any, Any]] = field(default_factory=list)

    def run(self) -> None:
        self.state: NoteState = self.edit.before
        self.db = self.edit.library.connection
        self.middles = [(word.start + word.end) / 2 for word in self.reading.words]
        self.made = {row.id: row.made for row in self.edit.fold.facts.rows if row.made is not None}
        self.rows = {row.id: row for row in (*self.state.rows, *self.state.hidden)}
        live = frozenset(row.id for row in self.state.rows)
        self.matched = match_rows(tuple(self.rows.values()), self.reading.rows, live)
        self.new_reps = {rep.index: rep for rep in reps_of(self.reading)}
        self.home = self._homes()
        self.pinned = self._pinned()
        self._pin_reps()
        self._cut_reps()
        self._insert_rows()
        for row_id, index in self.matched.items():
            insert_row_reading(self.db, row_id, self.number, self.reading.rows[index])
        self.edit.reload()
        self.edit.write(Cell("note", self.edit.note, "reading"), self.number)
        for row_id, index in self.matched.items():
            self._rebase(self.rows[row_id], self.reading.rows[index], index)
        for row in self.state.rows:
            if row.id not in self.matched:
                self._unmatched(row)

    def _homes(self) -> dict[int, int]:
        """New rep index -> the old rep that it is: the one not held with most of its matched rows."""
        held = {rep.id for rep in self.state.reps if rep.held}
        votes: Counter[tuple[int, int]] = Counter()
        for row_id, index in self.matched.items():
            row = self.rows[row_id]
            if row.rep_id not in held and self.state.row(row_id) is not None:
                votes[self.reading.rows[index].rep, row.rep_id] += 1
        homes: dict[int, int] = {}
        for (index, rep), _ in sorted(votes.items(), key=lambda vote: (-vote[1], vote[0])):
            if index not in homes and rep not in homes.values():
                homes[index] = rep
        return homes

    def _pinned(self) -> frozenset[int]:
        """Live reps that keep their words: cut by hand, or with a touched row that found no place."""
        homes = set(self.home.values())
        lost = {
            row.rep_id
            for row in self.state.rows
            if row.id not in self.matched and row.rep_id not in homes and self._touched(row)
        }
        return frozenset(rep.id for rep in self.state.reps if rep.number and (rep.held or rep.id in lost))

    def _touched(self, row: StoredRow) -> bool:
        names = (*GRADE_FIELDS, "confirmed", "comment", "deleted")
        return row.id in self.made or any(
            Cell("row", row.id, name) in self.edit.fold.overrides for name in names
        )

    def _pin_reps(self) -> None:
        """Carry the words of pinned reps, and of reps without live rows, over to the new words."""
        self.cuts = {rep.id: self._carried(rep.stretches) for rep in self.state.reps}
        homes = set(self.home.values())
        for rep in self.state.reps:
            if rep.id in self.pinned or (not rep.number and rep.id not in homes):
                self.edit.write(Cell("rep", rep.id, "stretches"), [list(s) for s in self.cuts[rep.id]])

    def _carried(self, stretches: Stretches) -> Stretches:
        spans = [
            (self.old_words[first].start, self.old_words[last - 1].end)
            for first, last in stretches
            if last <= len(self.old_words)
        ]
        middles = self.middles
        return joined(
            (i, i + 1)
            for start, end in spans
            for i in range(bisect_left(middles, start), bisect_left(middles, end))
        )

    def _cut_reps(self) -> None:
        """Give the new reps their words, less those of pinned reps."""
        taken = joined(s for rep in self.pinned for s in self.cuts[rep])
        self.swallowed: set[int] = set()
        for index, rep in self.new_reps.items():
            rest = without(joined(rep.stretches), taken)
            if index in self.home:
                self._move_rep(self.home[index], rep, rest)
            elif rep.stretches and 2 * _size(rest) < _size(joined(rep.stretches)):
                self.swallowed.add(index)
            else:
                self.home[index] = insert_rep(self.db, self.edit.note, rep.start, self.number, rest)

    def _move_rep(self, home: int, rep: Rep, stretches: Stretches) -> None:
        insert_rep_reading(self.db, home, self.number, stretches)
        self.edit.write(Cell("rep", home, "stretches"), BASE)
        if not self.edit.value(Cell("rep", home, "placed")):
            self.edit.write(Cell("rep", home, "order"), rep.start)

    def _insert_rows(self) -> None:
        """New rows that match no old one; those inside a rep cut by hand wait as a question."""
        for index, grade in enumerate(self.reading.rows):
            if index in self.matched.values():
                continue
            inside = grade.rep in self.swallowed
            rep = self._nearest_pinned(grade) if inside else self.home[grade.rep]
            row = insert_row(self.db, self.edit.note, rep, index, grade, self.number, shown=False)
            if inside:
                self.questions.append((row, "row", None, load(dump_row(grade))))
            else:
                self.edit.set_row(row, shown=True)

    def _nearest_pinned(self, grade: GradeRow) -> int:
        wanted = self.new_reps[grade.rep].stretches
        return max(
            sorted(self.pinned),
            key=lambda rep: _size(wanted) - _size(without(joined(wanted), self.cuts[rep])),
        )

    def _rebase(self, row: StoredRow, grade: GradeRow, index: int) -> None:
        """Put the new reading under a matched row."""
        blank = GradeRow(rep=1, start=0, end=0)
        home = self.home.get(grade.rep)
        if row.rep_id not in self.pinned and home is not None:
            self.edit.set_row(row.id, rep=home, seq=index)
        for name in GRADE_FIELDS:
            kept, read = getattr(row.current, name), getattr(grade, name)
            decided = Cell("row", row.id, name) in self.edit.fold.overrides
            # what was given with a row added by hand was decided too
            decided = decided or getattr(self.made.get(row.id, blank), name) != getattr(blank, name)
            if kept == read or not (row.confirmed or decided):
                continue
            self.edit.pin(Cell("row", row.id, name), kept)
            if row.machine is None or read != getattr(row.machine, name):
                self.questions.append((row.id, name, kept, read))

    def _unmatched(self, row: StoredRow) -> None:
        if not self._touched(row):
            self.edit.set_row(row.id, shown=False)
        elif row.id not in self.made:
            self.questions.append((row.id, "missing", None, None))


def _size(stretches: Stretches) -> int:
    return sum(last - first for first, last in stretches)
