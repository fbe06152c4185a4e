"""A list over the screen to choose one line from, and pages of text to read."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.containers import Vertical

from reviewer.review.canvas import Line, Span, wrapped
from reviewer.review.menus import Item, first_choice, item_lines, step
from reviewer.review.plain import plain
from reviewer.screens.keyed import Over
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
_STEPS = {"up": -1, "down": 1, "pageup": -10, "pagedown": 10}
_SCROLLS = {"up": -1, "down": 1, "pageup": -15, "pagedown": 15, "space": 15, "home": -100_000, "end": 100_000}
_SHIFTS = {"left": -10, "right": 10}


class MenuScreen(Over):
    """Choose one line; it closes with the line's `act`, or None when left."""

    DEFAULT_CSS = """
    MenuScreen { align: center middle; background: $background 40%; }
    MenuScreen > Vertical { height: auto; max-height: 95%; width: 100%; max-width: 100; background: $panel;
        border: round $primary; padding: 0 1; }
    MenuScreen Lines { background: $panel; }
    MenuScreen #head, MenuScreen #foot { height: 1; }
    MenuScreen #items { height: auto; max-height: 32; }
    MenuScreen.-low #items { max-height: 18; }
    """
    VERTICAL_BREAKPOINTS = [(0, "-low"), (30, "-tall")]  # noqa: RUF012 - as the base class has it

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
            # what is only told cannot be taken
            keys = _KEYS if any(item.act is not None for item in self.items) else _KEYS[2:]
            yield Lines(lambda _: [keys], id="foot")

    def on_mount(self) -> None:
        """The marked line in view."""
        self.call_after_refresh(self.draw)

    def draw(self) -> None:
        """Draw, with the marked line in view."""
        super().draw()
        for lines in self.query("#items"):
            assert isinstance(lines, Lines)
            lines.bring(self.index)

    def take_key(self, key: str, character: str | None) -> None:
        """A line's own key chooses it; the rest marks, takes, closes."""
        if key == "escape":
            self.do_leave()
        elif key == "enter":
            self.do_take()
        elif key in _STEPS:
            self._move(_STEPS[key])
        else:
            found = next((one for one in self.items if one.key == key and one.act is not None), None)
            if found is not None:
                self.close(found.act)

    def _move(self, by: int) -> None:
        # a long way is made of steps, so that it ends on a line that can be chosen
        for _ in range(abs(by)):
            self.index = step(self.items, self.index, 1 if by > 0 else -1)
        self.draw()

    def do_take(self) -> None:
        """Close with the marked line."""
        self.close(self.items[self.index].act if self.index < len(self.items) else None)

    def do_leave(self) -> None:
        """Close with nothing."""
        self.close()

    def on_lines_clicked(self, event: Lines.Clicked) -> None:
        """A click chooses."""
        kind, value = event.tag
        if kind == "item":
            self.index = value
            self.do_take()
        elif kind == "act":
            getattr(self, f"do_{value}")()


class PageScreen(Over):
    """Text to read, over the whole screen."""

    DEFAULT_CSS = """
    PageScreen { background: $surface; }
    PageScreen #head { height: 1; background: $panel; }
    PageScreen #text { height: 1fr; padding: 0 1; background: $surface; }
    PageScreen #foot { height: 1; background: $panel; }
    """

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

    def take_key(self, key: str, character: str | None) -> None:
        """Scroll, or close."""
        if key in {"escape", "q", "enter"}:
            self.close()
        elif key in _SCROLLS or key in _SHIFTS:
            for lines in self.query("#text"):
                lines.scroll_relative(x=_SHIFTS.get(key, 0), y=_SCROLLS.get(key, 0), animate=False)

    def on_lines_clicked(self, event: Lines.Clicked) -> None:
        """The keys can be clicked."""
        if event.tag == ("act", "leave"):
            self.close()
