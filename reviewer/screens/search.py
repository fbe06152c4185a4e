"""Search all notes over the room."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Vertical

from reviewer.review.canvas import Line, Span, fitted
from reviewer.review.finding import FILTERS, Finder, filter_line, hit_lines
from reviewer.review.plain import plain
from reviewer.review.textline import TextLine
from reviewer.screens.keyed import Over
from reviewer.screens.lines import Lines
from reviewer.screens.pick import STEPS

HINT = 'words, a term, "a phrase", player:76 opponent:94 verdict:loss down:3'

_FILTER_KEYS = {key: name for key, name, _ in FILTERS}


class SearchScreen(Over):
    """Type, go through filters, choose a place; it closes with the place (a Hit) or None."""

    DEFAULT_CSS = """
    SearchScreen { background: $surface; }
    SearchScreen Lines { background: $surface; }
    SearchScreen #head, SearchScreen #foot { height: 1; background: $panel; }
    SearchScreen #typed, SearchScreen #filters, SearchScreen #remark { height: 1; padding: 0 1; }
    SearchScreen #typed { background: $boost; }
    SearchScreen #hits { height: 1fr; }
    """

    def __init__(self, finder: Finder) -> None:
        super().__init__()
        self.finder = finder
        # what was searched last stands there, and typing begins anew
        self.typing = TextLine(finder.typed, whole=True)
        finder.look()

    def compose(self) -> ComposeResult:
        """The line, the filters, what was understood, the places."""
        with Vertical():
            yield Lines(lambda _: [(Span(" Search all notes", "title"),)], id="head")
            yield Lines(lambda width: [self.typing.line(width, HINT)], id="typed")
            yield Lines(lambda width: [filter_line(self.finder, width)], id="filters")
            yield Lines(self._remark, id="remark")
            yield Lines(lambda width: hit_lines(self.finder, width), id="hits")
            yield Lines(lambda _: [_KEYS], id="foot")

    def _remark(self, width: int) -> list[Line]:
        return [fitted((Span(plain(self.finder.remark), "dim"),), width)]

    def draw(self) -> None:
        """Draw, with the marked place in view."""
        super().draw()
        for lines in self.query("#hits"):
            assert isinstance(lines, Lines)
            lines.bring(2 * self.finder.index, 2)

    def take_key(self, key: str, character: str | None) -> None:
        """Type, filter, choose, leave."""
        if key == "escape":
            self.do_leave()
        elif key == "enter":
            self.do_take()
        elif key in STEPS:
            self.finder.move(STEPS[key])
            self.draw()
        elif key in _FILTER_KEYS:
            self._filter(_FILTER_KEYS[key])
        elif self.typing.key(key, character):
            self._typed()

    def take_text(self, text: str) -> None:
        """Pasted text is searched."""
        self.typing.insert(text)
        self._typed()

    def _typed(self) -> None:
        if self.typing.text != self.finder.typed:
            self.finder.look(self.typing.text)
        self.draw()

    def _filter(self, name: str) -> None:
        self.finder.cycle(name)
        self.draw()

    def do_take(self) -> None:
        """Close with the marked place."""
        self.close(self.finder.marked)

    def do_leave(self) -> None:
        """Close with nothing."""
        self.close()

    def on_lines_clicked(self, event: Lines.Clicked) -> None:
        """A click on a filter goes on, on a place opens it."""
        kind, value = event.tag
        if kind == "filter":
            self._filter(value)
        elif kind == "hit":
            self.finder.index = value
            self.do_take()
        elif kind == "act":
            getattr(self, f"do_{value}")()


_KEYS = (
    Span(" enter ", "bar-key", ("act", "take")),
    Span("open it   ", "bar-text", ("act", "take")),
    Span("↑ ↓ ", "bar-key"),
    Span("choose   ", "bar-text"),
    Span("esc ", "bar-key", ("act", "leave")),
    Span("back", "bar-text", ("act", "leave")),
)
