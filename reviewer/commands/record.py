"""`reviewer record`: talk, and have it graded."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from reviewer.commands.grade import grade_paths
from reviewer.commands.options import announce_model, note_options, said_from
from reviewer.commands.terminal import remark

if TYPE_CHECKING:
    from reviewer.speech.record_notes import Recording


@click.command()
@click.option("--input", "input_name", metavar="NAME", help="The microphone: its name or a part of it.")
@click.option(
    "--follow",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Take what another program records to a growing file or a named pipe.",
)
@click.option("--out", metavar="FILE", type=click.Path(path_type=Path), help="The file to record to (.wav).")
@click.option("--no-words", is_flag=True, help="Show no words while you talk.")
@click.option("--no-grade", is_flag=True, help="Record only.")
@note_options
def record(
    input_name: str | None,
    follow: Path | None,
    out: Path | None,
    no_words: bool,
    no_grade: bool,
    **given: Any,
) -> None:
    """Talk: record a note, then grade it.

    The recording is on the disk within a second of being said. Without a terminal recording begins at
    once and Ctrl-C ends it.
    """
    from reviewer.pipeline import look_up
    from reviewer.screens.record import record_session
    from reviewer.store import Library

    if not no_grade:
        with Library.open() as library:  # a wrong roster is better said before the talk
            look_up(said_from(given), library)
    if not no_words:
        announce_model(given["model"])
    made = record_session(
        input_name=input_name, follow=follow, out=out, live=not no_words, model=given["model"], tell=remark
    )
    if made is None or made.cancelled:
        remark(_left(made))
        return
    for problem in made.problems:
        remark(problem)
    remark(f"Recorded: {made.path}")
    if not no_grade:
        grade_paths([made.path], given)


def _left(made: Recording | None) -> str:
    if made is None:
        return "Nothing was finished; what was said is offered when you record again."
    return f"Cancelled; the recording lies in {made.path}."
