"""Ask for one line of text; and for the confidence from which all rows are confirmed."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from textual.app import ComposeResult
from textual.containers import Vertical

from reviewer.errors import ReviewerError
from reviewer.review.canvas import Line, Span, fitted
from reviewer.review.plain import count, plain
from reviewer.review.session import Session
from reviewer.review.textline import TextLine
from reviewer.review.views import above_lines, percent
from reviewer.screens.keyed import Over
from reviewer.screens.lines import Lines


class PromptScreen(Over):
    """Ask for a line; it closes with the text, or None when left.

    check: says what the text means while it is typed; what it refuses (ReviewerError) cannot be given.
    """

    DEFAULT_CSS = """
    PromptScreen { align: center bottom; background: $background 40%; }
    PromptScreen > Vertical { height: auto; width: 100%; max-width: 100; background: $panel;
        border: round $primary; padding: 0 1; }
    PromptScreen Lines { background: $panel; height: 1; }
    PromptScreen #typed { background: $surface; }
    """

    def __init__(self, title: str, text: str, check: Callable[[str], str]) -> None:
        super().__init__()
        self.heading = title
        self.typing = TextLine(text)
        self.check = check
        self.meaning, self.bad = check(text) if text else "", False

    def compose(self) -> ComposeResult:
        """Heading, the line, what it means, keys."""
        with Vertical():
            yield Lines(lambda _: [(Span(plain(self.heading), "title"),)])
            yield Lines(lambda width: [self.typing.line(width)], id="typed")
            yield Lines(lambda width: [self._meaning(width)], id="meaning")
            yield Lines(lambda _: [_PROMPT_KEYS])

    def _meaning(self, width: int) -> Line:
        return fitted((Span(plain(self.meaning), "warn" if self.bad else "dim"),), width)

    def take_key(self, key: str, character: str | None) -> None:
        """Type, take, leave."""
        if key == "escape":
            self.do_leave()
        elif key == "enter":
            self.do_take()
        elif self.typing.key(key, character):
            self._typed()

    def take_text(self, text: str) -> None:
        """Pasted text is typed."""
        self.typing.insert(text)
        self._typed()

    def _typed(self) -> None:
        try:
            self.meaning, self.bad = self.check(self.typing.text), False
        except ReviewerError as problem:
            self.meaning, self.bad = str(problem), True
        self.draw()

    def do_take(self) -> None:
        """Hand the text over, unless it cannot be understood."""
        if not self.bad:
            self.close(self.typing.text)

    def do_leave(self) -> None:
        """Close, nothing changed."""
        self.close()

    def on_lines_clicked(self, event: Lines.Clicked) -> None:
        """The keys can be clicked."""
        getattr(self, f"do_{event.tag[1]}")()


_PROMPT_KEYS = (
    Span("enter ", "bar-key", ("act", "take")),
    Span("take   ", "bar-text", ("act", "take")),
    Span("esc ", "bar-key", ("act", "leave")),
    Span("leave as it is", "bar-text", ("act", "leave")),
)

_CHANGES = {"right": 1, "plus": 1, "left": -1, "minus": -1, "up": 5, "down": -5}


class AboveScreen(Over):
    """Set a confidence, see which rows it takes, confirm them; closes with it or None."""

    DEFAULT_CSS = """
    AboveScreen { align: center middle; background: $background 40%; }
    AboveScreen > Vertical { height: auto; max-height: 95%; width: 100%; max-width: 100; background: $panel;
        border: round $primary; padding: 0 1; }
    AboveScreen Lines { background: $panel; }
    AboveScreen #head { height: 2; }
    AboveScreen #rows { height: 12; }
    AboveScreen #foot { height: 1; }
    """

    def __init__(self, session: Session, confidence: float) -> None:
        super().__init__()
        self.session = session
        self.percent = round(100 * confidence)

    @property
    def confidence(self) -> float:
        """The confidence set, 0..1."""
        return self.percent / 100

    def compose(self) -> ComposeResult:
        """The confidence and the count, the rows, keys."""
        with Vertical():
            yield Lines(self._head, id="head")
            yield Lines(lambda width: above_lines(self.session, self.confidence, width), id="rows")
            yield Lines(lambda width: [self._foot(width)], id="foot")

    def _head(self, width: int) -> Sequence[Line]:
        found = len(self.session.above(self.confidence))
        left = self.session.progress.left
        title = Span(f"Rows at least {percent(self.confidence)} sure: ", "title")
        return [
            (title, Span(f"{found} of {left} left", "strong")),
            (Span("Look them over; one u takes them all back.", "dim"),),
        ]

    def _foot(self, width: int) -> Line:
        found = len(self.session.above(self.confidence))
        take = f"confirm {count(found, 'row')}   " if found else "nothing to confirm   "
        return fitted(
            (
                Span("← ", "bar-key", ("act", "less")),
                Span("→ ", "bar-key", ("act", "more")),
                Span("1 %   ", "bar-text"),
                Span("↓ ", "bar-key", ("act", "less5")),
                Span("↑ ", "bar-key", ("act", "more5")),
                Span("5 %   ", "bar-text"),
                Span("enter ", "bar-key", ("act", "take")),
                Span(take, "bar-text", ("act", "take")),
                Span("esc ", "bar-key", ("act", "leave")),
                Span("leave", "bar-text", ("act", "leave")),
            ),
            width,
        )

    def take_key(self, key: str, character: str | None) -> None:
        """Set, confirm, leave."""
        if key == "escape":
            self.close()
        elif key == "enter":
            self._take()
        elif key in _CHANGES:
            self._change(_CHANGES[key])

    def _change(self, by: int) -> None:
        self.percent = max(0, min(100, self.percent + by))
        self.draw()

    def _take(self) -> None:
        self.close(self.confidence if self.session.above(self.confidence) else None)

    def on_lines_clicked(self, event: Lines.Clicked) -> None:
        """The keys can be clicked."""
        steps = {"less": -1, "more": 1, "less5": -5, "more5": 5}
        name = event.tag[1]
        if name in steps:
            self._change(steps[name])
        elif name == "take":
            self._take()
        elif name == "leave":
            self.close()
