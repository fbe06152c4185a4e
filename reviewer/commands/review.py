"""`reviewer review`: confirm or fix the rows of a note in the terminal."""

from __future__ import annotations

import click


@click.command()
@click.argument("note", required=False, metavar="[NOTE]")
def review(note: str | None) -> None:
    """Confirm or fix the rows of a note, by keys or mouse.

    NOTE is a note's name or number (see `reviewer notes`); without it the newest note that has rows
    left to confirm is opened. Every decision is saved at once; leave with q and come back any time.
    """
    from reviewer.commands.terminal import remark
    from reviewer.screens.review import run_review
    from reviewer.store import Library

    with Library.open() as library:
        remark(run_review(library, note))
