"""The review room: one rep at a time, its words, its fields."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.screen import Screen

from reviewer.cautions import CAUTION
from reviewer.errors import ReviewerError
from reviewer.review import actions, moving, passage, views
from reviewer.review.canvas import Line, wrapped
from reviewer.review.offer import PICKED, picker_for
from reviewer.review.slots import BY_ID, SLOTS, Slot
from reviewer.screens.lines import Lines, Rule
from reviewer.screens.pick import PickScreen

if TYPE_CHECKING:
    from reviewer.review.session import Session

LOOK_ROUND_S = 1.0
"""How often the room looks whether another window changed the note."""


class Room(Screen[None]):
    """The review of one note."""

    CSS = """
    Room { layout: vertical; }
    Room #title, Room #bar { height: 1; background: $panel; }
    Room #row { height: 1; background: $surface; }
    Room #main { height: 1fr; }
    Room #rows { width: 34; display: none; border-right: solid $panel; }
    Room.-wide #rows { display: block; }
    Room #words { height: 1fr; min-height: 4; padding: 0 1; }
    Room #fields { height: 11; }
    Room #detail { height: 3; padding: 0 1; }
    Room #caution { height: auto; max-height: 4; padding: 0 1; display: none; }
    Room #message { height: 1; }
    """
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (110, "-wide")]  # noqa: RUF012 - as the base class has it
    BINDINGS: ClassVar[list[Any]] = [
        *(Binding(",".join(action.keys), f"act('{action.id}')", action.short) for action in actions.ROOM),
        *(Binding(slot.key, f"slot('{slot.id}')", slot.label) for slot in SLOTS),
    ]

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        self.said = ""
        self.warned = False
        self._passage: list[passage.Shown] = []

    def compose(self) -> ComposeResult:
        """Bars at the top and bottom, words over fields, the list of rows beside them where it is wide."""
        session = self.session
        yield Lines(lambda width: [views.title_line(session, width)], id="title")
        yield Lines(lambda width: [views.row_line(session, width)], id="row")
        with Horizontal(id="main"):
            yield Lines(lambda width: views.list_lines(session, width), id="rows")
            with Vertical():
                yield Lines(self._words, id="words")
                yield Rule()
                yield Lines(lambda width: views.field_lines(session, width), id="fields")
                yield Lines(lambda width: views.detail_lines(session, width), id="detail")
                yield Lines(lambda width: wrapped(CAUTION, width, "warn"), id="caution")
        yield Lines(lambda width: [views.message_line(self.said, self.warned, width)], id="message")
        yield Lines(lambda width: [actions.bar_line(actions.ROOM, width)], id="bar")

    def on_mount(self) -> None:
        """Draw, and keep an eye on other windows."""
        self.show()
        self.set_interval(LOOK_ROUND_S, self.look_round)

    def _words(self, width: int) -> Sequence[Line]:
        lit = passage.lit_words(self._passage, self.session.slot_id)
        return passage.lay_out(self._passage, width, lit, self.session.slot_id)

    def show(self) -> None:
        """Draw everything as the session stands."""
        session = self.session
        row = session.row
        self._passage = (
            passage.passage(session.words, session.state, row.rep_id, row.current, session.mends)
            if row
            else []
        )
        self.query_one("#caution").display = bool(row and row.current.safety)
        for lines in self.query(Lines):
            lines.show()
        words = self.query_one("#words", Lines)
        lit = passage.lit_words(self._passage, session.slot_id)
        own = frozenset(shown.index for shown in self._passage if shown.part == "rep")
        words.bring(passage.line_of(words.drawn, lit or own))
        rows = self.query_one("#rows", Lines)
        if session.row_id is not None:
            rows.bring(session.number(session.row_id) - 1)

    def tell(self, text: str, warning: bool = False) -> None:
        """Say what happened on the message line."""
        self.said, self.warned = text, warning

    def attempt(self, action: Callable[[], str]) -> bool:
        """Do something to the note and say how it went; False when it could not be done."""
        try:
            self.tell(action())
        except ReviewerError as problem:
            self.tell(str(problem), warning=True)
            self.show()
            return False
        self.show()
        return True

    def look_round(self) -> None:
        """See what another window did, unless something is open over the room."""
        if self.app.screen is not self:
            return
        try:
            news = self.session.look_round()
        except ReviewerError as problem:
            news = str(problem)
        if news:
            self.tell(news, warning=True)
            self.show()

    # --- keys ------------------------------------------------------------------

    def action_act(self, name: str) -> None:
        """Do an action of the room's table."""
        getattr(self, f"do_{name}")()

    def action_slot(self, name: str) -> None:
        """Fix a slot: open its list or give it its next value."""
        self.fix(BY_ID[name])

    def fix(self, slot: Slot, replacing: bool = False) -> None:
        """Fix a slot the way its kind is fixed."""
        session = self.session
        session.slot_id = slot.id
        if slot.kind in {"verdict", "mark", "cycle"}:
            self.attempt(lambda: session.cycle(slot))
        elif slot.kind in PICKED:
            self._pick(slot, replacing)

    def _pick(self, slot: Slot, replacing: bool) -> None:
        try:
            picker = picker_for(self.session, slot, replacing)
        except ReviewerError as problem:
            self.tell(str(problem), warning=True)
            self.show()
            return
        seen: int | None = self.session.revision

        def give(values: Mapping[str, Any]) -> bool:
            nonlocal seen
            stands = self.attempt(lambda: self.session.set_slot(slot, values, seen))
            seen = self.session.revision
            return stands

        self.show()
        self.app.push_screen(PickScreen(picker, give), lambda _: self.show())

    def do_confirm(self) -> None:
        self.attempt(self.session.confirm)

    def do_unconfirm(self) -> None:
        self.attempt(self.session.unconfirm)

    def do_fix(self) -> None:
        self.fix(self.session.slot)

    def do_win(self) -> None:
        self.attempt(lambda: self.session.set_verdict("win"))

    def do_loss(self) -> None:
        self.attempt(lambda: self.session.set_verdict("loss"))

    def do_neutral(self) -> None:
        self.attempt(lambda: self.session.set_verdict("neutral"))

    def do_replace(self) -> None:
        self.fix(BY_ID["opponents"], replacing=True)

    def do_clear(self) -> None:
        self.attempt(lambda: self.session.clear(self.session.slot))

    def do_undo(self) -> None:
        self.attempt(self.session.undo)

    def do_redo(self) -> None:
        self.attempt(self.session.redo)

    def _point(self, slot: str) -> None:
        self.session.slot_id = slot
        self.tell("")
        self.show()

    def do_up(self) -> None:
        self._point(moving.vertical(self.session.slot_id, -1))

    def do_down(self) -> None:
        self._point(moving.vertical(self.session.slot_id, 1))

    def do_left(self) -> None:
        self._point(moving.across(self.session.slot_id, right=False))

    def do_right(self) -> None:
        self._point(moving.across(self.session.slot_id, right=True))

    def _step(self, moved: bool, otherwise: str) -> None:
        self.tell("" if moved else otherwise)
        self.show()

    def do_next(self) -> None:
        self._step(self.session.step(1), "This is the last row.")

    def do_previous(self) -> None:
        self._step(self.session.step(-1), "This is the first row.")

    def do_doubtful(self) -> None:
        self._step(self.session.next_doubtful(), "No other row is left to confirm.")

    def do_help(self) -> None:
        self.tell(views.LEGEND)
        self.show()

    def do_quit(self) -> None:
        self.session.leave()
        self.app.exit()

    # --- mouse -----------------------------------------------------------------

    def on_lines_clicked(self, event: Lines.Clicked) -> None:
        """A click goes there; a click on what is marked already fixes it."""
        kind, value = event.tag
        if kind == "act":
            self.action_act(value)
        elif kind == "row":
            self.session.go(value)
            self._point(self.session.slot_id)
        elif kind == "slot":
            if value == self.session.slot_id:
                self.fix(BY_ID[value])
            else:
                self._point(value)
        elif kind == "word":
            gave = passage.gave(self._passage, value)
            self._point(gave[0] if gave else self.session.slot_id)
