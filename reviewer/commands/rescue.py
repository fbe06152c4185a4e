"""`reviewer rescue`: what can still be read of a damaged grade book."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from reviewer.commands.terminal import remark


@click.command()
@click.argument("damaged", required=False, metavar="[FILE]", type=click.Path(path_type=Path))
@click.option("--out", metavar="FILE", type=click.Path(path_type=Path), help="The new grade book.")
def rescue(damaged: Path | None, out: Path | None) -> None:
    """Say what is wrong with the grade book (or FILE) and save what can be read into a new one.

    The damaged file is only read. A whole backup is better than a rescue: compare the two before you
    bring one back with `reviewer restore`.
    """
    from reviewer import paths
    from reviewer.store.rescue import rescue as save

    source = damaged or paths.database()
    target = out or paths.home() / f"gradebook.rescued-{datetime.now():%Y%m%d-%H%M%S}.db"
    done = save(source, target)
    if done.sound:
        remark("Nothing is wrong with the file; the copy holds all of it.")
    for fault in done.faults:
        remark(f"  {fault}")
    for table, count in done.bad.items():
        remark(f"{count} {'page' if count == 1 else 'pages'} of {table or 'unknown tables'} cannot be read.")
    for table in {**done.saved, **done.lost}:
        lost = done.lost.get(table, 0)
        shown = f", at least {lost} lost" if lost else ""
        click.echo(f"{table:<14}{done.saved.get(table, 0):>8} saved{shown}")
    for sentence in done.rest:
        remark(f"Still wrong: {sentence}")
    click.echo(f"Saved in {target}; bring it back with: reviewer restore {target}")
