"""The one widget that draws: lines of named styles, clickable, scrolling."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.app import App
from textual.geometry import Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip
from textual.widget import Widget

from reviewer.review.canvas import Line, Tag, tag_at, width_of

Draw = Callable[[int], Sequence[Line]]
"""Lines for a width in columns."""


class Palette(Widget):
    """Every named style of `reviewer.review.canvas.Span`, once for all that draws: never shown itself."""

    STYLES: ClassVar[tuple[str, ...]] = (
        "title", "bar", "who", "good", "bad", "doubt", "fixed", "guess", "key", "label", "nothing", "strong",
        "how", "said-line", "said", "lit", "sign", "heard", "around", "jump", "chosen", "cursor", "here",
        "bar-key", "bar-text", "message", "warn", "heading", "dim", "match",
    )  # fmt: skip
    COMPONENT_CLASSES: ClassVar[set[str]] = {f"palette--{name}" for name in STYLES}

    DEFAULT_CSS = """
    Palette {
        display: none;
        & > .palette--title { text-style: bold; }
        & > .palette--bar { text-style: dim; }
        & > .palette--who { text-style: bold; }
        & > .palette--good { color: $text-success; text-style: bold; }
        & > .palette--bad { color: $text-error; text-style: bold; }
        & > .palette--doubt { color: $text-warning; text-style: bold; }
        & > .palette--fixed { color: $text-accent; text-style: bold; }
        & > .palette--guess { text-style: italic dim; }
        & > .palette--key { color: $text-accent; text-style: bold; }
        & > .palette--label { text-style: dim; }
        & > .palette--nothing { text-style: dim; }
        & > .palette--strong { text-style: bold; }
        & > .palette--how { text-style: dim; }
        & > .palette--said-line { text-style: dim; }
        & > .palette--said { text-style: underline; }
        & > .palette--lit { text-style: bold reverse; }
        & > .palette--sign { color: $text-accent; }
        & > .palette--heard { text-style: italic dim; }
        & > .palette--around { text-style: italic dim; }
        & > .palette--jump { text-style: dim; }
        & > .palette--chosen { text-style: bold reverse; }
        & > .palette--cursor { text-style: bold; }
        & > .palette--here { background: $primary-muted; text-style: bold; }
        & > .palette--bar-key { color: $text-accent; text-style: bold; }
        & > .palette--warn { color: $text-warning; text-style: bold; }
        & > .palette--heading { text-style: bold underline; }
        & > .palette--dim { text-style: dim; }
        & > .palette--match { text-style: bold underline; }
    }
    """

    def __init__(self) -> None:
        super().__init__()
        self._known: dict[str, Style] = {}

    def on_mount(self) -> None:
        """Another theme has other colours."""
        self.watch(self.app, "theme", self._forget, init=False)

    def _forget(self) -> None:
        self._known = {}

    def named(self, names: str) -> Style:
        """The style of one name, or of several with a blank between, the later over the earlier."""
        found = self._known.get(names)
        if found is None:
            found = Style()
            for name in names.split():
                found += self.get_component_rich_style(f"palette--{name}", partial=True)
            self._known[names] = found
        return found


class LinesApp(App[None]):
    """An app with a palette; its first screen mounts it."""

    def __init__(self) -> None:
        super().__init__()
        self.palette = Palette()


class Lines(ScrollView, can_focus=False):
    """Lines drawn by a function of the width; a click posts the tag under the mouse. For a `LinesApp`."""

    DEFAULT_CSS = """
    Lines {
        scrollbar-size-vertical: 1;
        scrollbar-size-horizontal: 0;
        overflow-x: hidden;
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

    def __init__(self, draw: Draw, *, id: str | None = None, wide: bool = False) -> None:
        """wide: whether lines may be wider than the widget and are scrolled to the side."""
        super().__init__(id=id)
        self._wide = wide
        self._draw_lines = draw
        self.drawn: Sequence[Line] = ()

    def show(self) -> None:
        """Draw anew; call it after what it shows has changed."""
        region = self.scrollable_content_region
        # the scrollbar comes and goes with what is drawn: lines are made for the width they will have
        bar = self.styles.scrollbar_size_vertical
        width = region.width + bar * self.show_vertical_scrollbar
        self.drawn = self._draw_lines(width) if width else ()
        if len(self.drawn) > region.height and not self._wide:
            width -= bar
            self.drawn = self._draw_lines(width)
        widest = max((width_of(line) for line in self.drawn), default=0) if self._wide else 0
        self.virtual_size = Size(max(width, widest), len(self.drawn))
        self.refresh()

    def on_resize(self) -> None:
        self.show()

    def render_line(self, y: int) -> Strip:
        """One line as the terminal shows it."""
        place = y + self.scroll_offset.y
        base = self.rich_style
        width = self.size.width
        app = self.app
        assert isinstance(app, LinesApp)
        if place >= len(self.drawn):
            return Strip.blank(width, base)
        segments: list[Segment] = []
        for span in self.drawn[place]:
            style = base + app.palette.named(span.style)
            # blanks apart from what follows them: pictures of the screen drop leading ones
            text = span.text.lstrip(" ")
            segments += [Segment(" " * (len(span.text) - len(text)), style), Segment(text, style)]
        strip = Strip(segments)
        if self._wide:
            strip = strip.crop(self.scroll_offset.x)
        return strip.adjust_cell_length(width, base)

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
            column = (inside.x if inside else event.x) + self.scroll_offset.x
            tag = tag_at(self.drawn[place], column)
            if tag is not None:
                event.stop()
                self.post_message(self.Clicked(self, tag, event.chain > 1))


class Rule(Widget):
    """A thin line between two panes."""

    DEFAULT_CSS = "Rule { height: 1; color: $text-disabled; }"

    def render_line(self, y: int) -> Strip:
        """The rule."""
        return Strip([Segment("─" * self.size.width, self.rich_style)])
