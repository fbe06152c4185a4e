"""`reviewer grade`: notes in, grade rows out."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from reviewer.commands.options import how_from, note_options, said_from
from reviewer.commands.terminal import console, remark, say, showing_progress, stoppable
from reviewer.errors import InputError, Stopped
from reviewer.review.plain import plain_json

if TYPE_CHECKING:
    from reviewer.commands.rows import ShownRow
    from reviewer.language.read import Reader
    from reviewer.pipeline import GradedNote, HearWith, NoteSource, Setting, ShouldStop
    from reviewer.store import Library


@click.command()
@click.argument("notes", nargs=-1, required=True, metavar="NOTE…", type=click.Path(path_type=Path))
@note_options
@click.option("--json", "as_json", is_flag=True, help="Print the grade rows as JSON, one a line.")
@click.option("--dry-run", is_flag=True, help="Show the rows but store nothing.")
@click.option(
    "--doc", metavar="FILE", type=click.Path(path_type=Path), help="Write the readings as a spaCy DocBin too."
)
def grade(notes: tuple[Path, ...], as_json: bool, dry_run: bool, doc: Path | None, **given: Any) -> None:
    """Hear notes, read them, and show the grade rows.

    NOTE is a recording (wav, flac, mp3, m4a, ogg, opus, or the sound of an mp4 or mov), captions
    (vtt, srt), plain text (txt, md), a folder of these, or "-" for text from a pipe.
    """
    grade_paths(notes, given, as_json=as_json, dry_run=dry_run, doc=doc)


def grade_paths(
    notes: Sequence[Path],
    given: Mapping[str, Any],
    *,
    as_json: bool = False,
    dry_run: bool = False,
    doc: Path | None = None,
) -> None:
    """Grade the notes that files and folders name. given: the options of `note_options`.

    Ends the command with exit code 2 where one of several notes could not be used.
    """
    from reviewer.language.read import Reader
    from reviewer.pipeline import find_notes, look_up

    found = find_notes(notes)
    with _library(dry_run) as library:
        setting = look_up(said_from(given), library)
        for sentence in setting.remarks:
            remark(sentence)
        job = Job(
            setting, how_from(given), Reader.load(), None if dry_run else library, as_json, given["keep"]
        )
        fine = job.run(found)
        if doc is not None:
            write_readings(doc, job.done)
        if not fine:
            raise click.exceptions.Exit(2)


def write_readings(target: Path, graded: Sequence[GradedNote]) -> None:
    """Write the readings as one spaCy DocBin. Raises InputError where the file cannot be written."""
    from reviewer.language.document import to_document, write_documents

    try:
        write_documents(target, [to_document(one.reading, one.source.name) for one in graded])
    except OSError as problem:
        why = problem.strerror or problem
        raise InputError(
            f"{target} cannot be written ({why}); name a file in a folder of yours."
        ) from problem


@contextmanager
def _library(dry_run: bool) -> Iterator[Library | None]:
    """The grade book; for a dry run only to look things up, and only where there is one."""
    from reviewer import paths
    from reviewer.store.library import Library

    if dry_run and not paths.database().is_file():
        yield None
        return
    with Library.open(read_only=dry_run) as library:
        yield library


@dataclass(frozen=True)
class Job:
    """Notes to grade one after another in one setting."""

    setting: Setting
    how: HearWith
    reader: Reader
    library: Library | None
    as_json: bool
    keep: bool = False
    done: list[GradedNote] = field(default_factory=list)

    def run(self, notes: list[Path]) -> bool:
        """Grade every note; one that cannot be used is said and passed over. False if there was one."""
        fine = True
        with stoppable() as should_stop:
            for number, path in enumerate(notes, 1):
                try:
                    self._one(path, should_stop, first=number == 1)
                except InputError as problem:
                    if len(notes) == 1:
                        raise
                    fine = False
                    remark(f"reviewer: {problem}")
                except Stopped as stopped:
                    left = len(notes) - number
                    more = f"; {left} more not begun" if left else ""
                    raise Stopped(f"{stopped}{more}") from None
        return fine

    def _one(self, path: Path, should_stop: ShouldStop, *, first: bool) -> None:
        from reviewer.pipeline import grade_note

        source = open_named(path)
        with showing_progress(source.name) as progress:
            graded = grade_note(
                source,
                self.setting.context,
                library=self.library,
                reader=self.reader,
                booking=self.setting.booking,
                how=self.how,
                keep=self.keep,
                progress=progress,
                should_stop=should_stop,
            )
        self.done.append(graded)
        for sentence in graded.remarks:
            remark(f"{source.name}: {sentence}")
        if graded.others:
            also = ", ".join(graded.others)
            remark(
                f"{source.name} is in the grade book with another player or game too ({also}); "
                "`reviewer notes NOTE --delete` takes one out."
            )
        if self.as_json:
            print_json(graded)
        else:
            click.echo("" if first else "\n", nl=False)
            show_graded(graded)


def open_named(path: Path) -> NoteSource:
    """The note that a path names; "-" is text from a pipe."""
    from reviewer.pipeline import open_source, text_source

    if str(path) != "-":
        return open_source(path)
    if sys.stdin.isatty():
        raise InputError('"-" reads the text of a note from a pipe, and there is none; give a file')
    return text_source(sys.stdin.buffer.read(), "talk")


def print_json(graded: GradedNote) -> None:
    """The rows as the exchanged JSON objects, one a line, nothing else."""
    for row in graded.rows:
        click.echo(plain_json(row.model_dump_json()))


def show_graded(graded: GradedNote, check: bool = True) -> None:
    """The rows as a table under a line that names the note. check: say how to review them."""
    from reviewer.commands.rows import show_rows, summary

    out = console()
    say(out, _heading(graded), "bold")
    rows = shown_rows(graded)
    if not rows:
        say(out, "No rep was found: nothing in it sounds like a snap with a verdict.")
        return
    show_rows(out, rows, graded.times)
    say(out, summary(rows) + ".")
    if check and graded.note is not None:
        say(out, f"Check them: reviewer review {graded.slug}")


def shown_rows(graded: GradedNote) -> list[ShownRow]:
    """The rows with what the coach decided about them, where they are stored."""
    from reviewer.commands.rows import ShownRow

    if graded.note is None:
        return [ShownRow(row) for row in graded.rows]
    return [ShownRow(row.current, row.confirmed, row.corrected) for row in graded.stored]


def _heading(graded: GradedNote) -> str:
    from reviewer.reports.wording import clock

    context = graded.context
    name = next(
        (man.name for man in context.roster if man.jersey == context.player and man.side == "own"), ""
    )
    man = " ".join(filter(None, (context.player, name, context.position)))
    against = f"against {context.opponent}" if context.opponent else ""
    length = clock(graded.duration_s) if graded.times else f"{len(graded.reading.words)} words"
    return " · ".join(filter(None, (graded.source.title, man, against, length)))
