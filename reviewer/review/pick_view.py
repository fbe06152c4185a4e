"""What a pick list shows, as lines."""

from __future__ import annotations

from reviewer.review.canvas import Line, Span, both_ends, fitted, padded, width_of, wrapped
from reviewer.review.picking import Picker
from reviewer.review.plain import count, plain

NAME = 26
"""Columns of a choice's name."""


def head_line(picker: Picker, width: int) -> Line:
    """Which slot it is for, what it holds, and what a pick does to it."""
    held = ", ".join(plain(value) for value in picker.held) or "nothing yet"
    left = (Span(f"{picker.slot.label}: ", "label"), Span(held, "strong"))
    other = picker.instead_of
    if not picker.numbers or not picker.slot.many or not picker.held:
        right = Span(count(len(picker.choices), "choice"), "dim")
    else:
        right = Span(f"takes the place of {plain(other)}" if other else "stands beside", "doubt")
    return both_ends(left, (right,), width)


def choice_lines(picker: Picker, width: int) -> list[Line]:
    """The choices, the marked one lit; ✓ before what the slot holds."""
    if not picker.choices:
        return [(Span("Nothing fits; type less.", "dim"),)]
    lines = []
    for place, choice in enumerate(picker.choices):
        here = place == picker.index
        style = " here" if here else ""
        tag = ("choice", place)
        line = fitted(
            (
                Span("›" if here else " ", f"cursor{style}", tag),
                Span("✓ " if choice.chosen else "  ", f"good{style}", tag),
                Span(padded(plain(choice.label), NAME), f"strong{style}", tag),
                Span(f" {plain(choice.about)}", f"dim{style}", tag),
            ),
            width,
        )
        lines.append((*line, Span(" " * (width - width_of(line)), style.strip(), tag)))
    return lines


def foot_lines(picker: Picker, width: int) -> list[Line]:
    """The definition of the marked choice, and the keys."""
    marked = picker.marked
    meaning = wrapped(plain(marked.more), width, "said-line")[:3] if marked and marked.more else []
    blank: list[Line] = [()] * (3 - len(meaning))
    return [*meaning, *blank, _keys(picker, width)]


def _keys(picker: Picker, width: int) -> Line:
    many, marked = picker.slot.many, picker.marked
    held = marked is not None and marked.chosen
    parts = [("enter", "take out" if many and held else "take", "take")]
    if picker.numbers and many and picker.held:
        parts.append(("tab", "another place" if picker.replacing else "instead", "tab"))
    elif many and not picker.numbers:
        parts.append(("tab", "take and stay", "tab"))
    if (many and held) or (not many and picker.held):
        parts.append(("Del", "take out" if many else "empty it", "remove"))
    parts.append(("esc", "close", "leave"))
    line: list[Span] = []
    for key, says, act in parts:
        line += (Span(f"{key} ", "bar-key", ("act", act)), Span(f"{says}   ", "bar-text", ("act", act)))
    return fitted(line, width)
