"""The pictures of the screens and the list of keys in docs/: `python -m tests.screens.pictures`."""

from __future__ import annotations

import asyncio
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from unittest.mock import patch

from reviewer.records import Word
from reviewer.review import actions
from reviewer.review.slots import SLOTS, slot_help
from reviewer.speech.recogniser import Segment

DOCS = Path(__file__).parents[2] / "docs"
SIZES = ((80, 24), (120, 40))

PICTURES: dict[str, tuple[str, ...]] = {
    "review": (),
    "review-light": ("T", "pagedown", "pagedown", "pagedown", "pagedown", "pagedown"),
    "review-pick": ("t", "a", "n", "c"),
    "review-number": ("O", "9"),
    "review-words": ("tab", *("right",) * 5, "shift+right"),
    "review-correct": ("tab", *("right",) * 6, "e"),
    "review-learn": ("f", "l", "u", "enter", "L", "plus", "plus"),
    "review-above": ("A",),
    "review-first": ("l", "2", "F"),
    "review-rep": ("R",),
    "review-find": ("slash", "d", "o", "u", "b", "l", "e", "space", "t", "e", "a", "m"),
    "review-sheet": ("S",),
    "review-keys": ("question_mark",),
}
"""Name of a picture and the keys that lead to it."""

BEGIN, END = "<!-- keys: begin -->", "<!-- keys: end -->"

TABLES = (
    ("In the room", actions.ROOM),
    ("The rep menu (R)", actions.REP_MENU),
    ("On the words (tab)", actions.ON_WORDS),
    ("While words are chosen to be learned (L)", actions.ON_LESSON),
)


def key_list() -> str:
    """Every key as Markdown tables, from what the screens bind."""
    lines: list[str] = []
    for title, table in TABLES:
        lines += [f"### {title}", "", "| key | does |", "| --- | --- |"]
        lines += [f"| {_keys(action)} | {action.help} |" for action in table]
        lines.append("")
    lines += ["### The fields", "", "| key | does |", "| --- | --- |"]
    lines += [f"| `{slot.key}` | {slot_help(slot)} |" for slot in SLOTS]
    return "\n".join(lines) + "\n"


def _keys(action: actions.Action) -> str:
    return " ".join(f"`{actions.shown_key(key)}`" for key in action.keys)


def with_keys(text: str) -> str:
    """A page with its list of keys made new."""
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}\n{key_list()}{END}{after}"


async def take(name: str, keys: tuple[str, ...], size: tuple[int, int]) -> Path:
    """Take one picture of a fresh evening; returns its file."""
    from reviewer import store
    from reviewer.screens.review import ReviewApp
    from tests.screens.evening import add_evening

    with store.Library.memory() as library:
        app = ReviewApp(library, add_evening(library))
        async with app.run_test(size=size) as pilot:
            await pilot.press(*keys)
            await pilot.pause()
            target = DOCS / f"{name}-{size[0]}x{size[1]}.svg"
            target.write_text(app.export_screenshot(title="Reviewer"), "utf-8")
            return target


async def record(size: tuple[int, int]) -> Path:
    """Take the picture of the recording screen, with a voice of noise and a mark; returns its file."""
    from reviewer.screens.record import RecordApp
    from reviewer.screens.review import tidy
    from reviewer.speech.record_desk import Desk
    from tests.speech.record_rig import FakeSource

    source = FakeSource()
    desk = Desk(source, load_ears=TalkingEars)
    app = RecordApp(desk)
    with patch("reviewer.speech.activity.voiced", lambda audio: [1]):
        desk.open()
        async with app.run_test(size=size) as pilot:
            await _talk(app, pilot, desk, source)
            target = DOCS / f"record-{size[0]}x{size[1]}.svg"
            target.write_text(tidy(app.export_screenshot(title="Reviewer")), "utf-8")
        desk.close()
    return target


class TalkingEars:
    """Hears the same talk in any sound."""

    def hear(self, audio: Any, *, prompt: str = "", hotwords: str = "", beam: int = 5) -> Iterator[Segment]:
        """One sentence for each call."""
        yield Segment((Word("First and ten, inside zone, he reaches ninety-four and seals him.", 0.1, 9.0),))


async def _talk(app: Any, pilot: Any, desk: Any, source: Any) -> None:
    """Record noise, set a mark, and wait for the words."""
    from tests.speech.record_rig import noise, wait_until

    await pilot.press("space")
    source.say(noise(12.0, loudness=0.2))
    await pilot.press("m")
    source.say(noise(3.0, loudness=0.2))
    wait_until(lambda: "seals him" in desk.view().words, "no words were shown")
    app.screen.paint()
    await pilot.pause()


def main() -> None:
    """Take every picture at both sizes, each from a fresh library, and list the keys."""
    DOCS.mkdir(exist_ok=True)
    for name, keys in PICTURES.items():
        for size in SIZES:
            with tempfile.TemporaryDirectory() as home:
                os.environ["REVIEWER_HOME"] = home
                print(asyncio.run(take(name, keys, size)).name)
    for size in SIZES:
        with tempfile.TemporaryDirectory() as home:
            os.environ["REVIEWER_HOME"] = home
            print(asyncio.run(record(size)).name)
    page = DOCS / "review.md"
    page.write_text(with_keys(page.read_text("utf-8")), "utf-8")


if __name__ == "__main__":
    main()
