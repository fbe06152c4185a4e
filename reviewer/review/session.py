"""A note in hand: its rows, the place in it, and every decision, saved as it is made.

The grade book's functions do the work; a session adds where one stands, what was last seen (so that
two windows never write over each other) and a sentence on what was done. Each decision raises a
`ReviewerError` with a sentence when it cannot be taken; then nothing was changed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from reviewer import store
from reviewer.errors import InputError
from reviewer.records import GradeRow, Mend, RosterEntry, Word
from reviewer.review import doubt, lineup, slots
from reviewer.review.plain import count
from reviewer.review.progress import Progress, progress
from reviewer.review.slots import BY_ID, Slot
from reviewer.store import Done, Library, NoteState, Question, StoredRow

if TYPE_CHECKING:
    from reviewer.language.vocabulary import Vocabulary


@dataclass(frozen=True)
class Fix:
    """A value that the coach put right: what a lesson can be made of.

    old, new: the slot's value before and after, as stored. row: its id.
    """

    row: int
    slot: str
    old: Any
    new: Any


KINDS = {
    "correct": "a correction", "comment": "your note", "confirm": "a confirmation",
    "unconfirm": "opening a row again", "confirm many": "confirming many rows", "add row": "a row added",
    "delete row": "a row removed", "restore row": "a row brought back",
    "restore first": "going back to the first reading",
    "refuse mend": "leaving words as heard", "allow mend": "reading words again", "split rep": "a split",
    "merge reps": "a merge", "move words": "words moved", "add rep": "a rep added",
    "reorder": "a rep put elsewhere", "reword": "words put right",
    "settle": "a question settled", "read again": "a new reading",
}  # fmt: skip
"""The grade book's kinds of action, for people."""


class Session:
    """The review of one note.

    row_id: the row it stands on, None for a note without rows. slot_id: the slot under the cursor.
    last_fix: the newest correction, for a lesson, None after anything else.
    """

    def __init__(self, library: Library, note: int, vocabulary: Vocabulary | None = None) -> None:
        self.library = library
        self.note_id = note
        self._vocabulary = vocabulary
        self._words: tuple[Word, ...] = ()
        self._words_key: tuple[Any, ...] = ()
        self.mends: list[tuple[Mend, bool]] = []
        self.last_fix: Fix | None = None
        self.slot_id = "verdict"
        self.row_id: int | None = None
        self.note = store.note(library, note)
        self.roster: tuple[RosterEntry, ...] = store.context_of(library, note).roster
        self.reload()
        self._land(_remembered(library, note))

    # --- what there is ---------------------------------------------------------

    @property
    def vocabulary(self) -> Vocabulary:
        """The trade's terms with the coach's own, loaded when first asked for."""
        if self._vocabulary is None:
            from reviewer.language.vocabulary import load_vocabulary

            self._vocabulary = load_vocabulary()
        return self._vocabulary

    def forget_vocabulary(self) -> None:
        """Load the terms anew when next asked for, after a lesson."""
        self._vocabulary = None

    @property
    def rows(self) -> tuple[StoredRow, ...]:
        """The live rows, in order."""
        return self.state.rows

    @property
    def row(self) -> StoredRow | None:
        """The row it stands on."""
        return None if self.row_id is None else self.state.row(self.row_id)

    @property
    def slot(self) -> Slot:
        """The slot under the cursor."""
        return BY_ID[self.slot_id]

    @property
    def words(self) -> tuple[Word, ...]:
        """The note's words as read; refused mends as heard."""
        return self._words

    @property
    def progress(self) -> Progress:
        """How far the review is."""
        return progress(self.rows)

    def reload(self) -> None:
        """Read the note again as it stands now."""
        with self.library.reading():
            self.revision = store.revision_of(self.library, self.note_id)
            self.state: NoteState = store.state_of(self.library, self.note_id)
            self.questions: list[Question] = store.open_questions(self.library, self.note_id)
            key = (self.state.reading, self.state.refused)
            if key != self._words_key:
                self._words = store.words_of(self.library, self.note_id)
                self.mends = store.mends_of(self.library, self.note_id)
                self._words_key = key
        self._stay()

    def _stay(self) -> None:
        """Keep the place; where its row is gone, the nearest one in time."""
        if self.row is not None or self.row_id is None:
            return
        gone = next((r for r in self.state.hidden if r.id == self.row_id), None)
        start = gone.start if gone else 0.0
        nearest = min(self.rows, key=lambda r: abs(r.start - start), default=None)
        self.row_id = nearest.id if nearest else None

    def _land(self, remembered: int | None) -> None:
        if remembered is not None and self.state.row(remembered):
            self.row_id = remembered
        elif remembered is not None:
            self.row_id = store.cursor_of(self.library, self.note_id)
        else:
            self.row_id = doubt.next_to_look(self.rows, None) or (self.rows[0].id if self.rows else None)
        self._point()

    def _point(self) -> None:
        if self.row is not None:
            self.slot_id = doubt.doubtful_slot(self.row).id

    # --- moving ----------------------------------------------------------------

    def go(self, row: int, slot: str | None = None) -> None:
        """Stand on a row, on its most doubtful slot unless one is given."""
        if self.state.row(row) is None:
            raise InputError("That row is no longer in the note; choose another one.")
        self.row_id = row
        self._point()
        if slot is not None:
            self.slot_id = slot

    def step(self, by: int) -> bool:
        """Go so many rows on (or back) in the order of the film; False at the end."""
        ids = [row.id for row in self.rows]
        if self.row_id not in ids:
            return False
        place = ids.index(self.row_id) + by
        if not 0 <= place < len(ids):
            return False
        self.go(ids[place])
        return True

    def next_doubtful(self) -> bool:
        """Go to the most doubtful row left; False when every other row is confirmed."""
        found = doubt.next_to_look(self.rows, self.row_id)
        if found is None:
            return False
        self.go(found)
        return True

    def leave(self) -> None:
        """Remember the place, to come back to it."""
        if self.row_id is not None and not self.library.read_only:
            store.save_cursor(self.library, self.note_id, self.row_id)

    # --- deciding --------------------------------------------------------------

    def do(self, action: Callable[[int], Done], seen: int | None = None) -> Done:
        """Take a decision against the revision last seen, then read the note again.

        Raises store.Conflict when another window changed the same things; the note is then read
        again too, so that what the other window did is in view.
        """
        try:
            done = action(self.revision if seen is None else seen)
        finally:
            self.reload()
        self.last_fix = None
        return done

    def _here(self) -> StoredRow:
        row = self.row
        if row is None:
            raise InputError("There is no row here yet; add one to a rep first.")
        return row

    def confirm(self) -> str:
        """Confirm the row and go to the next one that needs a look."""
        row = self._here()
        if row.confirmed:
            moved = self.next_doubtful()
            return "" if moved else "Every row is confirmed."
        self.do(lambda seen: store.set_confirmed(self.library, row.id, seen=seen))
        said = f"Row {self.number(row.id)} confirmed."
        return said if self.next_doubtful() else f"{said} It was the last one: every row is confirmed."

    def unconfirm(self) -> str:
        """Take the row's confirmation back."""
        row = self._here()
        self.do(lambda seen: store.set_confirmed(self.library, row.id, False, seen=seen))
        return f"Row {self.number(row.id)} is open again."

    def above(self, confidence: float) -> list[StoredRow]:
        """The rows that `confirm_above` would confirm."""
        return store.above(self.library, self.note_id, confidence)

    def confirm_above(self, confidence: float) -> str:
        """Confirm all rows at least so sure, as one step."""
        found = len(self.above(confidence))
        self.do(lambda seen: store.confirm_above(self.library, self.note_id, confidence, seen=seen))
        if self.row is not None and self.row.confirmed:
            self.next_doubtful()
        return f"{count(found, 'row')} confirmed; u takes it back."

    def set_slot(self, slot: Slot, values: Mapping[str, Any], seen: int | None = None) -> str:
        """Give a slot its values; returns what changed, for people."""
        row = self._here()
        values = {**values, **self._follows(slot, values, row)}
        old = {name: getattr(row.current, name) for name in values}
        done = self.do(lambda now: store.set_fields(self.library, row.id, values, seen=now), seen)
        self.slot_id = slot.id
        if done.action is None:
            return ""
        self.last_fix = Fix(row.id, slot.id, old[slot.field], values[slot.field])
        return self._changed(slot, row.current)

    def _follows(self, slot: Slot, values: Mapping[str, Any], row: StoredRow) -> dict[str, Any]:
        """The position goes with the number where the roster knows it."""
        if slot.id != "player" or "position" in row.corrected:
            return {}
        position = lineup.position_of(self.roster, values["player"])
        return {"position": position} if position else {}

    def _changed(self, slot: Slot, before: GradeRow) -> str:
        row = self._here().current
        old, new = slots.words_for(slot, before), slots.words_for(slot, row)
        return f"{slot.label}: {old or 'nothing'} → {new or 'nothing'}"

    def cycle(self, slot: Slot) -> str:
        """Give a slot its next value."""
        row = self._here()
        return self.set_slot(slot, {slot.field: slots.next_value(slot, getattr(row.current, slot.field))})

    def set_verdict(self, verdict: str) -> str:
        """Give the row its verdict."""
        return self.set_slot(BY_ID["verdict"], {"verdict": verdict})

    def clear(self, slot: Slot) -> str:
        """Take away what stands in a slot."""
        self._here()
        return self.set_slot(slot, slots.empty_values(slot))

    def comment(self, text: str, seen: int | None = None) -> str:
        """Put the coach's own words on the row; "" takes them away."""
        row = self._here()
        self.do(lambda now: store.set_comment(self.library, row.id, text, seen=now), seen)
        return "Note kept." if text.strip() else "Note taken away."

    def restore_first(self) -> str:
        """Set the row back to what the machine read first."""
        row = self._here()
        self.do(lambda seen: store.restore_first(self.library, row.id, seen=seen))
        return "The row is as the machine first read it."

    def restore_slot(self, slot: Slot) -> str:
        """Set one slot back to what the machine read first."""
        first = self._here().first
        if first is None:
            raise InputError("This row was added by hand: there is no first reading to go back to.")
        return self.set_slot(slot, {name: getattr(first, name) for name in slot.fields})

    def settle(self, question: int, take: Literal["mine", "machine"]) -> str:
        """Settle what a new reading left open: keep the coach's value or take the reading's."""
        self.do(lambda seen: store.settle(self.library, question, take, seen=seen))
        left = len(self.questions)
        return f"Settled; {count(left, 'question')} left." if left else "Settled; nothing is left open."

    def undo(self) -> str:
        """Take back the newest decision of the note, whenever it was taken, and go to its row."""
        return self._travel(store.undo, "Nothing to undo.", "Taken back")

    def redo(self) -> str:
        """Bring back the decision undone last."""
        return self._travel(store.redo, "Nothing to redo.", "Brought back")

    def _travel(self, way: Callable[..., Done | None], none: str, said: str) -> str:
        try:
            done = way(self.library, self.note_id, seen=self.revision)
        finally:
            self.reload()
        self.last_fix = None
        if done is None:
            return none
        live = [row for row in done.rows if self.state.row(row)]
        if live and self.row_id not in live:
            self.go(live[0])
        return f"{said}: {KINDS.get(done.kind, done.kind)}."

    # --- another window --------------------------------------------------------

    def look_round(self) -> str:
        """See whether another window changed the note; "" when not, else what it changed."""
        if store.revision_of(self.library, self.note_id) == self.revision:
            return ""
        before = self.state
        self.reload()
        return changed_elsewhere(before, self.state, self.number)

    def number(self, row: int) -> int:
        """The place of a row in the note, from 1."""
        return next((place for place, r in enumerate(self.rows, 1) if r.id == row), 0)


def _remembered(library: Library, note: int) -> int | None:
    """The row that the last review of the note stood on."""
    with library.reading() as db:
        found = db.execute("SELECT cursor_row FROM note WHERE id = ?", (note,)).fetchone()
    return None if found is None else found[0]


def changed_elsewhere(before: NoteState, after: NoteState, number: Callable[[int], int]) -> str:
    """A sentence on what another window changed."""
    old = {row.id: row for row in before.rows}
    new = {row.id: row for row in after.rows}
    touched = [number(i) for i, row in new.items() if i in old and _plain(row) != _plain(old[i])]
    parts = []
    if touched:
        parts.append(f"changed {_listed(touched)}")
    if added := [number(i) for i in new if i not in old]:
        parts.append(f"added {_listed(added)}")
    if gone := len(old.keys() - new.keys()):
        parts.append(f"removed {count(gone, 'row')}")
    return f"Another window {', '.join(parts) or 'changed the reps'}; you see it as it is now."


def _plain(row: StoredRow) -> tuple[Any, ...]:
    return (row.current.model_dump(exclude={"rep", "evidence"}), row.confirmed, row.comment, row.rep_id)


def _listed(numbers: Sequence[int]) -> str:
    some = ", ".join(map(str, numbers[:3]))
    more = f" and {len(numbers) - 3} more" if len(numbers) > 3 else ""
    return f"row{'s' if len(numbers) > 1 else ''} {some}{more}"
