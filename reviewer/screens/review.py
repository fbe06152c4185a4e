"""The review as a program in the terminal."""

from __future__ import annotations

import re
import sys
from typing import TYPE_CHECKING

from reviewer import paths
from reviewer.errors import InputError
from reviewer.review.progress import parting_words
from reviewer.review.session import Session
from reviewer.review.settings import load_settings, save_settings
from reviewer.screens.keyed import KeyedApp
from reviewer.screens.record_terminal import screen_to_itself
from reviewer.screens.room import Room

if TYPE_CHECKING:
    from reviewer.language.vocabulary import Vocabulary
    from reviewer.store import Library

_CELL = 12.2
"""Width of a column in the library's pictures."""

_LEADING_BLANKS = re.compile(
    r'x="(?P<x>[\d.]+)" y="(?P<y>[\d.]+)" textLength="(?P<length>[\d.]+)"(?P<rest>[^>]*)>'
    r"(?P<blanks>(?:&#160;)+)(?=[^<])"
)
_FAR_FONT = re.compile(r",?\s*url\([^)]*\) format\([^)]*\)")


class ReviewApp(KeyedApp):
    """The review of a note."""

    ENABLE_COMMAND_PALETTE = False
    TITLE = "Reviewer"

    def __init__(
        self, library: Library, note: int, vocabulary: Vocabulary | None = None, *, ahead: bool = False
    ) -> None:
        """ahead: see `Room`."""
        super().__init__()
        self.library = library
        self.settings = load_settings()
        self.room = Room(Session(library, note, vocabulary), self.settings, ahead=ahead)

    @property
    def session(self) -> Session:
        """The review in hand."""
        return self.room.session

    def on_mount(self) -> None:
        """Open the room."""
        self.theme = "textual-dark" if self.settings.dark else "textual-light"
        self.push_screen(self.room)

    def on_unmount(self) -> None:
        """However it ends, the place and the taste are remembered."""
        self.session.leave()
        save_settings(self.settings)

    def export_screenshot(self, *, title: str | None = None, simplify: bool = False) -> str:
        """A picture of the screen as SVG, with fonts of the machine that shows it and none from afar."""
        return tidy(super().export_screenshot(title=title, simplify=simplify))


def tidy(picture: str) -> str:
    """A picture of a screen without fonts from afar, and with text where it stands in every viewer."""
    return _LEADING_BLANKS.sub(_moved, _FAR_FONT.sub("", picture))


def _moved(found: re.Match[str]) -> str:
    """The text without the blanks before it, which some viewers drop, at the place where it stands."""
    blanks = found["blanks"].count("&") * _CELL
    x, length = float(found["x"]) + blanks, float(found["length"]) - blanks
    return f'x="{x:g}" y="{found["y"]}" textLength="{length:g}"{found["rest"]}>'


def run_review(library: Library, note: int | str | None = None) -> str:
    """Review a note (id or slug) until the coach leaves; None takes the newest one with rows left.

    Everything decided is in the library when this returns a sentence on how far the note is. Raises
    InputError when there is no note, or no terminal to show it in.
    """
    chosen = chosen_note(library, note)
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise InputError(
            "The review needs a terminal to work in; open one and run it there, or see the rows with "
            "reviewer grade NOTE --json."
        )
    with screen_to_itself(paths.home() / "screen.log"):
        app = ReviewApp(library, chosen, ahead=True)
        app.run()
    return parting_words(app.session.progress, app.session.note.slug)


def chosen_note(library: Library, note: int | str | None) -> int:
    """The note to review. Raises InputError when there is none."""
    from reviewer import store

    if note is not None:
        return store.note(library, note).id
    found = store.notes(library)
    if not found:
        raise InputError("There is no note to review yet; grade one first: reviewer grade FILE.")
    return next((one.id for one in found if one.confirmed < one.rows), found[0].id)
