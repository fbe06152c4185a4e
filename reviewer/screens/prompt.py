"""Ask for one line of text; and for the confidence from which all rows are confirmed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input

from reviewer.errors import ReviewerError
from reviewer.review.canvas import Line, Span, fitted
from reviewer.review.plain import count, plain
from reviewer.review.session import Session
from reviewer.review.views import above_lines, percent
from reviewer.screens.lines import Lines
from reviewer.screens.pick import Line1


class PromptScreen(ModalScreen[None]):
    """Ask for a line. `check` says what the text means while it is typed (or raises ReviewerError);
    `give` takes it and tells whether the prompt may close."""

    CSS = """
    PromptScreen { align: center bottom; background: $background 40%; }
    PromptScreen > Vertical { height: auto; width: 100%; max-width: 100; background: $panel;
        border: round $primary; padding: 0 1; }
    PromptScreen Lines { background: $panel; height: 1; }
    """
    BINDINGS: ClassVar[list[Any]] = [
        Binding("escape", "leave", priority=True),
        Binding("enter", "take", priority=True),
    ]

    def __init__(
        self, title: str, text: str, check: Callable[[str], str], give: Callable[[str], None]
    ) -> None:
        super().__init__()
        self.heading = title
        self.start = text
        self.check = check
        self.give = give
        self.meaning, self.bad = "", False

    def compose(self) -> ComposeResult:
        """Heading, the line, what it means, keys."""
        with Vertical():
            yield Lines(lambda _: [(Span(plain(self.heading), "title"),)])
            yield Line1(self.start, compact=True, select_on_focus=True)
            yield Lines(lambda width: [self._meaning(width)], id="meaning")
            yield Lines(lambda _: [_PROMPT_KEYS])

    def _meaning(self, width: int) -> Line:
        return fitted((Span(plain(self.meaning), "warn" if self.bad else "dim"),), width)

    def on_input_changed(self, event: Input.Changed) -> None:
        """Say what the text means so far."""
        try:
            self.meaning, self.bad = self.check(event.value), False
        except ReviewerError as problem:
            self.meaning, self.bad = str(problem), True
        self.query_one("#meaning", Lines).show()

    def action_take(self) -> None:
        """Hand the text over, unless it cannot be understood."""
        if not self.bad:
            text = self.query_one(Input).value
            self.dismiss(None)
            self.give(text)

    def action_leave(self) -> None:
        """Close, nothing changed."""
        self.dismiss(None)

    def on_lines_clicked(self, event: Lines.Clicked) -> None:
        """The keys can be clicked."""
        getattr(self, f"action_{event.tag[1]}")()


_PROMPT_KEYS = (
    Span("enter ", "bar-key", ("act", "take")),
    Span("take   ", "bar-text", ("act", "take")),
    Span("esc ", "bar-key", ("act", "leave")),
    Span("leave as it is", "bar-text", ("act", "leave")),
)


class AboveScreen(ModalScreen[float | None]):
    """Set a confidence, see which rows it takes, confirm them; closes with it or None."""

    CSS = """
    AboveScreen { align: center middle; background: $background 40%; }
    AboveScreen > Vertical { height: auto; max-height: 95%; width: 100%; max-width: 100; background: $panel;
        border: round $primary; padding: 0 1; }
    AboveScreen Lines { background: $panel; }
    AboveScreen #head { height: 2; }
    AboveScreen #rows { height: 12; }
    AboveScreen #foot { height: 1; }
    """
    BINDINGS: ClassVar[list[Any]] = [
        Binding("escape", "leave"),
        Binding("right,plus", "change(1)"),
        Binding("left,minus", "change(-1)"),
        Binding("up", "change(5)"),
        Binding("down", "change(-5)"),
        Binding("enter", "take"),
    ]

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
        return [
            (
                Span(f"Rows at least {percent(self.confidence)} sure: ", "title"),
                Span(f"{found} of {left} left", "strong"),
            ),
            (Span("Look them over; one u takes them all back.", "dim"),),
        ]

    def _foot(self, width: int) -> Line:
        found = len(self.session.above(self.confidence))
        take = f"confirm {count(found, 'row')}   " if found else "nothing to confirm   "
        return fitted(
            (
                Span("← → ", "bar-key", ("act", "less")),
                Span("1 %   ", "bar-text", ("act", "more")),
                Span("↑ ↓ ", "bar-key", ("act", "more5")),
                Span("5 %   ", "bar-text", ("act", "less5")),
                Span("enter ", "bar-key", ("act", "take")),
                Span(take, "bar-text", ("act", "take")),
                Span("esc ", "bar-key", ("act", "leave")),
                Span("leave", "bar-text", ("act", "leave")),
            ),
            width,
        )

    def action_change(self, by: int) -> None:
        """Set the confidence higher or lower."""
        self.percent = max(0, min(100, self.percent + by))
        for lines in self.query(Lines):
            lines.show()

    def action_take(self) -> None:
        """Confirm what it takes."""
        self.dismiss(self.confidence if self.session.above(self.confidence) else None)

    def action_leave(self) -> None:
        """Close, nothing confirmed."""
        self.dismiss(None)

    def on_lines_clicked(self, event: Lines.Clicked) -> None:
        """The keys can be clicked."""
        steps = {"less": -1, "more": 1, "less5": -5, "more5": 5}
        name = event.tag[1]
        if name in steps:
            self.action_change(steps[name])
        elif name in {"take", "leave"}:
            getattr(self, f"action_{name}")()
