"""Pictures of each screen at two sizes, with a fixed reading, vocabulary and report.

A picture alone records a mistake as happily as a feature: what must be on each is asserted first.
"""

from __future__ import annotations

from typing import Any

import pytest

from reviewer import store
from reviewer.review import pages
from reviewer.screens.review import ReviewApp
from tests.screens.evening import add_evening, vocabulary

SIZES = [(80, 24), (120, 40)]

SCREENS: dict[str, tuple[tuple[str, ...], str]] = {
    "room": ((), "Odell Marsk"),
    "room-fixed": (("l", "2", "semicolon", "e", "y", "e", "s", "enter"), "your note: eyes"),
    "room-injury": (("pagedown",) * 5, "Any sign of concussion: out at once, no return that day"),
    "room-light": (("T",), "Odell Marsk"),
    "pick-term": (("t", "p"), "pass off"),
    "pick-man": (("O", "9"), "Corbin Ashe"),
    "situation": (("d", "2", "g"), "2nd and goal"),
    "situation-wrong": (("d", "9"), "no down and distance"),
    "comment": (("semicolon", "h", "i"), "Your note on rep 3"),
    "above": (("A", "left"), "Rows at least 84 % sure"),
    "rep-menu": (("R",), "Merge with the next rep"),
    "help": (("question_mark",), "Confirm the row"),
    "rows": (("G",), "All rows"),
    "first-reading": (("l", "F"), "Set the whole row back"),
    "notes": (("N",), "Another evening"),
    "questions": (("Q",), "No new reading differs"),
    "words": (("tab", "right", "shift+right"), "2 words chosen"),
    "correct": (("tab", *("right",) * 6, "e"), "heard: “East on,”"),
    "lesson": (("f", "l", "u", "enter", "L"), "Which words say lunge (faults)?"),
    "definitions": (("D",), "Two blockers exchange"),
    "search": (("slash", "s", "t", "u", "n", "t"), "Search all notes"),
    "page": (("S",), "the sheet"),
}  # fmt: skip
"""Name to the keys that lead there and a text that must be shown."""


def shown(app: ReviewApp) -> str:
    strips = app.screen._compositor.render_strips()
    return " ".join(" ".join("".join(segment.text for segment in strip) for strip in strips).split())


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("name", SCREENS)
def test_picture(
    snap_compare: Any,
    library: store.Library,
    monkeypatch: pytest.MonkeyPatch,
    name: str,
    size: tuple[int, int],
) -> None:
    keys, text = SCREENS[name]
    monkeypatch.setattr(
        pages, "sheet_text", lambda *_: "the sheet\n" + "\n".join(f"line {n}" for n in range(60))
    )
    add_evening(library, digest="another", title="Another evening")
    app = ReviewApp(library, add_evening(library), vocabulary())

    async def see(pilot: Any) -> None:
        await pilot.press(*keys)
        await pilot.pause()
        assert text in shown(app)

    assert snap_compare(app, terminal_size=size, run_before=see)
