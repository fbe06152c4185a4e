"""Search all notes over the room."""

from __future__ import annotations

from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input

from reviewer.review.canvas import Line, Span, fitted
from reviewer.review.finding import FILTERS, Finder, filter_line, hit_lines
from reviewer.review.plain import plain
from reviewer.screens.lines import Lines
from reviewer.screens.pick import Line1
from reviewer.store import Hit


class SearchScreen(ModalScreen[Hit | None]):
    """Type, go through filters, choose a place; it closes with the place or None."""

    CSS = """
    SearchScreen > Vertical { background: $surface; }
    SearchScreen #head, SearchScreen #foot { height: 1; background: $panel; }
    SearchScreen #filters, SearchScreen #remark { height: 1; }
    SearchScreen #hits { height: 1fr; }
    """
    BINDINGS: ClassVar[list[Any]] = [
        Binding("escape", "leave", priority=True),
        Binding("up", "move(-1)", priority=True),
        Binding("down", "move(1)", priority=True),
        Binding("pageup", "move(-8)", priority=True),
        Binding("pagedown", "move(8)", priority=True),
        Binding("enter", "take", priority=True),
        *(Binding(key, f"filter('{name}')", priority=True) for key, name, _ in FILTERS),
    ]

    def __init__(self, finder: Finder) -> None:
        super().__init__()
        self.finder = finder

    def compose(self) -> ComposeResult:
        """The line, the filters, what was understood, the places."""
        with Vertical():
            yield Lines(lambda _: [(Span(" Search all notes", "title"),)], id="head")
            yield Line1(
                self.finder.typed,
                placeholder='words, a term, "a phrase", player:76, opponent:94, verdict:loss, down:3',
                compact=True,
            )
            yield Lines(lambda width: [filter_line(self.finder, width)], id="filters")
            yield Lines(self._remark, id="remark")
            yield Lines(lambda width: hit_lines(self.finder, width), id="hits")
            yield Lines(lambda _: [_KEYS], id="foot")

    def _remark(self, width: int) -> list[Line]:
        return [fitted((Span(f" {plain(self.finder.remark)}", "dim"),), width)]

    def on_mount(self) -> None:
        """Search for what stands there already."""
        self.finder.look()
        self.call_after_refresh(self._show)

    def _show(self) -> None:
        for lines in self.query(Lines):
            lines.show()
        self.query_one("#hits", Lines).bring(2 * self.finder.index, 2)

    def on_input_changed(self, event: Input.Changed) -> None:
        """Search while typing."""
        if event.value != self.finder.typed:
            self.finder.look(event.value)
            self._show()

    def action_move(self, by: int) -> None:
        """Mark another place."""
        self.finder.move(by)
        self._show()

    def action_filter(self, name: str) -> None:
        """Give a filter its next value."""
        self.finder.cycle(name)
        self._show()

    def action_take(self) -> None:
        """Close with the marked place."""
        self.dismiss(self.finder.marked)

    def action_leave(self) -> None:
        """Close with nothing."""
        self.dismiss(None)

    def on_lines_clicked(self, event: Lines.Clicked) -> None:
        """A click on a filter goes on, on a place opens it."""
        kind, value = event.tag
        if kind == "filter":
            self.action_filter(value)
        elif kind == "hit":
            self.finder.index = value
            self.action_take()
        elif kind == "act":
            getattr(self, f"action_{value}")()


_KEYS = (
    Span(" enter ", "bar-key", ("act", "take")),
    Span("open it   ", "bar-text", ("act", "take")),
    Span("↑ ↓ ", "bar-key"),
    Span("choose   ", "bar-text"),
    Span("esc ", "bar-key", ("act", "leave")),
    Span("back", "bar-text", ("act", "leave")),
)
