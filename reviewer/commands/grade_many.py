"""`reviewer grade` of several notes: a line for each as it is done, and a summary at the end."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import click

from reviewer.commands.terminal import console, remark, say, stoppable

if TYPE_CHECKING:
    from reviewer.many import FileReport, Hands, Totals
    from reviewer.pipeline import GradedNote, HearWith, NoteSource, Setting
    from reviewer.store import Library


@dataclass(frozen=True)
class Side:
    """How to grade notes side by side. jobs: processes at most. again: notes of the grade book too."""

    jobs: int | None = None
    cluster: str | None = None
    again: bool = False


def run_many(
    notes: Sequence[Path],
    setting: Setting,
    how: HearWith,
    library: Library | None,
    side: Side,
    *,
    as_json: bool,
    keep: bool,
    all_of_it: bool,
) -> tuple[bool, list[GradedNote]]:
    """Grade several notes and report. False where one could not be used; with `all_of_it` the readings.

    Raises as `grade_many`; a Stopped comes after what is done was reported.
    """
    from reviewer.many import grade_many

    reports = _Reports(as_json, all_of_it)
    hands = _hands(notes, side)
    with stoppable() as should_stop, _overall(len(notes)) as progress:
        try:
            totals = grade_many(
                [_opened(path) for path in notes],
                setting,
                library=library,
                how=how,
                hands=hands,
                keep=keep,
                again=side.again or all_of_it,
                each=reports.add,
                progress=progress,
                should_stop=should_stop,
            )
        finally:
            reports.print_rest()
    _print_summary(totals, as_json, stored=library is not None)
    return totals.failed == 0, reports.kept()


def _hands(notes: Sequence[Path], side: Side) -> Hands:
    if side.cluster is not None:
        from reviewer.many.cluster import Cluster

        return Cluster(side.cluster)
    from reviewer.many import hands_for

    return hands_for(notes, side.jobs)


def _opened(path: Path) -> Path | NoteSource:
    """A note as `grade_many` takes it: text from a pipe is read here."""
    from reviewer.commands.grade import open_named

    return open_named(path) if str(path) == "-" else path


@dataclass
class _Reports:
    """Prints a line for each note as it comes, or the rows as JSON in the order of the notes."""

    as_json: bool
    all_of_it: bool
    _waiting: dict[int, FileReport] = field(default_factory=dict)
    _next: int = 0
    _kept: dict[int, GradedNote] = field(default_factory=dict)

    def add(self, report: FileReport) -> None:
        if self.all_of_it and report.graded is not None:
            self._kept[report.number] = report.graded
        if not self.as_json:
            self._print_line(report)
            return
        self._remark_on(report)
        self._waiting[report.number] = report
        while self._next in self._waiting:
            _print_rows(self._waiting.pop(self._next))
            self._next += 1

    def print_rest(self) -> None:
        """After a stop: what is done, though a note before it is not."""
        for number in sorted(self._waiting):
            _print_rows(self._waiting.pop(number))

    def kept(self) -> list[GradedNote]:
        return [self._kept[number] for number in sorted(self._kept)]

    def _print_line(self, report: FileReport) -> None:
        name = report.path.name
        if report.graded is not None:
            before = "already in the grade book, " if report.outcome == "known" else ""
            say(console(), f"{name}: {before}{_rows_of(report.graded)}", wrap=False)
        elif report.outcome == "same":
            say(console(), f"{name}: left out, {report.sentence}", wrap=False)
        self._remark_on(report)

    def _remark_on(self, report: FileReport) -> None:
        from reviewer.cli import as_sentence
        from reviewer.commands.grade import remark_on

        if report.outcome == "failed":
            remark(f"reviewer: {as_sentence(report.sentence)}")
        if report.graded is not None:
            remark_on(report.graded)


def _rows_of(graded: GradedNote) -> str:
    from reviewer.commands.grade import shown_rows
    from reviewer.commands.rows import summary

    rows = shown_rows(graded)
    return summary(rows) if rows else "no rep was found"


def _print_rows(report: FileReport) -> None:
    from reviewer.commands.grade import print_json

    if report.graded is not None:
        print_json(report.graded)


def _print_summary(totals: Totals, as_json: bool, *, stored: bool) -> None:
    """To stdout, or to stderr where the rows are on stdout."""
    parts = [f"{totals.graded} graded ({totals.rows} rows)"]
    parts += [f"{totals.known} already in the grade book"] if totals.known else []
    parts += [f"{totals.same} the same as another"] if totals.same else []
    parts += [f"{totals.failed} failed"] if totals.failed else []
    line = f"{totals.done} notes: {', '.join(parts)}."
    if as_json:
        remark(line)
        return
    say(console(), line, "bold")
    if stored and totals.graded + totals.known:
        click.echo("Check them: reviewer review")


@contextmanager
def _overall(notes: int) -> Iterator[Callable[[Totals, float], None]]:
    """A bar on stderr for all notes together; nothing where stderr is no terminal."""
    if not sys.stderr.isatty():
        yield lambda totals, share: None
        return
    from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console(err=True), transient=True) as bar:
        task = bar.add_task(f"grading {notes} notes", total=1.0)

        def tell(totals: Totals, share: float) -> None:
            failed = f", {totals.failed} failed" if totals.failed else ""
            bar.update(task, description=f"{totals.done} of {notes} notes done{failed}", completed=share)

        yield tell
