"""What can be done in the review room, with its keys: the one table that the screen binds, the key
bar shows and the help lists."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from reviewer.review.canvas import Line, Span, fitted, width_of

NAMES = {
    "space": "space", "enter": "enter", "question_mark": "?", "slash": "/", "semicolon": ";",
    "up": "↑", "down": "↓", "left": "←", "right": "→", "pagedown": "PgDn", "pageup": "PgUp",
    "full_stop": ".", "comma": ",", "tab": "tab", "delete": "Del", "backspace": "Bksp", "escape": "esc",
    "minus": "-", "plus": "+", "left_square_bracket": "[", "right_square_bracket": "]",
    "shift+left": "shift ←", "shift+right": "shift →",
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


ROW, PLACE, WORDS, NOTE, REST = "This row", "Where you are", "Words and reps", "The whole note", "Elsewhere"
HEADINGS = (ROW, WORDS, PLACE, NOTE, REST)

ROOM: tuple[Action, ...] = (
    Action("confirm", ("space",), "confirm", "Confirm the row, go to the next doubtful one", ROW),
    Action("fix", ("enter",), "fix", "Fix the field under the cursor", ROW),
    Action("hear", ("h",), "hear", "Hear the words of the field, or stop", ROW),
    Action("undo", ("u", "ctrl+z"), "undo", "Undo, as far back as you like", ROW),
    Action("words", ("tab",), "words", "Work on the words: correct, split, move, refuse, learn", WORDS),
    Action("rep", ("R",), "rep", "Merge, add, remove, reorder reps and rows", WORDS),
    Action("find", ("slash",), "find", "Search all notes", REST),
    Action("help", ("question_mark", "f1"), "keys", "Every key; choose one to do it", REST),
    Action("quit", ("q",), "leave", "Leave; the place is remembered", REST),
    Action("win", ("w",), "", "Verdict: win", ROW),
    Action("loss", ("l",), "", "Verdict: loss", ROW),
    Action("neutral", ("n",), "", "Verdict: neutral", ROW),
    Action("replace", ("O",), "", "Opponents: a number in the place of another", ROW),
    Action("clear", ("delete", "backspace"), "", "Empty the field under the cursor", ROW),
    Action("comment", ("semicolon",), "", "A note of your own on the row", ROW),
    Action("define", ("D",), "", "What the row's terms mean", ROW),
    Action("learn", ("L",), "", "Learn the words of this field for next time", ROW),
    Action("first", ("F",), "", "The machine's first reading; set back to it", ROW),
    Action("unconfirm", ("minus",), "", "Take the row's confirmation back", ROW),
    Action("redo", ("U", "ctrl+y"), "", "Redo", ROW),
    Action("hear_row", ("H",), "", "Hear all words of the row", ROW),
    Action("slower", ("z",), "", "Hear slower, or as spoken again", ROW),
    Action("up", ("up",), "", "One field up", PLACE),
    Action("down", ("down",), "", "One field down", PLACE),
    Action("left", ("left",), "", "To the left column", PLACE),
    Action("right", ("right",), "", "To the right column", PLACE),
    Action("next", ("pagedown", "full_stop"), "", "The next row of the film", PLACE),
    Action("previous", ("pageup", "comma"), "", "The row before", PLACE),
    Action("doubtful", ("j",), "", "The most doubtful row left", PLACE),
    Action("go", ("G",), "", "Go to a row of the list", PLACE),
    Action("above", ("A",), "", "Confirm all rows from a confidence on", NOTE),
    Action("questions", ("Q",), "", "Where a new reading differs from you", NOTE),
    Action("sheet", ("S",), "", "The player's grade sheet", REST),
    Action("versus", ("V",), "", "The opponent's table", REST),
    Action("notes", ("N",), "", "Another note", REST),
    Action("theme", ("T",), "", "Light or dark", REST),
)
"""The room's actions; those first in the table come first in the key bar. Slots have keys of their own."""

REP_MENU: tuple[Action, ...] = (
    Action("merge_next", ("m",), "", "Merge with the next rep", WORDS),
    Action("merge_before", ("M",), "", "Merge with the rep before", WORDS),
    Action("second", ("a",), "", "Add a row for another player", WORDS),
    Action("remove", ("d",), "", "Remove this row", WORDS),
    Action("restore", ("b",), "", "Bring a removed row back", WORDS),
    Action("earlier", ("e",), "", "Put the rep one place earlier", WORDS),
    Action("later", ("l",), "", "Put the rep one place later", WORDS),
    Action("words", ("s",), "", "Split, move words, add a rep: on its words", WORDS),
)
"""What the rep menu offers, with the keys that count in it."""

ON_WORDS: tuple[Action, ...] = (
    Action("reword", ("e",), "correct", "Type what was really said; the row is read again", WORDS),
    Action("split", ("s",), "split", "Split: a new rep begins at this word", WORDS),
    Action(
        "to_before", ("left_square_bracket",), "to rep before", "Words up to here to the rep before", WORDS
    ),
    Action("to_next", ("right_square_bracket",), "to next rep", "Words from here on to the next rep", WORDS),
    Action("take", ("t",), "", "Take the chosen words into this rep", WORDS),
    Action("drop", ("d",), "", "Leave the chosen words out of the reps", WORDS),
    Action("add", ("a",), "", "A new rep of the chosen words", WORDS),
    Action("mend", ("x",), "", "Refuse a mend: as heard; again: as read", WORDS),
    Action("learn", ("l",), "learn", "Learn what these words mean", WORDS),
    Action("hear", ("h",), "hear", "Hear from this word on, or stop", WORDS),
    Action("field", ("enter",), "", "To the field these words gave", PLACE),
    Action("left", ("left",), "", "One word back", PLACE),
    Action("right", ("right",), "", "One word on", PLACE),
    Action("up", ("up",), "", "One line up", PLACE),
    Action("down", ("down",), "", "One line down", PLACE),
    Action("grow_left", ("shift+left",), "", "Choose one word more to the left", PLACE),
    Action("grow_right", ("shift+right",), "", "Choose one word more to the right", PLACE),
    Action("next", ("pagedown", "full_stop"), "", "The next row", PLACE),
    Action("previous", ("pageup", "comma"), "", "The row before", PLACE),
    Action("undo", ("u", "ctrl+z"), "undo", "Undo", REST),
    Action("redo", ("U", "ctrl+y"), "", "Redo", REST),
    Action("help", ("question_mark", "f1"), "keys", "Every key; choose one to do it", REST),
    Action("leave", ("escape", "tab", "q"), "back", "Back to the fields", REST),
)
"""The actions on the words of a rep."""

ON_LESSON: tuple[Action, ...] = (
    Action("learn", ("enter",), "learn", "Learn the chosen words", WORDS),
    Action("left", ("left",), "back", "One word back", PLACE),
    Action("right", ("right",), "on", "One word on", PLACE),
    Action("grow_left", ("shift+left", "minus"), "", "Choose one word more to the left", PLACE),
    Action(
        "grow_right", ("shift+right", "plus"), "one word more", "Choose one word more to the right", PLACE
    ),
    Action("up", ("up",), "", "One line up", PLACE),
    Action("down", ("down",), "", "One line down", PLACE),
    Action("help", ("question_mark", "f1"), "keys", "Every key; choose one to do it", REST),
    Action("leave", ("escape", "q"), "not now", "Leave without learning", REST),
)
"""The actions while words are chosen to be learned."""


def shown_key(key: str) -> str:
    """A key as people read it."""
    return NAMES.get(key, key.upper() if key[:1] == "f" and key[1:].isdigit() else key)


def keys_words(action: Action) -> str:
    """All keys of an action, for the help."""
    return " or ".join(shown_key(key) for key in action.keys)


WAY_OUT = ("help", "quit", "leave")
"""Actions that a key bar always has room for: nobody may be stuck on a screen."""


def bar_line(actions: Iterable[Action], width: int) -> Line:
    """The key bar: the way out, and as many others as fit whole, those first in the table first."""
    pieces = {action.id: _piece(action) for action in actions if action.short}
    kept = {name for name in WAY_OUT if name in pieces}
    used = sum(width_of(pieces[name]) for name in kept)
    for name, piece in pieces.items():
        if name not in kept and used + width_of(piece) <= width:
            kept.add(name)
            used += width_of(piece)
    return fitted([span for name, piece in pieces.items() if name in kept for span in piece], width)


def _piece(action: Action) -> Line:
    tag = ("act", action.id)
    key = Span(f" {shown_key(action.keys[0])}", "bar-key", tag)
    return (key, Span(f" {action.short} ", "bar-text", tag))


def by_heading(actions: Sequence[Action]) -> dict[str, list[Action]]:
    """Actions under their headings, in the order of the headings."""
    found: dict[str, list[Action]] = {heading: [] for heading in HEADINGS}
    for action in actions:
        found[action.about].append(action)
    return {heading: under for heading, under in found.items() if under}


def by_key(table: Iterable[Action]) -> dict[str, str]:
    """Key to the id of its action."""
    return {key: action.id for action in table for key in action.keys}
