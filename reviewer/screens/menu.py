"""A list over the screen to choose one line from, and pages of text to read."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen

from reviewer.review.canvas import Line, Span, wrapped
from reviewer.review.menus import Item, first_choice, item_lines, step
from reviewer.review.plain import plain
from reviewer.screens.lines import Lines

_KEYS = (
    Span("enter ", "bar-key", ("act", "take")),
    Span("take   ", "bar-text", ("act", "take")),
    Span("esc ", "bar-key", ("act", "leave")),
    Span("close", "bar-text", ("act", "leave")),
)
_PAGE_KEYS = (
    Span("↑ ↓ ← → PgUp PgDn ", "bar-key"),
    Span("scroll   ", "bar-text"),
    Span("esc ", "bar-key", ("act", "leave")),
    Span("close", "bar-text", ("act", "leave")),
)


class MenuScreen(ModalScreen[Any]):
    """Choose one line; it closes with the line's `act`, or None when left."""

    CSS = """
    MenuScreen { align: center middle; background: $background 40%; }
    MenuScreen > Vertical { height: auto; max-height: 95%; width: 100%; max-width: 100; background: $panel;
        border: round $primary; padding: 0 1; }
    MenuScreen Lines { background: $panel; }
    MenuScreen #head, MenuScreen #foot { height: 1; }
    MenuScreen #items { height: auto; max-height: 32; }
    """
    BINDINGS: ClassVar[list[Any]] = [
        Binding("escape", "leave"),
        Binding("up", "move(-1)"),
        Binding("down", "move(1)"),
        Binding("pageup", "move(-10)"),
        Binding("pagedown", "move(10)"),
        Binding("enter", "take"),
    ]

    def __init__(self, title: str, items: Sequence[Item], index: int | None = None) -> None:
        super().__init__()
        self.heading = title
        self.items = items
        self.index = first_choice(items) if index is None else index

    def compose(self) -> ComposeResult:
        """Heading, lines, keys."""
        with Vertical():
            yield Lines(lambda _: [(Span(plain(self.heading), "title"),)], id="head")
            lines = Lines(lambda width: item_lines(self.items, self.index, width), id="items")
            lines.styles.height = max(1, len(self.items))
            yield lines
            yield Lines(lambda _: [_KEYS], id="foot")

    def on_mount(self) -> None:
        """The marked line in view."""
        self.call_after_refresh(self._show)

    def _show(self) -> None:
        lines = self.query_one("#items", Lines)
        lines.show()
        lines.bring(self.index)

    def action_move(self, by: int) -> None:
        """Mark another line; a long way is made of steps, so that it ends on a line."""
        for _ in range(abs(by)):
            self.index = step(self.items, self.index, 1 if by > 0 else -1)
        self._show()

    def action_take(self) -> None:
        """Close with the marked line."""
        if self.index < len(self.items) and self.items[self.index].act is not None:
            self.dismiss(self.items[self.index].act)
        else:
            self.dismiss(None)

    def action_leave(self) -> None:
        """Close with nothing."""
        self.dismiss(None)

    def on_key(self, event: events.Key) -> None:
        """A line's own key chooses it."""
        if event.key in {"escape", "enter", "up", "down", "pageup", "pagedown"}:
            return
        found = next((item for item in self.items if item.key == event.key and item.act is not None), None)
        if found is not None:
            event.stop()
            self.dismiss(found.act)

    def on_lines_clicked(self, event: Lines.Clicked) -> None:
        """A click chooses."""
        kind, value = event.tag
        if kind == "item":
            self.index = value
            self.action_take()
        elif kind == "act":
            getattr(self, f"action_{value}")()


class PageScreen(ModalScreen[None]):
    """Text to read, over the whole screen."""

    CSS = """
    PageScreen > Vertical { background: $surface; }
    PageScreen #head { height: 1; background: $panel; }
    PageScreen #text { height: 1fr; padding: 0 1; }
    PageScreen #foot { height: 1; background: $panel; }
    """
    BINDINGS: ClassVar[list[Any]] = [
        Binding("escape,q,enter", "leave"),
        Binding("up", "scroll(-1)"),
        Binding("down", "scroll(1)"),
        Binding("left", "shift(-10)"),
        Binding("right", "shift(10)"),
        Binding("pageup", "scroll(-15)"),
        Binding("pagedown,space", "scroll(15)"),
        Binding("home", "scroll(-100000)"),
        Binding("end", "scroll(100000)"),
    ]

    def __init__(self, title: str, text: str, fold: bool = True) -> None:
        super().__init__()
        self.heading = title
        self.text = text
        self.fold = fold

    def compose(self) -> ComposeResult:
        """Heading, text, keys."""
        with Vertical():
            yield Lines(lambda _: [(Span(f" {plain(self.heading)}", "title"),)], id="head")
            yield Lines(self._lines, id="text", wide=not self.fold)
            yield Lines(lambda _: [(Span(" "), *_PAGE_KEYS)], id="foot")

    def _lines(self, width: int) -> list[Line]:
        lines: list[Line] = []
        for line in self.text.splitlines():
            if not line.strip():
                lines.append(())
            elif self.fold:
                lines += wrapped(plain(line), width)
            else:
                lines.append((Span(plain(line)),))
        return lines

    def action_scroll(self, by: int) -> None:
        """Scroll the text."""
        self.query_one("#text", Lines).scroll_relative(y=by, animate=False)

    def action_shift(self, by: int) -> None:
        """Scroll to the side, where the text is wider than the screen."""
        self.query_one("#text", Lines).scroll_relative(x=by, animate=False)

    def action_leave(self) -> None:
        """Back to the room."""
        self.dismiss(None)

    def on_lines_clicked(self, event: Lines.Clicked) -> None:
        """The keys can be clicked."""
        if event.tag == ("act", "leave"):
            self.dismiss(None)
