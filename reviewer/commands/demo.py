"""`reviewer demo`: the main job on the recordings that ship with the program."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from typing import TYPE_CHECKING

import click

from reviewer.commands.options import announce_model
from reviewer.commands.terminal import remark, showing_progress, stoppable

if TYPE_CHECKING:
    from reviewer.compare.score import Tally
    from reviewer.demo import DemoNote
    from reviewer.pipeline import GradedNote, Progress

FIGURES = {
    "verdict": "verdicts right",
    "player": "players right",
    "phase": "run or pass right",
    "down and distance": "down and distance right",
    "hands-off": "rows that need no fix",
}
"""Shares of the expected rows, by the name of the figure; how they are shown."""


@click.command()
@click.option("--no-screen", is_flag=True, help="Print the rows instead of opening the review.")
@click.option("--check", is_flag=True, help="Compare the rows with the expected ones and print the figures.")
@click.option("--model", metavar="MODEL", help="Speech model: see `reviewer model`.")
def demo(no_screen: bool, check: bool, model: str | None) -> None:
    """Grade the demo recordings in a library of their own, and open the review.

    Your own library is not touched. The recordings are heard once; later runs take what was heard.
    """
    from reviewer import paths
    from reviewer.demo import demo_folder, demo_notes, grade_demo, open_demo_library
    from reviewer.pipeline import HearWith

    notes = demo_notes()
    announce_model(model)
    how = HearWith(model=model, cache=demo_folder() / "transcripts")
    with open_demo_library() as library:
        with stoppable() as should_stop, ExitStack() as bars:
            graded = grade_demo(library, notes, how, progress=_bars(bars), should_stop=should_stop)
        if check:
            _print_check(notes, graded)
        elif no_screen or not sys.stdout.isatty():
            _print_sheets(graded)
        else:
            from reviewer.screens.review import run_review

            run_review(library, graded[0].note)
            remark(f"The demo again: {paths.HOME_VARIABLE}={shlex.quote(str(demo_folder()))} reviewer review")


def _bars(stack: ExitStack) -> Callable[[str], Progress | None]:
    def one(name: str) -> Progress | None:
        stack.close()  # the bar of the recording before
        return stack.enter_context(showing_progress(name))

    return one


def _print_sheets(graded: Sequence[GradedNote]) -> None:
    from reviewer.commands.grade import show_graded

    for number, one in enumerate(graded):
        if number:
            click.echo()
        show_graded(one, check=False)


def _print_check(notes: Sequence[DemoNote], graded: Sequence[GradedNote]) -> None:
    from reviewer.demo import check_demo

    total = sum(one.duration_s for one in graded)
    click.echo(f"{len(graded)} recordings, {_minutes(total)}, {notes_model(graded)}.")
    for line in figures(check_demo(notes, graded)):
        click.echo(line)


def notes_model(graded: Sequence[GradedNote]) -> str:
    """Which model heard the recordings."""
    models = sorted({one.model for one in graded})
    return f"speech model {', '.join(models)}"


def figures(tally: Tally) -> list[str]:
    """The figures of a comparison as lines: name, share, count."""
    found, reps = tally.true["rep"], tally.gold["rep"]
    lines = [_line("reps found", found, reps)]
    extra = tally.read["rep"] - found
    lines.append(f"{'reps that are none':28}{extra:>5}")
    lines += [_line(shown, tally.right[name], tally.total[name]) for name, shown in FIGURES.items()]
    for name in (
        "opponents",
        "concepts",
        "set",
        "alignment",
        "techniques",
        "faults",
        "moves",
        "games",
        "events",
    ):
        lines.append(f"{f'{name}, F1':28}{tally.f1(name):>5.2f}")
    return lines


def _line(name: str, right: int, total: int) -> str:
    return f"{name:28}{100 * right / total:>5.1f} %  ({right} of {total})"


def _minutes(seconds: float) -> str:
    return f"{int(seconds) // 60} min {int(seconds) % 60} s"
