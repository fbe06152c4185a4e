"""Keys in the order they were typed, none lost.

Textual hands a key to the screen that is on top when the key arrives, and a screen that is only just
opening hears nothing yet: of keys typed ahead, some would go to the wrong screen and some nowhere.
Here the app gives each key to the screen on top and has it done before it looks at the next one.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from textual import events
from textual.app import App
from textual.screen import ModalScreen, Screen

from reviewer.review.canvas import Line
from reviewer.review.views import message_lines
from reviewer.screens.lines import Lines, LinesApp


class Keyed(Screen[Any]):
    """A screen that takes its keys itself.

    said, warned: what happened last, and whether it is a warning.
    """

    said = ""
    warned = False

    def take_key(self, key: str, character: str | None) -> None:
        """Do what a key does. It may come before the screen has been drawn for the first time."""
        raise NotImplementedError

    def take_text(self, text: str) -> None:
        """Take pasted text. Screens without a line to type in have no use for it."""

    def open(self, screen: Over, done: Callable[[Any], None] | None = None) -> None:
        """Open a screen over this one; `done` gets what it closes with."""
        screen.done = done
        self.app.push_screen(screen)

    def tell(self, text: str, warning: bool = False) -> None:
        """Say what happened, in the pane "message" of a screen that has one."""
        self.said, self.warned = text, warning

    def message(self, width: int) -> list[Line]:
        """What was said, as lines."""
        return message_lines(self.said, self.warned, width)

    def draw(self) -> None:
        """Draw every pane anew."""
        for lines in self.query(Lines):
            if lines.id == "message" and self.size.width:
                lines.styles.height = len(self.message(self.size.width))
            lines.show()


class Over(Keyed, ModalScreen[Any]):
    """A screen over another one."""

    done: Callable[[Any], None] | None = None

    def close(self, result: Any = None) -> None:
        """Close; what was to be done with the result is done before the next key is looked at."""
        self.dismiss()
        if self.done is not None:
            self.done(result)


class TypedApp(App[Any]):
    """An app whose screens get escape and a key typed right after it as these two keys."""

    async def on_event(self, event: events.Event) -> None:
        """Take apart what the terminal put together; all else goes its usual way."""
        if isinstance(event, events.Key) and not event.is_forwarded and event.key.startswith("alt+"):
            for key, character in as_typed(event.key, event.character):
                await super().on_event(events.Key(key, character))
            return
        await super().on_event(event)


class KeyedApp(LinesApp):
    """An app whose keyed screens get their keys one after the other."""

    async def on_event(self, event: events.Event) -> None:
        """Give keys and pasted text to the keyed screen on top; all else goes its usual way."""
        screen = self.screen if self._screen_stack else None
        if isinstance(screen, Keyed) and not event.is_forwarded:
            if isinstance(event, events.Key):
                if not await self._check_bindings(event.key, priority=True):
                    self._give(event.key, event.character)
                return
            if isinstance(event, events.Paste):
                screen.take_text(event.text)
                return
        await super().on_event(event)

    def _give(self, key: str, character: str | None) -> None:
        for one, text in as_typed(key, character):
            if isinstance(self.screen, Keyed):
                self.screen.take_key(one, text)


def as_typed(key: str, character: str | None) -> list[tuple[str, str | None]]:
    """A key as the keys that were typed: escape and another one typed quickly arrive as that key with alt."""
    if not key.startswith("alt+"):
        return [(key, character)]
    rest = key.removeprefix("alt+")
    if rest.startswith("shift+") and character:
        rest = character
    return [("escape", None), (rest, character)]
