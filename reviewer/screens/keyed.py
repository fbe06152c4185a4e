"""Keys in the order they were typed, none lost.

Textual hands a key to the screen that is on top when the key arrives, and a screen that is only just
opening hears nothing yet: of keys typed ahead, some would go to the wrong screen and some nowhere.
Here the app gives each key to the screen on top and has it done before it looks at the next one.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from textual import events
from textual.screen import ModalScreen, Screen

from reviewer.screens.lines import Lines, LinesApp

Result = TypeVar("Result")


class Keyed(Screen[Any]):
    """A screen that takes its keys itself."""

    def take_key(self, key: str, character: str | None) -> None:
        """Do what a key does. It may come before the screen has been drawn for the first time."""
        raise NotImplementedError

    def take_text(self, text: str) -> None:
        """Take pasted text. Screens without a line to type in have no use for it."""

    def open(self, screen: Over, done: Callable[[Any], None] | None = None) -> None:
        """Open a screen over this one; `done` gets what it closes with."""
        screen.done = done
        self.app.push_screen(screen)

    def draw(self) -> None:
        """Draw every pane anew."""
        for lines in self.query(Lines):
            lines.show()


class Over(Keyed, ModalScreen[Any]):
    """A screen over another one."""

    done: Callable[[Any], None] | None = None

    def close(self, result: Any = None) -> None:
        """Close; what was to be done with the result is done before the next key is looked at."""
        self.dismiss()
        if self.done is not None:
            self.done(result)


class KeyedApp(LinesApp):
    """An app whose keyed screens get their keys one after the other."""

    async def on_event(self, event: events.Event) -> None:
        """Give keys and pasted text to the keyed screen on top; all else goes its usual way."""
        screen = self.screen if self._screen_stack else None
        if isinstance(screen, Keyed) and not event.is_forwarded:
            if isinstance(event, events.Key):
                if not await self._check_bindings(event.key, priority=True):
                    screen.take_key(event.key, event.character)
                return
            if isinstance(event, events.Paste):
                screen.take_text(event.text)
                return
        await super().on_event(event)
