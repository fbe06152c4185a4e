"""The pick list on the screen."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from textual.app import ComposeResult
from textual.containers import Vertical

from reviewer.review.canvas import Line
from reviewer.review.pick_view import choice_lines, foot_lines, head_line
from reviewer.review.picking import Picker, Taken
from reviewer.review.textline import TextLine
from reviewer.screens.keyed import Over
from reviewer.screens.lines import Lines

STEPS = {"up": -1, "down": 1, "pageup": -8, "pagedown": 8}
"""Keys that mark another line, and how far they go."""


class PickScreen(Over):
    """Pick a value for a slot. Every change is handed to `give` at once; it returns whether it stands."""

    DEFAULT_CSS = """
    PickScreen { align: center bottom; background: $background 40%; }
    PickScreen > Vertical { height: auto; max-height: 90%; width: 100%; max-width: 100; background: $panel;
        border: round $primary; padding: 0 1; }
    PickScreen Lines { background: $panel; }
    PickScreen #head, PickScreen #typed { height: 1; }
    PickScreen #typed { background: $surface; }
    PickScreen #choices { height: 9; }
    PickScreen #foot { height: 4; }
    """

    def __init__(self, picker: Picker, give: Callable[[Mapping[str, Any]], bool]) -> None:
        super().__init__()
        self.picker = picker
        self.typing = TextLine()
        self._give = give

    def compose(self) -> ComposeResult:
        """The line to type in, the list, and what the marked one means."""
        with Vertical():
            yield Lines(lambda width: [head_line(self.picker, width)], id="head")
            yield Lines(lambda width: [self.typing.line(width, "type to narrow")], id="typed")
            yield Lines(self._choices, id="choices")
            yield Lines(lambda width: foot_lines(self.picker, width), id="foot")

    def _choices(self, width: int) -> Sequence[Line]:
        return choice_lines(self.picker, width)

    def draw(self) -> None:
        """Draw, with the marked line in view."""
        super().draw()
        for lines in self.query("#choices"):
            assert isinstance(lines, Lines)
            lines.bring(self.picker.index, 0)

    def take_key(self, key: str, character: str | None) -> None:
        """Letters narrow; the rest marks, takes, closes."""
        if key == "escape":
            self.do_leave()
        elif key == "enter":
            self.do_take()
        elif key == "tab":
            self.do_tab()
        elif key == "delete":
            self.do_remove()
        elif key in STEPS:
            self.picker.move(STEPS[key])
            self.draw()
        elif self.typing.key(key, character):
            self._typed()

    def take_text(self, text: str) -> None:
        """Pasted text narrows too."""
        self.typing.insert(text)
        self._typed()

    def _typed(self) -> None:
        if self.typing.text == self.picker.typed:
            self.draw()
            return
        taken = self.picker.type(self.typing.text)
        if taken is None:
            self.draw()
        else:
            self._after(taken)

    def do_take(self) -> None:
        """Take the marked line and close."""
        self._after(self.picker.take())

    def do_tab(self) -> None:
        """Numbers: beside or instead. Terms: take and stay."""
        if self.picker.numbers:
            self.picker.flip()
            self.draw()
        else:
            self._after(self.picker.take(stay=True))

    def do_remove(self) -> None:
        """Take the marked value out."""
        self._after(self.picker.remove())

    def do_leave(self) -> None:
        """Close without a further change."""
        self.close()

    def _after(self, taken: Taken) -> None:
        if (taken.values and not self._give(taken.values)) or taken.close:
            self.close()
            return
        self.typing = TextLine(self.picker.typed)
        self.draw()

    def on_lines_clicked(self, event: Lines.Clicked) -> None:
        """A click on a line takes it."""
        kind, value = event.tag
        if kind == "choice":
            self.picker.index = value
            self.do_take()
        elif kind == "act":
            getattr(self, f"do_{value}")()
