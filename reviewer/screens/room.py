"""The review room: one rep at a time, its words, its fields."""

from __future__ import annotations

from functools import partial
from threading import Lock
from typing import TYPE_CHECKING, Any

from reviewer.errors import InputError, ReviewerError
from reviewer.records import NoteContext, Word
from reviewer.review import actions, hearing, lessons, menus, offer, pages, passage, picks, reps
from reviewer.review.finding import Finder
from reviewer.review.picking import Picker
from reviewer.review.plain import plain
from reviewer.review.slots import BY_ID
from reviewer.screens.lines import Lines
from reviewer.screens.menu import MenuScreen, PageScreen
from reviewer.screens.prompt import AboveScreen
from reviewer.screens.room_keys import RoomKeys
from reviewer.screens.search import SearchScreen
from reviewer.screens.words import LessonScreen, OnWords, WordsScreen

if TYPE_CHECKING:
    from reviewer.review.session import Session
    from reviewer.review.settings import Settings
    from reviewer.store import Hit

FOLLOW_S = 0.1
"""How often the word that is heard is marked while the recording plays."""


class Room(RoomKeys):
    """The review of one note."""

    def __init__(
        self, session: Session, settings: Settings, read: Any = None, *, ahead: bool = False
    ) -> None:
        """read: what reads words anew, None for the program's own. ahead: whether that one is loaded
        beside the screen as soon as somebody works on words, so that he need not wait for it."""
        super().__init__(session)
        self.settings = settings
        self.player = hearing.Player()
        self.speed = 1.0
        self._read = read
        self._ahead = ahead
        self._loading = Lock()
        self._finder: Finder | None = None

    def on_mount(self) -> None:
        """Draw, keep an eye on other windows and on what is heard."""
        super().on_mount()
        self.set_interval(FOLLOW_S, self._follow)

    def on_unmount(self) -> None:
        """Leave the place in the note, and silence."""
        self.player.stop()

    def reader(self) -> reps.Read:
        """What reads words anew, loaded when first needed."""
        with self._loading:
            if self._read is None:
                from reviewer.language.read import Reader

                self._read = Reader.load().read
        read: reps.Read = self._read
        return read

    def _load_ahead(self) -> None:
        try:
            # what it needs besides is loaded with the first words it reads
            self.reader()([Word("first", 0.0, 0.1)], NoteContext())
        except ReviewerError:
            # said where the words are read, if they ever are
            return

    # --- hearing ---------------------------------------------------------------

    def do_hear(self) -> None:
        self._hear(whole=False)

    def do_hear_row(self) -> None:
        self._hear(whole=True)

    def _hear(self, whole: bool) -> None:
        if self.player.stop():
            self.tell("Stopped.")
            self.draw()
            return

        def play() -> None:
            stretch = hearing.stretch_of(self.session, None if whole else self.session.slot)
            self.play(stretch)

        self.guarded(play)

    def play(self, stretch: hearing.Stretch) -> None:
        """Play a stretch. Opening a file and a speaker takes a moment: it is done beside the screen."""
        self.run_worker(partial(self._play, stretch, self.speed), thread=True, group="sound", exclusive=True)

    def _play(self, stretch: hearing.Stretch, speed: float) -> None:
        try:
            said, warning = self.player.play(stretch, speed), False
        except ReviewerError as problem:
            said, warning = str(problem), True
        self.app.call_from_thread(self._played, said, warning)

    def _played(self, said: str, warning: bool) -> None:
        screen = self.app.screen
        teller = screen if isinstance(screen, OnWords) else self
        teller.tell(said, warning)
        teller.draw()

    def do_slower(self) -> None:
        slow = self.speed == 1.0
        self.speed = hearing.SLOWER if slow else 1.0
        self.tell("Slower from now on; z again for as spoken." if slow else "As spoken again.")
        self.show()

    def _follow(self) -> None:
        at = self.player.at_s
        word = None if at is None else passage.word_at(self.session.words, at)
        now = frozenset() if word is None else frozenset({word})
        if now != self.heard_now:
            self.heard_now = now
            self.draw()

    # --- words and reps --------------------------------------------------------

    def do_words(self, at: int | None = None) -> None:
        self.tell("")
        if self._ahead and self._read is None:
            self.run_worker(self._load_ahead, thread=True, group="reader", exclusive=True)
        screen = WordsScreen(self.session, self.reader, self, at)
        self.open(screen, lambda _: self.show())

    def do_learn(self) -> None:
        def show() -> None:
            meaning = lessons.meaning_of_fix(self.session) or lessons.meaning_of_slot(self.session)
            if meaning is None:
                raise InputError("Nothing stands here that words could mean; fix the field first.")
            screen = LessonScreen(self.session, meaning, meaning.first, meaning.last)
            self.open(screen, self._learned)

        self.guarded(show)

    def _learned(self, said: str | None) -> None:
        self.tell(said or "")
        self.show()

    def do_rep(self) -> None:
        self.open(MenuScreen("The rep and its rows", menus.rep_items()), self._chosen)

    def do_merge_next(self) -> None:
        self.attempt(lambda: reps.merge(self.session, 1))

    def do_merge_before(self) -> None:
        self.attempt(lambda: reps.merge(self.session, -1))

    def do_second(self) -> None:
        if self.session.row is None:
            self.attempt(lambda: reps.remove_row(self.session))
            return
        entries = picks.man_entries(self.session.roster, "own", {})
        picker = Picker(BY_ID["player"], entries, (), numbers=True)
        self.open_picker(picker, lambda values, _: reps.second_player(self.session, values["player"]))

    def do_remove(self) -> None:
        self.attempt(lambda: reps.remove_row(self.session))

    def do_restore(self) -> None:
        items = menus.removed_items(self.session)
        if not items:
            self.tell("No row of this note was removed.")
            self.show()
            return
        self.open(MenuScreen("Bring a row back", items), self._restore)

    def _restore(self, act: Any) -> None:
        if act is not None:
            self.attempt(lambda: reps.restore_row(self.session, act[1]))

    def do_earlier(self) -> None:
        self.attempt(lambda: reps.reorder(self.session, -1))

    def do_later(self) -> None:
        self.attempt(lambda: reps.reorder(self.session, 1))

    # --- the whole note --------------------------------------------------------

    def do_above(self) -> None:
        self.open(AboveScreen(self.session, self.settings.confidence), self._above)

    def _above(self, confidence: float | None) -> None:
        if confidence is not None:
            self.settings.confidence = confidence
            self.attempt(lambda: self.session.confirm_above(confidence))

    def do_first(self) -> None:
        def show() -> None:
            items = menus.first_items(self.session)
            self.open(MenuScreen("As the machine first read it", items), self._first)

        self.guarded(show)

    def _first(self, act: Any) -> None:
        if act is None:
            return
        kind, value = act
        if kind == "row":
            self.attempt(self.session.restore_first)
        else:
            self.attempt(lambda: self.session.restore_slot(BY_ID[value]))

    def do_questions(self) -> None:
        items = menus.question_items(self.session)
        self.open(MenuScreen("A new reading and you", items), self._settle)

    def _settle(self, act: Any) -> None:
        if act is not None and self.attempt(lambda: self.session.settle(*act)) and self.session.questions:
            self.do_questions()

    def choose_row(self) -> None:
        """Choose a row from the list of all."""
        items = menus.row_items(self.session)
        now = self.session.number(self.session.row_id or 0) - 1
        self.open(MenuScreen("All rows", items, max(0, now)), self._go)

    def _go(self, act: Any) -> None:
        if act is not None:
            self.guarded(lambda: self.session.go(act[1]))
            self.point(self.session.slot_id)

    def do_define(self) -> None:
        self.guarded(lambda: self.open(PageScreen("What the terms mean", offer.definitions(self.session))))

    # --- elsewhere -------------------------------------------------------------

    def do_find(self) -> None:
        def show() -> None:
            if self._finder is None:
                self._finder = Finder(self.session.library, self.session.vocabulary)
            self.open(SearchScreen(self._finder), self._found)

        self.guarded(show)

    def _found(self, hit: Hit | None) -> None:
        if hit is None:
            self.show()
        elif hit.note == self.session.note_id:
            self._land(hit)
        else:
            self.open_note(hit.note, hit)

    def _land(self, hit: Hit) -> None:
        if hit.row is not None:
            row = hit.row
            self.guarded(lambda: self.session.go(row))
            self.point(self.session.slot_id)
            return
        rows = self.session.rows
        before = [row.id for row in rows if row.start <= hit.start]
        if rows:
            self.session.go(before[-1] if before else rows[0].id)
        words = passage.words_between(self.session.words, hit.start, hit.end)
        self.do_words(words.start if words else None)

    def do_notes(self) -> None:
        items = menus.note_items(self.session.library, self.session.note_id)
        now = next((i for i, item in enumerate(items) if item.act == self.session.note_id), 0)
        self.open(MenuScreen("Notes", items, now), self._other)

    def _other(self, note: int | None) -> None:
        if note is not None and note != self.session.note_id:
            self.open_note(note)

    def open_note(self, note: int, hit: Hit | None = None) -> None:
        """Go on with another note; the place in this one is remembered."""

        def change() -> None:
            from reviewer.review.session import Session

            fresh = Session(self.session.library, note, self.session.vocabulary)
            self.session.leave()
            self.player.stop()
            self.session = fresh
            self.tell(f"Note: {plain(fresh.note.title)}")
            self.show()
            if hit is not None:
                self._land(hit)

        self.guarded(change)

    def do_sheet(self) -> None:
        self._page("Grade sheet", pages.sheet_text)

    def do_versus(self) -> None:
        self._page("The opponent", pages.opponent_text)

    def _page(self, title: str, make: Any) -> None:
        def show() -> None:
            text = make(self.session, max(pages.NARROWEST, self.size.width - 3))
            self.open(PageScreen(title, text, fold=False))

        self.guarded(show)

    def do_theme(self) -> None:
        self.settings.dark = not self.settings.dark
        self.app.theme = "textual-dark" if self.settings.dark else "textual-light"
        self.call_after_refresh(self.show)

    def do_help(self) -> None:
        self.open(MenuScreen("All keys", menus.help_items(actions.ROOM, slots=True)), self._chosen)

    def _chosen(self, act: Any) -> None:
        if act is None:
            self.show()
        elif act[0] == "slot":
            self.fix(BY_ID[act[1]])
        else:
            self.act(act[1])

    def do_quit(self) -> None:
        self.app.exit()

    # --- mouse -----------------------------------------------------------------

    def on_lines_clicked(self, event: Lines.Clicked) -> None:
        """A click goes there; a click on what is marked already fixes it."""
        kind, value = event.tag
        if kind == "act":
            self.act(value)
        elif kind == "row":
            self.session.go(value)
            self.point(self.session.slot_id)
        elif kind == "slot":
            if value == self.session.slot_id:
                self.fix(BY_ID[value])
            else:
                self.point(value)
        elif kind == "word":
            if event.twice:
                self.do_words(value)
                return
            gave = passage.gave(self.shown_words, value)
            self.point(gave[0] if gave else self.session.slot_id)
