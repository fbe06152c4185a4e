"""Kill the program at random moments, hundreds of times, and count what is lost: nothing may be.

    python -m tests.kill --kills 300 --seed 1
    python -m tests.kill --only reviewing --kills 50

The kills are shared out among the kinds of work; the seed says at which moments. A kill that comes
after the end of the work does not count and is drawn anew. Ends with 1 where anything is lost.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import click

from tests.killing.deciding import REVIEWING
from tests.killing.hearing import GRADING, HEARING, TRANSCRIBING
from tests.killing.joining import JOINING
from tests.killing.keeping import BACKING_UP, IMPORTING, MIGRATING, RESTORING
from tests.killing.recording import FOLLOWING, RECORDING
from tests.killing.rig import Kind, Tally, kill_often

SHARES: dict[Kind, int] = {
    REVIEWING: 11,
    RECORDING: 8,
    FOLLOWING: 5,
    GRADING: 8,
    TRANSCRIBING: 7,
    HEARING: 1,
    IMPORTING: 8,
    MIGRATING: 8,
    BACKING_UP: 5,
    RESTORING: 7,
    JOINING: 5,
}
"""Every kind of work, and how often it is killed against the others."""


def shared_out(kills: int, shares: dict[Kind, int]) -> dict[Kind, int]:
    """So many kills by the shares, at least one each; the largest shares take what is left over."""
    whole = sum(shares.values())
    found = {kind: max(1, kills * share // whole) for kind, share in shares.items()}
    by_share = sorted(shares, key=lambda kind: -shares[kind])
    for number in range(kills - sum(found.values())):
        found[by_share[number % len(by_share)]] += 1
    return found


def kill_all(
    kills: dict[Kind, int], seed: int, side_by_side: int = 2, each: Callable[[Tally], None] | None = None
) -> list[Tally]:
    """Kill every kind of work so many times. each: called with each tally when it is there."""
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(side_by_side) as pool:

        def one(kind: Kind) -> Tally:
            found = kill_often(kind, kills[kind], seed, Path(folder) / kind.name)
            if each is not None:
                each(found)
            return found

        return list(pool.map(one, kills))


def table(tallies: Sequence[Tally]) -> list[str]:
    """The tallies as lines: kind, kills, of these while at work, lost, and how long the work takes."""
    lines = [f"{'kind':<14}{'kills':>7}{'at work':>9}{'lost':>6}{'work, s':>9}{'all, s':>8}"]
    lines += [
        f"{one.kind:<14}{one.kills + one.late:>7}{one.kills:>9}{len(one.lost):>6}"
        f"{one.work_s:>9.2f}{one.seconds:>8.0f}"
        for one in tallies
    ]
    kills, late = sum(one.kills for one in tallies), sum(one.late for one in tallies)
    lines.append(f"{'together':<14}{kills + late:>7}{kills:>9}{sum(len(one.lost) for one in tallies):>6}")
    return lines


@click.command()
@click.option("--kills", default=300, show_default=True, help="Kills while the program is at work.")
@click.option("--seed", default=1, show_default=True, help="Says at which moments.")
@click.option("--only", type=click.Choice([kind.name for kind in SHARES]), help="One kind of work.")
@click.option("--side-by-side", default=2, show_default=True, help="Kinds of work at a time.")
def main(kills: int, seed: int, only: str | None, side_by_side: int) -> None:
    """Kill the program at random moments and count what is lost."""
    shares = {kind: share for kind, share in SHARES.items() if only in (None, kind.name)}
    tallies = kill_all(
        shared_out(kills, shares),
        seed,
        side_by_side,
        lambda one: click.echo(f"{one.kind}: {one.kills} kills, {len(one.lost)} lost", err=True),
    )
    for line in table(tallies):
        click.echo(line)
    lost = [f"{one.kind}: {sentence}" for one in tallies for sentence in one.lost]
    for sentence in lost:
        click.echo(sentence)
    sys.exit(1 if lost else 0)


if __name__ == "__main__":
    main()
