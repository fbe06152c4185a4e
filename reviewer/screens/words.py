"""Work on the words of a rep, and the choice of words to be learned."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, ClassVar, Protocol

from textual.app import ComposeResult

from reviewer.errors import InputError, ReviewerError
from reviewer.review import actions, hearing, lessons, menus, passage, reps, rewording, views
from reviewer.review.actions import Action
from reviewer.review.canvas import Line, wrapped
from reviewer.review.plain import plain
from reviewer.review.wordwork import WordCursor, gave_lines, word_lines
from reviewer.screens.keyed import Over
from reviewer.screens.lines import Lines, Rule
from reviewer.screens.menu import MenuScreen
from reviewer.screens.prompt import PromptScreen

if TYPE_CHECKING:
    from reviewer.review.session import Session


class Speaker(Protocol):
    """Whoever plays stretches of the recording."""

    @property
    def player(self) -> hearing.Player: ...

    def play(self, stretch: hearing.Stretch) -> None: ...


class OnWords(Over):
    """A cursor over the words of the row in hand. Subclasses say what can be done."""

    TABLE: ClassVar[tuple[Action, ...]] = ()
    DEFAULT_CSS = """
    OnWords { background: $background; }
    OnWords Lines { background: $background; }
    OnWords #title, OnWords #bar { height: 1; background: $panel; }
    OnWords #row { height: 1; background: $surface; }
    OnWords #words { height: 1fr; padding: 0 1; }
    OnWords #gave { height: 4; padding: 0 1; }
    OnWords #message { height: 1; }
    """

    def __init__(self, session: Session, at: int | None = None) -> None:
        super().__init__()
        self.session = session
        self.cursor = WordCursor(session, at)

    def compose(self) -> ComposeResult:
        """Bars, the words, what they gave."""
        session = self.session
        yield Lines(lambda width: [views.title_line(session, width)], id="title")
        yield Lines(lambda width: [views.row_line(session, width)], id="row")
        yield Lines(lambda width: word_lines(self.cursor, width), id="words")
        yield Rule()
        yield Lines(self.below, id="gave")
        yield Lines(self.message, id="message")
        yield Lines(lambda width: [actions.bar_line(self.TABLE, width)], id="bar")

    def below(self, width: int) -> list[Line]:
        """What stands under the words."""
        return gave_lines(self.cursor, width)

    def on_mount(self) -> None:
        """The cursor in view."""
        self.call_after_refresh(self.draw)

    def draw(self) -> None:
        """Draw, with the cursor in view."""
        super().draw()
        for words in self.query("#words"):
            assert isinstance(words, Lines)
            words.bring(passage.line_of(words.drawn, frozenset({self.cursor.at})))

    def take_key(self, key: str, character: str | None) -> None:
        """Do what the table says of the key."""
        name = actions.by_key(self.TABLE).get(key)
        if name is not None:
            self.act(name)

    def attempt(self, action: Callable[[], str]) -> bool:
        """Do something to the note and say how it went."""
        try:
            self.tell(action())
            return True
        except ReviewerError as problem:
            self.tell(str(problem), warning=True)
            return False
        finally:
            self.cursor.refresh()
            self.draw()

    def act(self, name: str) -> None:
        """Do an action of the table."""
        getattr(self, f"do_{name}")()

    def _moved(self) -> None:
        self.tell("")
        self.draw()

    def do_left(self) -> None:
        self.cursor.move(-1)
        self._moved()

    def do_right(self) -> None:
        self.cursor.move(1)
        self._moved()

    def do_grow_left(self) -> None:
        self.cursor.move(-1, grow=True)
        self._moved()

    def do_grow_right(self) -> None:
        self.cursor.move(1, grow=True)
        self._moved()

    def _line(self, by: int) -> None:
        for words in self.query("#words"):
            assert isinstance(words, Lines)
            self.cursor.move_line(words.drawn, by)

    def do_up(self) -> None:
        self._line(-1)
        self._moved()

    def do_down(self) -> None:
        self._line(1)
        self._moved()

    def do_help(self) -> None:
        self.open(MenuScreen("On the words", menus.help_items(self.TABLE)), self._chosen)

    def _chosen(self, act: Any) -> None:
        if act is not None:
            self.act(act[1])

    def do_leave(self) -> None:
        self.close(None)

    def on_lines_clicked(self, event: Lines.Clicked) -> None:
        """A click puts the cursor there; on the word after the chosen ones it chooses up to there."""
        kind, value = event.tag
        if kind == "act":
            self.act(value)
        elif kind == "word":
            if event.twice and value != self.cursor.anchor:
                self.cursor.at = value
            else:
                self.cursor.put(value)
            self._moved()


class WordsScreen(OnWords):
    """Split, move, refuse, learn."""

    TABLE = actions.ON_WORDS

    def __init__(
        self, session: Session, read: Callable[[], reps.Read], speaker: Speaker, at: int | None = None
    ) -> None:
        super().__init__(session, at)
        self._read = read
        self._speaker = speaker

    def _here(self, action: Callable[[], str]) -> None:
        """Do something that may land on another row: the cursor then goes to its first word."""
        row = self.session.row_id
        self.attempt(action)
        if self.session.row_id != row:
            self.cursor.refresh(-1)
            self.draw()

    def do_split(self) -> None:
        self._here(lambda: reps.split(self.session, self.cursor.at, self._read()))

    def do_to_before(self) -> None:
        self.attempt(lambda: reps.give_words(self.session, *self.cursor.to_start(), -1))

    def do_to_next(self) -> None:
        self.attempt(lambda: reps.give_words(self.session, *self.cursor.to_end(), 1))

    def do_take(self) -> None:
        self.attempt(lambda: reps.take_words(self.session, self.cursor.first, self.cursor.last))

    def do_drop(self) -> None:
        self.attempt(lambda: reps.drop_words(self.session, self.cursor.first, self.cursor.last))

    def do_add(self) -> None:
        self._here(lambda: reps.add_rep(self.session, self.cursor.first, self.cursor.last, self._read()))

    def do_mend(self) -> None:
        at = self.cursor.at
        if self.attempt(lambda: rewording.turn(self.session, at, self._read())) and lessons.meaning_of_heard(
            self.session, at
        ):
            self.tell(f"{self.said}  l: leave it so in every note")
            self.draw()

    def do_reword(self) -> None:
        session = self.session
        if not self.cursor.shown:
            return
        first, last = rewording.whole(session, self.cursor.first, self.cursor.last)
        heard, at = rewording.as_heard(session, first, last), self.cursor.at
        seen = session.revision

        def give(text: str | None) -> None:
            if text is not None:
                if self.attempt(
                    lambda: rewording.put_right(session, first, last, text, self._read(), seen)
                ) and lessons.meaning_of_heard(session, first):
                    self.tell(f"{self.said}  l: read it so in every note")
                self.cursor.refresh(at)
                self.draw()

        text = rewording.as_read(session, first, last)
        self.open(PromptScreen("What was said", text, lambda _: f"heard: “{plain(heard)}”"), give)

    def do_learn(self) -> None:
        def ask() -> str:
            session = self.session
            meaning = lessons.meaning_of_heard(session, self.cursor.at) or lessons.meaning_of_slot(session)
            if meaning is None:
                raise InputError(
                    "Nothing here to learn: esc, give the field its value, then L teaches its words."
                )
            first, last = self.cursor.first, self.cursor.last
            if meaning.heard:
                first, last = meaning.first, meaning.last
            self.open(LessonScreen(session, meaning, first, last), self._learned)
            return ""

        self.attempt(ask)

    def _learned(self, said: str | None) -> None:
        self.tell(said or "")
        self.draw()

    def do_hear(self) -> None:
        if self._speaker.player.stop():
            self.tell("Stopped.")
            self.draw()
            return

        def play() -> str:
            whole = hearing.stretch_of(self.session)
            start = self.session.words[self.cursor.at].start
            end = max(whole.end_s, start + 1)
            self._speaker.play(hearing.Stretch(whole.path, start, end, "from this word on"))
            return ""

        self.attempt(play)

    def do_field(self) -> None:
        gave = passage.gave(self.cursor.shown, self.cursor.at)
        if gave:
            self.session.slot_id = gave[0]
        self.close(None)

    def do_next(self) -> None:
        self._step(1)

    def do_previous(self) -> None:
        self._step(-1)

    def _step(self, by: int) -> None:
        moved = self.session.step(by)
        self.tell("" if moved else "There is no further row.")
        self.cursor.refresh(-1 if moved else None)
        self.draw()

    def do_undo(self) -> None:
        self._here(self.session.undo)

    def do_redo(self) -> None:
        self._here(self.session.redo)


class LessonScreen(OnWords):
    """Choose the words that say what a correction meant; closes with a sentence, or None."""

    TABLE = actions.ON_LESSON

    def __init__(self, session: Session, meaning: lessons.Meaning, first: int, last: int) -> None:
        super().__init__(session, first)
        self.meaning = meaning
        self.cursor.choose(first, last)

    def below(self, width: int) -> list[Line]:
        """The question that is asked."""
        chosen = " ".join(w.text for w in self.cursor.shown if w.index in self.cursor.chosen)
        if self.meaning.kind == "habit":
            ask = "Leave these words as heard in every note from now on?"
        elif self.meaning.heard:
            ask = f"Read “{self.meaning.heard}” as these words in every note from now on?"
        else:
            ask = f"Which words say {self.meaning.shown}? They are kept for the next notes."
        return [*wrapped(ask, width, "title"), *wrapped(f"“{chosen}”", width, "strong")]

    def do_learn(self) -> None:
        cursor = self.cursor
        if self.attempt(lambda: lessons.teach(self.session, self.meaning, cursor.first, cursor.last)):
            self.close(self.said)
