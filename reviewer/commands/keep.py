"""`reviewer backup` and `reviewer restore`: the grade book kept safe."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from reviewer.commands.terminal import agreed, counting


@click.command()
@click.argument("target", required=False, metavar="[FILE]", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Write over FILE when it is there.")
def backup(target: Path | None, replace: bool) -> None:
    """Copy the grade book to FILE while it stays in use, and check the copy.

    Without FILE the copy goes to the folder you are in, named by date and time. Recordings are plain
    files in the library folder; copy that folder to keep them too.
    """
    from reviewer import store

    where = target or Path(f"gradebook-{datetime.now():%Y-%m-%d-%H%M%S}.db")
    if where.is_dir():
        where = where / f"gradebook-{datetime.now():%Y-%m-%d-%H%M%S}.db"
    with store.Library.open_to_read() as library, counting("copying") as progress:
        kept = store.backup(library, where, replace=replace, progress=progress)
        count = len(store.notes(library))
    click.echo(f"{count} notes are kept in {kept}.")


@click.command()
@click.argument("source", metavar="FILE", type=click.Path(path_type=Path))
@click.option("--yes", is_flag=True, help="Restore without asking.")
def restore(source: Path, yes: bool) -> None:
    """Put the backup FILE in the place of the grade book; what is there now is kept beside it."""
    from reviewer.keeping import restore as bring_back

    def agree(coming: int, going: int) -> None:
        if going:
            agreed(f"Replace the grade book with its {going} notes by the backup with {coming} notes?", yes)

    kept = bring_back(source, agree=agree)
    click.echo("The backup is restored.")
    if kept is not None:
        click.echo(f"What was there before is kept in {kept}.")
