"""What the review room shows: bars, words over fields, the list of rows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical

from reviewer.cautions import CAUTION
from reviewer.errors import ReviewerError
from reviewer.review import actions, passage, views
from reviewer.review.canvas import Line, wrapped
from reviewer.screens.keyed import Keyed
from reviewer.screens.lines import Lines, LinesApp, Rule

if TYPE_CHECKING:
    from reviewer.review.session import Session

LOOK_ROUND_S = 1.0
"""How often the room looks whether another window changed the note."""

TALL = 30
"""From so many lines on the talk around a rep is shown too."""


class RoomView(Keyed):
    """The panes of the review of one note, drawn from its session."""

    DEFAULT_CSS = """
    RoomView { layout: vertical; }
    RoomView #title, RoomView #bar { height: 1; background: $panel; }
    RoomView #row { height: 1; background: $surface; }
    RoomView #main { height: 1fr; }
    RoomView #rows { width: 34; display: none; border-right: solid $panel; }
    RoomView.-wide #rows { display: block; }
    RoomView #words { height: 1fr; min-height: 2; padding: 0 1; }
    RoomView #fields { height: 11; }
    RoomView #detail { height: 3; padding: 0 1; }
    RoomView #caution { height: auto; max-height: 4; padding: 0 1; display: none; }
    RoomView #message { height: 1; }
    RoomView.-caution #caution { display: block; }
    RoomView.-caution.-low #detail { height: 2; }
    """
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (110, "-wide")]  # noqa: RUF012 - as the base class has it
    VERTICAL_BREAKPOINTS = [(0, "-low"), (TALL, "-tall")]  # noqa: RUF012 - as the base class has it

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        self.heard_now: frozenset[int] = frozenset()
        self.shown_words: list[passage.Shown] = []

    def compose(self) -> ComposeResult:
        """Bars at the top and bottom, words over fields, the list of rows beside them where it is wide."""
        app = self.app
        assert isinstance(app, LinesApp)
        yield app.palette
        yield Lines(lambda width: [views.title_line(self.session, width)], id="title")
        yield Lines(lambda width: [views.row_line(self.session, width)], id="row")
        with Horizontal(id="main"):
            yield Lines(lambda width: views.list_lines(self.session, width), id="rows")
            with Vertical():
                yield Lines(self._words, id="words")
                yield Rule()
                yield Lines(lambda width: views.field_lines(self.session, width), id="fields")
                yield Lines(lambda width: views.detail_lines(self.session, width), id="detail")
                yield Lines(lambda width: wrapped(CAUTION, width, "warn"), id="caution")
        yield Lines(self.message, id="message")
        yield Lines(lambda width: [actions.bar_line(actions.ROOM, width)], id="bar")

    def on_mount(self) -> None:
        """Draw, and keep an eye on other windows."""
        self.show()
        self.set_interval(LOOK_ROUND_S, self.look_round)

    def _words(self, width: int) -> Sequence[Line]:
        lit = passage.lit_words(self.shown_words, self.session.slot_id)
        return passage.lay_out(self.shown_words, width, lit, self.session.slot_id, self.heard_now)

    def on_resize(self) -> None:
        """A taller screen shows more."""
        self.show()

    def show(self) -> None:
        """Draw everything as the session stands."""
        session = self.session
        row = session.row
        self.shown_words = (
            passage.passage(
                session.words,
                session.state,
                row.rep_id,
                row.current,
                session.mends,
                around=self.size.height >= TALL,
            )
            if row
            else []
        )
        self.set_class(bool(row and row.current.safety), "-caution")
        self.draw()

    def draw(self) -> None:
        """Draw, with the words of the field under the cursor and the row in view."""
        super().draw()
        session = self.session
        for lines in self.query(Lines):
            if lines.id == "words":
                lit = passage.lit_words(self.shown_words, session.slot_id)
                own = frozenset(shown.index for shown in self.shown_words if shown.part == "rep")
                lines.bring(passage.line_of(lines.drawn, lit or own))
            elif lines.id == "rows" and session.row_id is not None:
                lines.bring(session.number(session.row_id) - 1)

    def attempt(self, action: Callable[[], str]) -> bool:
        """Do something to the note and say how it went; False when it could not be done."""
        try:
            self.tell(action())
        except ReviewerError as problem:
            self.tell(str(problem), warning=True)
            self.show()
            return False
        self.show()
        return True

    def look_round(self) -> None:
        """See what another window did, unless something is open over the room."""
        if self.app.screen is not self:
            return
        try:
            news = self.session.look_round()
        except ReviewerError as problem:
            news = str(problem)
        if news:
            self.tell(news, warning=True)
            self.show()
