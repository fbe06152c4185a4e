"""The one widget that draws: lines of named styles, clickable, scrolling."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.geometry import Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip
from textual.widget import Widget

from reviewer.review.canvas import Line, Tag, tag_at

Draw = Callable[[int], Sequence[Line]]
"""Lines for a width in columns."""


class Lines(ScrollView, can_focus=False):
    """Lines drawn by a function of the width; a click posts the tag under the mouse."""

    STYLES: ClassVar[tuple[str, ...]] = (
        "title", "bar", "who", "good", "bad", "doubt", "fixed", "guess", "key", "label", "nothing", "strong",
        "how", "said-line", "said", "lit", "sign", "heard", "around", "jump", "chosen", "cursor", "here",
        "bar-key", "bar-text", "message", "warn", "heading", "dim", "match",
    )  # fmt: skip
    COMPONENT_CLASSES: ClassVar[set[str]] = {f"lines--{name}" for name in STYLES}

    DEFAULT_CSS = """
    Lines {
        scrollbar-size-vertical: 1;
        scrollbar-size-horizontal: 0;
        overflow-x: hidden;
        & > .lines--title { text-style: bold; }
        & > .lines--bar { color: $text-muted; }
        & > .lines--who { text-style: bold; }
        & > .lines--good { color: $text-success; text-style: bold; }
        & > .lines--bad { color: $text-error; text-style: bold; }
        & > .lines--doubt { color: $text-warning; text-style: bold; }
        & > .lines--fixed { color: $text-accent; text-style: bold; }
        & > .lines--guess { text-style: italic; color: $text-muted; }
        & > .lines--key { color: $text-accent; text-style: bold; }
        & > .lines--label { color: $text-muted; }
        & > .lines--nothing { color: $text-disabled; }
        & > .lines--strong { text-style: bold; }
        & > .lines--how { color: $text-muted; }
        & > .lines--said-line { color: $text-muted; }
        & > .lines--said { text-style: underline; }
        & > .lines--lit { text-style: bold reverse; }
        & > .lines--sign { color: $text-accent; }
        & > .lines--heard { text-style: italic; color: $text-muted; }
        & > .lines--around { color: $text-disabled; text-style: italic; }
        & > .lines--jump { color: $text-muted; }
        & > .lines--chosen { text-style: bold reverse; }
        & > .lines--cursor { text-style: bold; }
        & > .lines--here { background: $primary-muted; text-style: bold; }
        & > .lines--bar-key { color: $text-accent; text-style: bold; }
        & > .lines--bar-text { color: $text; }
        & > .lines--message { color: $text; }
        & > .lines--warn { color: $text-warning; text-style: bold; }
        & > .lines--heading { text-style: bold underline; }
        & > .lines--dim { color: $text-muted; }
        & > .lines--match { text-style: bold underline; }
    }
    """

    class Clicked(Message):
        """Something on a line was clicked. twice: the second of two quick clicks."""

        def __init__(self, lines: Lines, tag: Tag, twice: bool) -> None:
            super().__init__()
            self.lines = lines
            self.tag = tag
            self.twice = twice

        @property
        def control(self) -> Lines:
            return self.lines

    def __init__(self, draw: Draw, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._draw_lines = draw
        self.drawn: Sequence[Line] = ()
        self._named: dict[str, Style] = {}

    def show(self) -> None:
        """Draw anew; call it after what it shows has changed."""
        width = self.scrollable_content_region.width
        self.drawn = self._draw_lines(width) if width else ()
        self.virtual_size = Size(width, len(self.drawn))
        self._named = {}
        self.refresh()

    def on_mount(self) -> None:
        self.watch(self.app, "theme", self._restyle, init=False)

    def _restyle(self) -> None:
        self._named = {}
        self.refresh()

    def on_resize(self) -> None:
        self.show()

    def render_line(self, y: int) -> Strip:
        """One line as the terminal shows it."""
        place = y + self.scroll_offset.y
        base = self.rich_style
        width = self.size.width
        if place >= len(self.drawn):
            return Strip.blank(width, base)
        segments: list[Segment] = []
        for span in self.drawn[place]:
            style = base + self._style(span.style)
            # blanks apart from what follows them: pictures of the screen drop leading ones
            text = span.text.lstrip(" ")
            segments += [Segment(" " * (len(span.text) - len(text)), style), Segment(text, style)]
        return Strip(segments).adjust_cell_length(width, base)

    def _style(self, names: str) -> Style:
        found = self._named.get(names)
        if found is None:
            found = Style()
            for name in names.split():
                found += self.get_component_rich_style(f"lines--{name}", partial=True)
            self._named[names] = found
        return found

    def bring(self, line: int | None, room: int = 1) -> None:
        """Scroll so that a line is in view, with `room` lines before and after it."""
        height = self.scrollable_content_region.height
        if line is None or not height:
            return
        top = self.scroll_offset.y
        if line - room < top:
            self.scroll_to(y=max(0, line - room), animate=False)
        elif line + room >= top + height:
            self.scroll_to(y=line + room + 1 - height, animate=False)

    def on_click(self, event: events.Click) -> None:
        """Tell what was clicked."""
        inside = event.get_content_offset(self)
        place = (inside.y if inside else event.y) + self.scroll_offset.y
        if place < len(self.drawn):
            tag = tag_at(self.drawn[place], inside.x if inside else event.x)
            if tag is not None:
                event.stop()
                self.post_message(self.Clicked(self, tag, event.chain > 1))


class Rule(Widget):
    """A thin line between two panes."""

    DEFAULT_CSS = "Rule { height: 1; color: $text-disabled; }"

    def render_line(self, y: int) -> Strip:
        """The rule."""
        return Strip([Segment("─" * self.size.width, self.rich_style)])
