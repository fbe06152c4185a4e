"""What commands share at the terminal: consoles, progress, stopping."""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

from reviewer.errors import InputError, Stopped
from reviewer.review.plain import plain

if TYPE_CHECKING:
    from rich.console import Console
    from rich.text import Text

    from reviewer.pipeline import Progress, ShouldStop

PIPED_WIDTH = 100
"""Columns of a table that goes to a file or another program."""

_STAGES = {"hear": "hearing", "read": "reading", "store": "storing"}


def console(*, err: bool = False) -> Console:
    """stdout (or stderr) as it is at this moment; colours only where it is a terminal."""
    from rich.console import Console

    stream = sys.stderr if err else sys.stdout
    found = Console(file=stream, highlight=False)
    if not found.is_terminal and "COLUMNS" not in os.environ:
        found.width = PIPED_WIDTH
    return found


def remark(sentence: str) -> None:
    """A sentence on stderr that is not the result."""
    click.echo(plain(sentence), err=True)


def say(out: Console, text: str, style: str = "", *, wrap: bool = True) -> None:
    """A line of text, with nothing in it that the console or the terminal would act on.

    wrap: break it at the console's width; a path to copy is better left whole.
    """
    out.print(cell(text, style), soft_wrap=not wrap)


def cell(text: str, style: str = "") -> Text:
    """A table cell, as harmless as `say`."""
    from rich.text import Text

    return Text(plain(text), style=style)


@contextmanager
def stoppable() -> Iterator[ShouldStop]:
    """Ctrl-C asks the work inside to stop at a good moment; a second one stops it at once."""
    asked = threading.Event()
    if threading.current_thread() is not threading.main_thread():
        yield asked.is_set
        return

    def ask(_signal: int, _frame: object) -> None:
        if asked.is_set():
            raise KeyboardInterrupt
        asked.set()

    before = signal.signal(signal.SIGINT, ask)
    try:
        yield asked.is_set
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def showing_progress(name: str) -> Iterator[Progress | None]:
    """A bar on stderr for one note's pass; nothing where stderr is no terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console(err=True), transient=True) as bar:
        task = bar.add_task(name, total=None)

        def tell(stage: str, done: float, total: float) -> None:
            bar.update(task, description=f"{_STAGES[stage]} {name}", completed=done, total=total)

        yield tell


@contextmanager
def counting(what: str) -> Iterator[Callable[[int, int], None] | None]:
    """A bar on stderr for work that is counted; nothing where stderr is no terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.progress import Progress

    with Progress(console=console(err=True), transient=True) as bar:
        task = bar.add_task(what, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


def agreed(question: str, yes: bool) -> None:
    """Go on when the user agrees (or said so before with --yes); else stop.

    Raises InputError where nobody can be asked.
    """
    if yes:
        return
    if not sys.stdin.isatty():
        raise InputError(f"{question} Nobody can be asked here; say --yes to go on")
    if not click.confirm(question, default=False, err=True):
        raise Stopped("nothing was changed")
