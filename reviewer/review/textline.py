"""One line of text being typed."""

from __future__ import annotations

from reviewer.review.canvas import Line, Span, cells, clipped
from reviewer.review.plain import plain


class TextLine:
    """A line of text with a cursor. `at`: the place of the cursor, in characters.

    whole: whether the next typed character replaces the text (as where a text to change is offered).
    """

    def __init__(self, text: str = "", whole: bool = False) -> None:
        self.text = text
        self.at = len(text)
        self.whole = whole and bool(text)

    def key(self, key: str, character: str | None) -> bool:
        """Take a key of the terminal; False when it is none of typing."""
        if character is not None and len(character) == 1 and character.isprintable():
            self.insert(character)
            return True
        places = {"left": self.at - 1, "right": self.at + 1, "home": 0, "end": len(self.text)}
        places |= {"ctrl+a": 0, "ctrl+e": len(self.text)}
        if key in places:
            self.at = max(0, min(len(self.text), places[key]))
        elif key == "backspace":
            self._cut(0 if self.whole else self.at - 1, self.at)
        elif key == "delete":
            self._cut(self.at, self.at + 1)
        elif key == "ctrl+u":
            self._cut(0, self.at)
        elif key == "ctrl+w":
            self._cut(len(self.text[: self.at].rstrip().rpartition(" ")[0]), self.at)
        else:
            return False
        self.whole = False
        return True

    def insert(self, text: str) -> None:
        """Put text in at the cursor; line breaks become blanks."""
        if self.whole:
            self.text, self.at, self.whole = "", 0, False
        text = " ".join(text.splitlines()) if "\n" in text or "\r" in text else text
        self.text = self.text[: self.at] + text + self.text[self.at :]
        self.at += len(text)

    def _cut(self, first: int, last: int) -> None:
        first = max(0, first)
        self.text = self.text[:first] + self.text[last:]
        self.at = first

    def line(self, width: int, hint: str = "") -> Line:
        """The line as drawn, the cursor as a block, the part around it in view; `hint` where it is empty."""
        if not self.text:
            return (Span(" ", "chosen"), Span(clipped(hint, width - 1), "dim"))
        before, here, after = self.text[: self.at], self.text[self.at : self.at + 1], self.text[self.at + 1 :]
        before, here, after = plain(before), plain(here) or " ", plain(after)
        while cells(before) + cells(here) > width and before:
            before = before[1:]
        style = "strong" if self.whole else ""
        return (
            Span(before, style),
            Span(here, "chosen"),
            Span(clipped(after, width - cells(before) - cells(here)), style),
        )
