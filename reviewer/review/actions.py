"""What can be done in the review room, with its keys: the one table that the screen binds, the key
bar shows and the help lists."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from reviewer.review.canvas import Line, Span, width_of
from reviewer.review.slots import SLOTS

NAMES = {
    "space": "space", "enter": "enter", "question_mark": "?", "slash": "/", "semicolon": ";",
    "up": "↑", "down": "↓", "left": "←", "right": "→", "pagedown": "PgDn", "pageup": "PgUp",
    "full_stop": ".", "comma": ",", "tab": "tab", "delete": "Del", "backspace": "Bksp", "escape": "esc",
    "left_square_bracket": "[", "right_square_bracket": "]", "f1": "F1", "home": "Home", "end": "End",
    "ctrl+z": "ctrl+z", "ctrl+y": "ctrl+y", "shift+left": "shift ←", "shift+right": "shift →",
}  # fmt: skip
"""Keys as people read them, where that differs from the terminal library's name."""


@dataclass(frozen=True, slots=True)
class Action:
    """One thing that can be done.

    id: its name. keys: the keys that do it, the first one is shown. short: for the key bar, "" to
    leave it out there. help: a line for the help. about: the heading it stands under.
    """

    id: str
    keys: tuple[str, ...]
    short: str
    help: str
    about: str


ROW, PLACE, REPS, NOTE, REST = "This row", "Where you are", "Reps and words", "The whole note", "Elsewhere"

ROOM: tuple[Action, ...] = (
    Action("confirm", ("space",), "confirm", "Confirm the row, go to the next doubtful one", ROW),
    Action("fix", ("enter",), "fix", "Fix the field under the cursor", ROW),
    Action("win", ("w",), "", "Verdict: win", ROW),
    Action("loss", ("l",), "", "Verdict: loss", ROW),
    Action("neutral", ("n",), "", "Verdict: neutral", ROW),
    Action("replace", ("O",), "", "Put another number in the place of an opponent", ROW),
    Action("clear", ("delete", "backspace"), "", "Empty the field under the cursor", ROW),
    Action("unconfirm", ("minus",), "", "Take the row's confirmation back", ROW),
    Action("undo", ("u", "ctrl+z"), "undo", "Undo, as far back as you like", ROW),
    Action("redo", ("U", "ctrl+y"), "", "Redo", ROW),
    Action("up", ("up",), "", "One field up", PLACE),
    Action("down", ("down",), "", "One field down", PLACE),
    Action("left", ("left",), "", "To the left column", PLACE),
    Action("right", ("right",), "", "To the right column", PLACE),
    Action("next", ("pagedown", "full_stop"), "", "The next row of the film", PLACE),
    Action("previous", ("pageup", "comma"), "", "The row before", PLACE),
    Action("doubtful", ("j",), "", "The most doubtful row left", PLACE),
    Action("help", ("question_mark", "f1"), "all keys", "Every key; choose one to do it", REST),
    Action("quit", ("q",), "leave", "Leave; the place is remembered", REST),
)
"""The room's actions, in the order of the help. Slots have keys of their own."""


def shown_key(key: str) -> str:
    """A key as people read it."""
    return {"minus": "-"}.get(key, NAMES.get(key, key))


def keys_words(action: Action) -> str:
    """All keys of an action, for the help."""
    return " or ".join(shown_key(key) for key in action.keys)


def bar_line(actions: Iterable[Action], width: int) -> Line:
    """The key bar: as many actions as fit whole, those first in the table first."""
    line: list[Span] = []
    for action in actions:
        if not action.short:
            continue
        tag = ("act", action.id)
        key = Span(f" {shown_key(action.keys[0])}", "bar-key", tag)
        piece = (key, Span(f" {action.short} ", "bar-text", tag))
        if width_of(line) + width_of(piece) > width:
            continue
        line += piece
    return tuple(line)


def slot_help() -> list[tuple[str, str]]:
    """The keys of the fields, for the help: key and what it does."""
    return [(slot.key, _slot_help(slot.label, slot.kind)) for slot in SLOTS]


def _slot_help(label: str, kind: str) -> str:
    return f"{label}: next value" if kind in {"verdict", "mark", "cycle"} else f"{label}: choose"


def by_heading(actions: Sequence[Action]) -> dict[str, list[Action]]:
    """Actions under their headings, in order."""
    found: dict[str, list[Action]] = {}
    for action in actions:
        found.setdefault(action.about, []).append(action)
    return found
