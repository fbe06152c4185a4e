"""The screen of `reviewer record`: it paints what `record_desk.View` says and passes keys on."""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import ClassVar

from rich.text import Text
from textual import work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.screen import Screen
from textual.widgets import Button, Static

from reviewer import paths
from reviewer.errors import ReviewerError
from reviewer.review.plain import plain
from reviewer.screens.keyed import TypedApp
from reviewer.screens.record_dialogs import Choice
from reviewer.screens.record_terminal import screen_to_itself
from reviewer.speech.follow import QUIET_S
from reviewer.speech.follow_wav import SampleForm
from reviewer.speech.live import whisper_ears
from reviewer.speech.record_desk import Action, Desk, View, loudness, make_desk, meter
from reviewer.speech.record_level import Level
from reviewer.speech.record_notes import Recording, describe
from reviewer.speech.record_plain import record_plain

_PAINT_S = 0.1

_KEYS: dict[Action, tuple[str, str]] = {
    Action.RECORD: ("space", "Record"),
    Action.PAUSE: ("space", "Pause"),
    Action.GO_ON: ("space", "Go on"),
    Action.MARK: ("m", "Mark"),
    Action.FINISH: ("f", "Finish"),
    Action.CANCEL: ("x", "Cancel"),
    Action.CHOOSE: ("i", "Input"),
}
"""Key and label of each action: bindings and buttons are both made from this."""

Outcome = Recording | ReviewerError | None
"""The recording; why there is none; or None where he left, and a note begun stays an unfinished one."""

_WORDS_TITLE = "Words so far (rough: the whole note is read again at its end)"


_LEVEL = "Level  "


class LevelBar(Static):
    """The microphone's level as a bar with its figures."""

    level: Level | None = None

    def show(self, level: Level | None) -> None:
        """Paint a level; nothing where there is no microphone."""
        self.level = level
        if level is None:
            self.update("")
            return
        width = max(10, self.size.width - len(_LEVEL))
        drawn = meter(level, width)
        bar = Text(_LEVEL)
        for cell in range(width):
            color = "red" if cell > width * 0.95 else "yellow" if cell > width * 0.8 else "green"
            filled = cell < drawn.filled
            bar.append("▌" if cell == drawn.peak else "█" if filled else "·", color if filled else "dim")
        bar.append(f"\n{loudness(level):<8}", "bold")
        bar.append(f"   {drawn.words}", "dim")
        self.update(bar)


class RecordScreen(Screen[Outcome]):
    """Record one note with a desk that is open. The result is an `Outcome`."""

    AUTO_FOCUS = ""

    BINDINGS: ClassVar[list[BindingType]] = [
        *[Binding(key, f"act('{action.name}')", label) for action, (key, label) in _KEYS.items()],
        Binding("q,escape,ctrl+c", "leave", "Leave"),
    ]

    DEFAULT_CSS = """
    RecordScreen { layout: vertical; padding: 0 1; }
    RecordScreen #head { height: 1; }
    RecordScreen #headline { width: 1fr; text-style: bold; }
    RecordScreen #headline.recording { color: $error; }
    RecordScreen #clock { width: 14; text-align: right; text-style: bold; }
    RecordScreen #input { height: 1; margin-top: 1; }
    RecordScreen LevelBar { height: auto; text-wrap: nowrap; }
    RecordScreen #warnings { height: auto; max-height: 5; color: $warning; text-style: bold; }
    RecordScreen #words {
        height: 1fr; min-height: 4; margin-top: 1; border: round $primary-darken-1; padding: 0 1;
    }
    RecordScreen #text { height: auto; }
    RecordScreen #marks { height: auto; max-height: 2; }
    RecordScreen #buttons { height: 3; }
    RecordScreen Button { min-width: 0; padding: 0; margin-right: 1; }
    """

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._view = desk.view()
        self._shown_words = ""

    def compose(self) -> ComposeResult:
        with Horizontal(id="head"):
            yield Static(id="headline", markup=False)
            yield Static(id="clock", markup=False)
        yield Static(id="input", markup=False)
        yield LevelBar()
        yield Static(id="warnings", markup=False)
        with VerticalScroll(id="words", can_focus=False):
            yield Static(id="text", markup=False)
        yield Static(id="marks", markup=False)
        with Horizontal(id="buttons"):
            for action, (key, label) in _KEYS.items():
                yield Button(
                    f"{label} ({key})", id=f"do-{action.name.lower()}", action=f"screen.act('{action.name}')"
                )
            yield Button("Leave (q)", id="do-leave", action="screen.leave")

    def on_mount(self) -> None:
        self.query_one("#words").border_title = _WORDS_TITLE
        self.paint()
        self.set_interval(_PAINT_S, self.tick)
        self.offer_unfinished()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """A key does what it can do now, and nothing else."""
        if action == "act":
            return Action[str(parameters[0])] in self._view.can
        return True

    def tick(self) -> None:
        """Look how it stands, and paint what has changed."""
        self.paint()
        if self._desk.follows and self._desk.ended and self._desk.begun and self.is_current:
            self.end(self._desk.finish)

    def paint(self) -> None:
        view = self._view = self._desk.view()
        headline = self.query_one("#headline", Static)
        headline.update(("● " if Action.PAUSE in view.can else "") + plain(view.headline))
        headline.set_class(Action.PAUSE in view.can, "recording")
        self.query_one("#clock", Static).update(view.clock)
        self.query_one("#input", Static).update(f"From   {plain(view.input_name)}")
        self.query_one(LevelBar).show(view.level)
        self.query_one("#warnings", Static).update("\n".join(f"! {plain(line)}" for line in view.warnings))
        self.query_one("#marks", Static).update(view.marks_line)
        self.paint_words(view)
        for action in _KEYS:
            self.query_one(f"#do-{action.name.lower()}", Button).display = action in view.can

    def paint_words(self, view: View) -> None:
        words = "\n\n".join(plain(part) for part in (view.words, view.words_note) if part)
        if words != self._shown_words:
            self._shown_words = words
            self.query_one("#text", Static).update(words)
            self.query_one("#words", VerticalScroll).scroll_end(animate=False)

    def action_act(self, name: str) -> None:
        action = Action[name]
        if action not in self._desk.view().can:
            return
        match action:
            case Action.MARK:
                self.attempt(self._desk.mark)
            case Action.FINISH:
                self.end(self._desk.finish)
            case Action.CANCEL:
                self.ask_cancel()
            case Action.CHOOSE:
                self.ask_input()
            case _:
                self.attempt(self._desk.toggle)

    def action_leave(self) -> None:
        """Nothing that was said is lost by leaving: he is asked what to do with it."""
        if not self._desk.begun:
            self.dismiss(None)
            return
        self.ask_leave()

    def attempt(self, deed: Callable[[], object]) -> bool:
        """Do something that may be refused; the reason is shown."""
        try:
            deed()
        except ReviewerError as error:
            self.notify(plain(str(error)), severity="error", timeout=8, markup=False)
            return False
        finally:
            self.paint()
        return True

    def end(self, how: Callable[[], Recording]) -> None:
        """End the note, and this screen with it."""
        try:
            outcome: Outcome = how()
        except ReviewerError as error:
            outcome = error
        self.dismiss(outcome)

    @work
    async def ask_cancel(self) -> None:
        answer = await self.app.push_screen_wait(
            Choice(
                f"Throw this note away? {self._desk.view().clock} are recorded. "
                "It goes to the trash folder and can be taken back from there.",
                [("back", "B", "Back to the note"), ("cancel", "X", "Throw it away")],
            )
        )
        if answer == "cancel":
            self.end(self._desk.cancel)

    @work
    async def ask_leave(self) -> None:
        answer = await self.app.push_screen_wait(
            Choice(
                f"{self._desk.view().clock} are recorded and saved. What shall become of them?",
                [
                    ("back", "B", "Back to the note"),
                    ("finish", "F", "Finish the note"),
                    ("later", "L", "Leave; go on with the note another time"),
                    ("cancel", "X", "Throw it away (to the trash folder)"),
                ],
            )
        )
        if answer == "finish":
            self.end(self._desk.finish)
        elif answer == "cancel":
            self.end(self._desk.cancel)
        elif answer == "later":
            self.dismiss(None)

    @work
    async def ask_input(self) -> None:
        choices = self._desk.input_choices()
        answers = [(str(number), "", choice.label) for number, choice in enumerate(choices)]
        answer = await self.app.push_screen_wait(Choice("Which microphone?", answers))
        if answer is not None:
            self.attempt(partial(self._desk.choose, choices[int(answer)].device))

    @work
    async def offer_unfinished(self) -> None:
        for note in self._desk.unfinished():
            answer = await self.app.push_screen_wait(
                Choice(
                    f"A note was begun and never finished: {describe(note)}.",
                    [
                        ("resume", "G", "Go on with it"),
                        ("keep", "F", "It is finished: keep it as it is"),
                        ("later", "L", "Later: start a new note, ask again next time"),
                    ],
                )
            )
            if answer == "resume":
                self._desk.resume(note)
                return
            if answer == "keep":
                self.end(partial(self._desk.keep, note))
                return


def _button(label: str, name: str, action: str) -> Button:
    button = Button(label, id=f"do-{name}", action=f"screen.{action}")
    button.styles.width = len(label) + 2  # six of them just fit into 80 columns
    return button


class RecordApp(TypedApp):
    """The recording screen as a program of its own."""

    ENABLE_COMMAND_PALETTE = False
    TITLE = "Record a note"

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk

    def on_mount(self) -> None:
        self.push_screen(RecordScreen(self._desk), self.exit)

    async def action_quit(self) -> None:
        """Textual's own key to quit comes here before any screen sees it."""
        if isinstance(self.screen, RecordScreen):
            self.screen.action_leave()


def record_session(
    *,
    input_name: str | None = None,
    follow: Path | None = None,
    out: Path | None = None,
    quiet_s: float = QUIET_S,
    raw: SampleForm | None = None,
    live: bool = True,
    model: str | None = None,
    prompt: str = "",
    hotwords: str = "",
    on_screen: bool | None = None,
    tell: Callable[[str], None] | None = None,
    should_stop: Callable[[], bool] = lambda: False,
) -> Recording | None:
    """Record a note, on the screen where there is a terminal; returns it, finished or cancelled.

    input_name: the microphone's name, a part of it, or its key; the system's default when None.
    follow: a file or named pipe that another program records to, instead of a microphone; it ends
    when it has not grown for `quiet_s` seconds. raw: its sample form where it is no WAV file.
    out: the file to record to. live: show words while he talks, with the speech model `model`,
    `prompt` and `hotwords`. on_screen: whether to show the screen; found out when None. Without it,
    sentences go to `tell` (the error output when None), and `should_stop` or Ctrl-C ends the note.

    None where he left without a decision; what was said is then offered at the next start.
    Raises SoundError, InputError or LibraryError with a sentence to show.
    """
    if on_screen is None:
        on_screen = sys.stdin.isatty() and sys.stderr.isatty()
    desk = make_desk(
        input_name=input_name,
        follow=follow,
        quiet_s=quiet_s,
        raw=raw,
        out=out,
        load_ears=partial(whisper_ears, model) if live and on_screen else None,
        prompt=prompt,
        hotwords=hotwords,
    )
    if not on_screen:
        return record_plain(desk, tell=tell or _to_error_output, should_stop=should_stop)
    try:
        desk.open()
        with screen_to_itself(paths.home() / "screen.log"):
            app = RecordApp(desk)
            outcome = app.run()
    finally:
        desk.close()
    if isinstance(outcome, ReviewerError):
        raise outcome
    if app.return_code:
        raise ReviewerError("The screen broke down; what was said is saved and offered at the next start.")
    return outcome


def _to_error_output(sentence: str) -> None:
    print(sentence, file=sys.stderr)
