"""The pick list on the screen."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input

from reviewer.review.canvas import Line
from reviewer.review.pick_view import choice_lines, foot_lines, head_line
from reviewer.review.picking import Picker, Taken
from reviewer.screens.lines import Lines


class Line1(Input):
    """An input of one line whose cursor stands still."""

    def on_mount(self) -> None:
        self.cursor_blink = False


class PickScreen(ModalScreen[None]):
    """Pick a value for a slot. Every change is handed to `give` at once; it returns whether it stands."""

    CSS = """
    PickScreen { align: center bottom; background: $background 40%; }
    PickScreen > Vertical { height: auto; max-height: 90%; width: 100%; max-width: 100; background: $panel;
        border: round $primary; padding: 0 1; }
    PickScreen Lines { background: $panel; }
    PickScreen #head { height: 1; }
    PickScreen #choices { height: 9; }
    PickScreen #foot { height: 4; }
    """
    BINDINGS: ClassVar[list[Any]] = [
        Binding("escape", "leave", "close", priority=True),
        Binding("up", "move(-1)", priority=True),
        Binding("down", "move(1)", priority=True),
        Binding("pageup", "move(-8)", priority=True),
        Binding("pagedown", "move(8)", priority=True),
        Binding("enter", "take(False)", priority=True),
        Binding("tab", "tab", priority=True),
        Binding("delete", "remove", priority=True),
    ]

    def __init__(self, picker: Picker, give: Callable[[Mapping[str, Any]], bool]) -> None:
        super().__init__()
        self.picker = picker
        self._give = give

    def compose(self) -> ComposeResult:
        """The line to type in, the list, and what the marked one means."""
        with Vertical():
            yield Lines(lambda width: [head_line(self.picker, width)], id="head")
            yield Line1(placeholder="type to narrow", compact=True)
            yield Lines(self._choices, id="choices")
            yield Lines(lambda width: foot_lines(self.picker, width), id="foot")

    def _choices(self, width: int) -> Sequence[Line]:
        return choice_lines(self.picker, width)

    def _show(self) -> None:
        for lines in self.query(Lines):
            lines.show()
        self.query_one("#choices", Lines).bring(self.picker.index, 0)

    def on_input_changed(self, event: Input.Changed) -> None:
        """Narrow the list; a whole number takes itself."""
        self._after(self.picker.type(event.value))
        self._show()

    def action_move(self, by: int) -> None:
        """Mark another line."""
        self.picker.move(by)
        self._show()

    def action_take_one(self) -> None:
        """Take the marked line and close."""
        self.action_take(False)

    def action_take(self, stay: bool) -> None:
        """Take the marked line."""
        self._after(self.picker.take(stay))

    def action_tab(self) -> None:
        """Numbers: beside or instead. Terms: take and stay."""
        if self.picker.numbers:
            self.picker.flip()
            self._show()
        else:
            self._after(self.picker.take(stay=True))

    def action_remove(self) -> None:
        """Take the marked value out."""
        self._after(self.picker.remove())

    def action_leave(self) -> None:
        """Close without a further change."""
        self.dismiss(None)

    def _after(self, taken: Taken | None) -> None:
        if taken is None:
            return
        if taken.values and not self._give(taken.values):
            self.dismiss(None)
            return
        if taken.close:
            self.dismiss(None)
            return
        box = self.query_one(Input)
        with box.prevent(Input.Changed):
            box.value = self.picker.typed
        self._show()

    def on_lines_clicked(self, event: Lines.Clicked) -> None:
        """A click on a line takes it."""
        kind, value = event.tag
        if kind == "choice":
            self.picker.index = value
            self._after(self.picker.take())
        elif kind == "act":
            getattr(self, f"action_{value}")()
