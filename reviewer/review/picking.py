"""A pick list in use: what was typed, what is marked, and what taking it does to the row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from reviewer.review.picks import Choice, Entry, gives_way, narrowed, put, whole_number
from reviewer.review.slots import Slot


@dataclass(frozen=True)
class Taken:
    """What a pick came to. values: for the row's fields, empty for no change. close: whether the list
    closes."""

    values: dict[str, Any]
    close: bool


@dataclass
class Picker:
    """A pick list over the values of one slot.

    held: what the slot holds, kept up while the list stays open. numbers: whether jerseys are picked,
    which a typed number takes by itself. replacing: whether a pick takes the place of a held value;
    victim: of which one, None for the one that gives way by itself (`picks.gives_way`).
    """

    slot: Slot
    entries: Sequence[Entry]
    held: tuple[str, ...]
    numbers: bool = False
    replacing: bool = False
    victim: str | None = None
    typed: str = ""
    index: int = 0
    choices: list[Choice] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._narrow()

    def _narrow(self) -> None:
        self.choices = narrowed(self.entries, self.typed, self.held)
        digits = self.typed.strip()
        if self.numbers and digits.isascii() and digits.isdigit() and len(digits) <= 2:
            known = any(choice.value == digits for choice in self.choices)
            if not known:
                about = "not on the roster" if self.entries else ""
                # the number as typed comes before those that only begin so: enter must not take another
                self.choices.insert(0, Choice(digits, f"{digits:>2}", about, digits in self.held))
        self.index = 0

    @property
    def marked(self) -> Choice | None:
        """The choice under the cursor."""
        return self.choices[self.index] if self.index < len(self.choices) else None

    @property
    def instead_of(self) -> str | None:
        """The held value that a pick would replace; None when it stands beside the others."""
        if not (self.replacing and self.slot.many and self.held):
            return None
        if self.victim in self.held:
            return self.victim
        if not self.numbers:
            return self.held[0]
        number = self.marked.value if self.marked else ""
        return gives_way(number, self.held, [entry.choice.value for entry in self.entries])

    def type(self, text: str) -> Taken | None:
        """What stands in the line now. A whole number is taken at once."""
        self.typed = text
        self._narrow()
        if not self.numbers:
            return None
        number = whole_number(text, self.entries)
        if number is None:
            return None
        place = next((i for i, c in enumerate(self.choices) if c.value == number), None)
        if place is None:
            return None
        self.index = place
        return self.take()

    def move(self, by: int) -> None:
        """Mark another choice; it stops at both ends."""
        self.index = max(0, min(len(self.choices) - 1, self.index + by))

    def take(self, stay: bool = False) -> Taken:
        """Take the marked choice: add it, or take it out where the slot holds it already."""
        choice = self.marked
        if choice is None:
            return Taken({}, False)
        if not self.slot.many:
            values = {} if (choice.value,) == self.held else {self.slot.field: choice.value}
            return Taken(values, not stay)
        return self._hold(put(self.held, choice.value, self.instead_of), not stay)

    def remove(self) -> Taken:
        """Take the marked value out of the slot, the list stays open; of a single value, clear it."""
        if not self.slot.many:
            return Taken({self.slot.field: None} if self.held else {}, True)
        choice = self.marked
        if choice is None or choice.value not in self.held:
            return Taken({}, False)
        return self._hold([one for one in self.held if one != choice.value], False)

    def _hold(self, values: list[str], close: bool) -> Taken:
        self.held = tuple(values)
        if not close:
            self.typed = ""
            self._narrow()
        return Taken({self.slot.field: values}, close)

    def flip(self) -> None:
        """Go on from standing beside the held values to taking the place of one, of the next one, …"""
        if not self.replacing:
            self.replacing, self.victim = True, None
            return
        others = [one for one in self.held if len(self.held) > 1]
        place = others.index(self.victim) + 1 if self.victim in others else 0
        self.victim = others[place] if place < len(others) else None
        self.replacing = self.victim is not None
