"""What the review costs: keys for each fix, CPU time of each key with 5,000 rows, fixes that learning spares.

`python -m benchmarks review`. The keys are those of the annotated development notes, worked out from what
the pick lists show and applied to the session behind the screen (`python -m tests.keys` presses them in the
screen itself). Times are CPU seconds of this process, so that a busy machine does not count.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from unittest.mock import patch

import click

from tests import keys
from tests.review import habit
from tests.screens import speed


@click.command()
def main() -> None:
    """Print the three measurements, one after the other."""
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
