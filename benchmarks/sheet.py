"""CPU time of a sheet of 800 rows in every format: `python -m benchmarks.sheet`.

Each is a fresh run of `reviewer sheet` over the sample season, imports and start of Python included.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

import click

from reviewer.intake.season import load_season
from reviewer.reports.formats import FORMATS
from reviewer.store.library import Library

SEASON = Path(__file__).parents[1] / "shared" / "season"
LIMIT_S = 2.0


@click.command()
def main() -> None:
    """Print the CPU seconds of a sheet of 800 rows, a format a line."""
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        with Library.open(home / "gradebook.db") as library:
            rows = load_season(library, SEASON).rows
        for format_ in FORMATS:
            seconds = cpu_seconds(home, format_)
            click.echo(
                f"{format_:>6}  {rows} rows  {seconds:.2f} s{'' if seconds < LIMIT_S else '  TOO LONG'}"
            )


def cpu_seconds(home: Path, format_: str) -> float:
    """User and system seconds of one run of the command."""
    command = [
        sys.executable,
        "-m",
        "reviewer.cli",
        "sheet",
        "--format",
        format_,
        "--out",
        str(home / f"all.{format_}"),
    ]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, capture_output=True, env={**os.environ, "REVIEWER_HOME": str(home)})
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


if __name__ == "__main__":
    main()
