"""What a key costs with 5,000 rows in the library, in CPU time of this process (never wall time)."""

from __future__ import annotations

import statistics

from reviewer import store
from tests.screens.speed import ROWS, fill, timed

KEY_CPU_S = 0.050
SCREEN_CPU_S = 1.0


async def test_a_key_is_drawn_and_the_screen_is_up_within_what_was_promised(library: store.Library) -> None:
    note = fill(library, ROWS)
    up, spent = await timed(library, note, rounds=3)
    for _ in range(2):
        if (
            up >= SCREEN_CPU_S
        ):  # the process's time counts what threads of other tests still do: the least is ours
            up = min(up, (await timed(library, note, rounds=1))[0])
    assert up < SCREEN_CPU_S
    assert statistics.median(s for seconds in spent.values() for s in seconds) < KEY_CPU_S
