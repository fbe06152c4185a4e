"""What the review costs: keys for each fix, CPU time of each key with 5,000 rows, fixes that learning spares.

`python -m benchmarks review`. The keys are those of the annotated development notes, worked out from what
the pick lists show and applied to the session behind the screen (`python -m tests.keys` presses them in the
screen itself). Times are CPU seconds of this process, so that a busy machine does not count. The figures
stand against a bare table of as many rows in the same toolkit, driven in the same way.
"""

from __future__ import annotations

import asyncio
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from unittest.mock import patch

import click

from benchmarks._figures import Figure, as_text
from tests import keys
from tests.review import habit
from tests.screens import speed

KEY_MS = 50.0
SCREEN_MS = 1000.0
ROUNDS = 10


def measure(rows: int = speed.ROWS, rounds: int = ROUNDS) -> list[Figure]:
    """From a key to the screen painted, and until the screen is up, with so many rows in the library."""
    from reviewer import store

    with (
        tempfile.TemporaryDirectory() as folder,
        patch.dict(os.environ, {"REVIEWER_HOME": folder}),
        store.Library.open(Path(folder) / "book.db") as library,
    ):
        note = speed.fill(library, rows)
        up, spent = asyncio.run(speed.timed(library, note, rounds))
    table_up, table_keys = asyncio.run(bare_table(rows, rounds))
    every = [1000 * second for seconds in spent.values() for second in seconds]
    peer = "a bare table"
    slowest = max(spent, key=lambda name: statistics.median(spent[name]))
    return [
        Figure("key to painted screen, median", statistics.median(every), "ms CPU",
               ((peer, 1000 * statistics.median(table_keys)),), KEY_MS),
        Figure(f"the slowest key ({slowest}), median", 1000 * statistics.median(spent[slowest]), "ms CPU"),
        Figure("screen up", 1000 * up, "ms CPU", ((peer, 1000 * table_up),), SCREEN_MS),
    ]  # fmt: skip


async def bare_table(rows: int, rounds: int) -> tuple[float, list[float]]:
    """CPU seconds until a table of so many rows is up, and of each key in it."""
    begin = time.process_time()
    from textual.app import App, ComposeResult
    from textual.widgets import DataTable

    class Bare(App[None]):
        def compose(self) -> ComposeResult:
            yield DataTable()

        def on_mount(self) -> None:
            table = self.query_one(DataTable)
            table.add_columns("Rep", "No.", "Snap", "Against", "What he did", "Verdict")
            table.add_rows(
                (n, "74", "1st and 10, outside zone", "91", "reach, seal", "win") for n in range(rows)
            )

    spent = []
    async with Bare().run_test(size=(120, 40)) as pilot:
        await pilot.pause()
        up = time.process_time() - begin
        for _ in range(rounds):
            for key in ("down", "down", "pagedown", "up", "pageup"):
                start = time.process_time()
                await pilot.press(key)
                await pilot.pause()
                spent.append(time.process_time() - start)
    return up, spent


@click.command()
def main() -> None:
    """Print the measurements, one after the other."""
    click.echo(as_text(measure()))
    click.echo()
    _as_called(speed.main)
    click.echo()
    _as_called(habit.main)
    click.echo()
    _as_called(keys.main, "--plan")


def _as_called(run: Callable[[], None], *arguments: str) -> None:
    # each has a command line of its own
    with patch.object(sys, "argv", [run.__module__, *arguments]):
        run()


if __name__ == "__main__":
    main()
