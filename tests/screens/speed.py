"""What the review costs with 5,000 rows in the library: `python -m tests.screens.speed`.

CPU seconds of this process, so that a busy machine does not count: from a key to the screen painted
(the test driver's own work is in it), and from the note's being stored to the first painted screen.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import statistics
import tempfile
import time
from pathlib import Path

ROWS = 5000

KEYS = {
    "field down": "down", "next row": "pagedown", "verdict": "l", "mark": "1", "confirm": "space",
    "undo": "u", "open a list": "t", "type in it": "c", "take from it": "enter", "search opens": "slash",
    "search letter": "r", "search letter 2": "e", "leave it": "escape", "words": "tab", "word on": "right",
    "back": "escape",
}  # fmt: skip
"""What is timed, in this order, and its key."""


def fill(library: object, rows: int) -> int:
    """Store the evening's note again and again under other digests until there are so many rows;
    the last one is reviewed."""
    from reviewer import store
    from tests.screens.evening import add_game, context, reading

    assert isinstance(library, store.Library)
    known, read = context(), reading()
    game = add_game(library, known.roster, "Harrow Lake")
    note = 0
    for number in range(-(-rows // len(read.rows))):
        new = store.NewNote(f"d{number}", "text", 200.0, known, f"Evening {number}", game_id=game)
        note = store.add_note(library, new, read)
    return note


async def timed(library: object, note: int, rounds: int) -> tuple[float, dict[str, list[float]]]:
    """CPU seconds until the screen is up, and of each key."""
    from reviewer import store

    assert isinstance(library, store.Library)
    begin = time.process_time()
    from reviewer.screens.review import ReviewApp

    app = ReviewApp(library, note)
    spent: dict[str, list[float]] = {name: [] for name in KEYS}
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.pause()
        up = time.process_time() - begin
        for _ in range(rounds):
            for name, key in KEYS.items():
                start = time.process_time()
                await pilot.press(key)
                await pilot.pause()
                spent[name].append(time.process_time() - start)
    return up, spent


def main() -> None:
    """Print the medians in milliseconds."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=ROWS)
    parser.add_argument("--rounds", type=int, default=15)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["REVIEWER_HOME"] = folder
        from reviewer import store

        with store.Library.open(Path(folder) / "book.db") as library:
            note = fill(library, given.rows)
            up, spent = asyncio.run(timed(library, note, given.rounds))
    print(f"{given.rows} rows in the library; CPU time, median (worst)")
    print(f"screen up                {1000 * up:6.0f} ms")
    for name, seconds in spent.items():
        print(f"{name:<24} {1000 * statistics.median(seconds):6.1f} ms ({1000 * max(seconds):.1f})")
    every = [s for seconds in spent.values() for s in seconds]
    print(f"{'all keys':<24} {1000 * statistics.median(every):6.1f} ms ({1000 * max(every):.1f})")


if __name__ == "__main__":
    main()
