"""The room's keys that are about the row in hand and the place in the note."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from reviewer.errors import ReviewerError
from reviewer.review import actions, lessons, moving
from reviewer.review.offer import PICKED, picker_for
from reviewer.review.picking import Picker
from reviewer.review.plain import plain
from reviewer.review.slots import BY_ID, SLOTS, Slot, read_situation, situation_words
from reviewer.screens.pick import PickScreen
from reviewer.screens.prompt import PromptScreen
from reviewer.screens.room_view import RoomView

_ACTIONS = actions.by_key(actions.ROOM)
_SLOTS = {slot.key: slot for slot in SLOTS}


class RoomKeys(RoomView):
    """Fixing the row in hand, confirming, moving."""

    def take_key(self, key: str, character: str | None) -> None:
        """Do what the table says of the key, or fix the slot that it belongs to."""
        if key in _ACTIONS:
            self.act(_ACTIONS[key])
        elif key in _SLOTS:
            self.fix(_SLOTS[key])

    def act(self, name: str) -> None:
        """Do an action of the room's tables."""
        getattr(self, f"do_{name}")()

    def attempt_fix(self, action: Callable[[], str]) -> bool:
        """As `attempt`, with an offer to learn from what was fixed."""
        if not self.attempt(action):
            return False
        if self.said and self._teaches():
            self.tell(f"{self.said}   L: learn the words for next time")
            self.draw()
        return True

    def _teaches(self) -> bool:
        try:
            return lessons.meaning_of_fix(self.session) is not None
        except ReviewerError:
            # a vocabulary file that cannot be read is told of where it is needed
            return False

    # --- fixing ----------------------------------------------------------------

    def fix(self, slot: Slot, replacing: bool = False) -> None:
        """Fix a slot the way its kind is fixed."""
        session = self.session
        session.slot_id = slot.id
        if slot.kind in {"verdict", "mark", "cycle"}:
            self.attempt_fix(lambda: session.cycle(slot))
        elif slot.kind == "situation":
            self._ask_situation(slot)
        elif slot.kind in PICKED:
            self._pick(slot, replacing)

    def _pick(self, slot: Slot, replacing: bool) -> None:
        picker: Picker | None = None

        def offered() -> str:
            nonlocal picker
            picker = picker_for(self.session, slot, replacing)
            return ""

        if self.attempt(offered) and picker is not None:
            self.open_picker(picker, lambda values, seen: self.session.set_slot(slot, values, seen))

    def open_picker(self, picker: Picker, take: Callable[[Mapping[str, Any], int], str]) -> None:
        """Open a pick list; `take` gets the values and the revision that was seen when it opened."""
        seen = self.session.revision

        def give(values: Mapping[str, Any]) -> bool:
            nonlocal seen
            stands = self.attempt_fix(lambda: take(values, seen))
            seen = self.session.revision
            return stands

        self.open(PickScreen(picker, give), lambda _: self.show())

    def _ask_situation(self, slot: Slot) -> None:
        row = self.session.row
        if row is None:
            self.attempt(lambda: self.session.clear(slot))
            return
        seen = self.session.revision

        def means(text: str) -> str:
            values = read_situation(text)
            return situation_words(row.current.model_copy(update=values)) or "no down and distance"

        def give(text: str | None) -> None:
            if text is not None:
                self.attempt_fix(lambda: self.session.set_slot(slot, read_situation(text), seen))

        title = "Down and distance: 38 is 3rd and 8, 2g is 2nd and goal"
        self.open(PromptScreen(title, "", means), give)

    def do_comment(self) -> None:
        row = self.session.row
        if row is None:
            self.attempt(lambda: self.session.comment(""))
            return
        seen = self.session.revision

        def give(text: str | None) -> None:
            if text is not None:
                self.attempt(lambda: self.session.comment(text, seen))

        title = f"Your note on rep {row.current.rep}, {plain(row.current.player or 'no number')}"
        self.open(PromptScreen(title, row.comment, lambda _: ""), give)

    def do_fix(self) -> None:
        self.fix(self.session.slot)

    def do_replace(self) -> None:
        self.fix(BY_ID["opponents"], replacing=True)

    def do_clear(self) -> None:
        self.attempt(lambda: self.session.clear(self.session.slot))

    def do_win(self) -> None:
        self.attempt_fix(lambda: self.session.set_verdict("win"))

    def do_loss(self) -> None:
        self.attempt_fix(lambda: self.session.set_verdict("loss"))

    def do_neutral(self) -> None:
        self.attempt_fix(lambda: self.session.set_verdict("neutral"))

    def do_confirm(self) -> None:
        self.attempt(self.session.confirm)

    def do_unconfirm(self) -> None:
        self.attempt(self.session.unconfirm)

    def do_undo(self) -> None:
        self.attempt(self.session.undo)

    def do_redo(self) -> None:
        self.attempt(self.session.redo)

    # --- moving ----------------------------------------------------------------

    def point(self, slot: str) -> None:
        """Put the cursor on a slot."""
        self.session.slot_id = slot
        self.tell("")
        self.show()

    def do_up(self) -> None:
        self.point(moving.vertical(self.session.slot_id, -1))

    def do_down(self) -> None:
        self.point(moving.vertical(self.session.slot_id, 1))

    def do_left(self) -> None:
        self.point(moving.across(self.session.slot_id, right=False))

    def do_right(self) -> None:
        self.point(moving.across(self.session.slot_id, right=True))

    def _step(self, moved: bool, otherwise: str) -> None:
        self.tell("" if moved else otherwise)
        self.show()

    def do_next(self) -> None:
        self._step(self.session.step(1), "This is the last row.")

    def do_previous(self) -> None:
        self._step(self.session.step(-1), "This is the first row.")

    def do_doubtful(self) -> None:
        self._step(self.session.next_doubtful(), "No other row is left to confirm.")

    def do_go(self) -> None:
        self.choose_row()

    def choose_row(self) -> None:
        """Choose a row from the list of all."""
        raise NotImplementedError

    def guarded(self, action: Callable[[], None]) -> None:
        """Do something that changes nothing in the note, and say why when it cannot be done."""
        try:
            action()
        except ReviewerError as problem:
            self.tell(str(problem), warning=True)
            self.show()
