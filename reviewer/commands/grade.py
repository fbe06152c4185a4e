"""`reviewer grade`: notes in, grade rows out."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from reviewer.commands.grade_many import Side, run_many
from reviewer.commands.options import how_from, note_options, said_from
from reviewer.commands.terminal import console, remark, say, showing_progress, stoppable
from reviewer.errors import InputError
from reviewer.review.plain import plain_json

if TYPE_CHECKING:
    from reviewer.commands.rows import ShownRow
    from reviewer.pipeline import GradedNote, HearWith, NoteSource, Setting
    from reviewer.store import Library


_ALONE = Side()


@click.command()
@click.argument("notes", nargs=-1, required=True, metavar="NOTE…", type=click.Path(path_type=Path))
@note_options
@click.option("--json", "as_json", is_flag=True, help="Print the grade rows as JSON, one a line.")
@click.option("--dry-run", is_flag=True, help="Show the rows but store nothing.")
@click.option(
    "--doc", metavar="FILE", type=click.Path(path_type=Path), help="Write the readings as a spaCy DocBin too."
)
@click.option(
    "--jobs",
    type=click.IntRange(1, 512),
    metavar="N",
    help="Processes for several notes; all processors when left out.",
)
@click.option("--again", is_flag=True, help="Of several notes, read those in the grade book anew too.")
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Hear and read on this Dask cluster (the recordings go there); store here.",
)
def grade(
    notes: tuple[Path, ...],
    as_json: bool,
    dry_run: bool,
    doc: Path | None,
    jobs: int | None,
    again: bool,
    cluster: str | None,
    **given: Any,
) -> None:
    """Hear notes, read them, and show the grade rows.

    NOTE is a recording (wav, flac, mp3, m4a, ogg, opus, or the sound of an mp4 or mov), captions
    (vtt, srt), plain text (txt, md), a folder of these, or "-" for text from a pipe. Several are done
    side by side, a line for each; those in the grade book already are passed over.
    """
    side = Side(jobs, cluster, again)
    grade_paths(notes, given, as_json=as_json, dry_run=dry_run, doc=doc, side=side)


def grade_paths(
    notes: Sequence[Path],
    given: Mapping[str, Any],
    *,
    as_json: bool = False,
    dry_run: bool = False,
    doc: Path | None = None,
    side: Side = _ALONE,
) -> None:
    """Grade the notes that files and folders name. given: the options of `note_options`.

    Ends the command with exit code 2 where one of several notes could not be used.
    """
    from reviewer.pipeline import find_notes, look_up

    found = find_notes(notes)
    with _library(dry_run) as library:
        setting = look_up(said_from(given), library)
        for sentence in setting.remarks:
            remark(sentence)
        how, book, fine = how_from(given), None if dry_run else library, True
        if len(found) == 1 and side.cluster is None:
            done = [_grade_one(found[0], setting, how, book, as_json=as_json, keep=given["keep"])]
        else:
            fine, done = run_many(
                found,
                setting,
                how,
                book,
                side,
                as_json=as_json,
                keep=given["keep"],
                all_of_it=doc is not None,
            )
        if doc is not None:
            write_readings(doc, done)
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


def _grade_one(
    path: Path, setting: Setting, how: HearWith, library: Library | None, *, as_json: bool, keep: bool
) -> GradedNote:
    from reviewer.pipeline import grade_note

    source = open_named(path)
    with stoppable() as should_stop, showing_progress(source.name) as progress:
        graded = grade_note(
            source,
            setting.context,
            library=library,
            booking=setting.booking,
            how=how,
            keep=keep,
            progress=progress,
            should_stop=should_stop,
        )
    remark_on(graded)
    if as_json:
        print_json(graded)
    else:
        show_graded(graded)
    return graded


def remark_on(graded: GradedNote) -> None:
    """Say what could not be heard of a note, and that it is in the grade book twice."""
    name = graded.source.name
    for sentence in graded.remarks:
        remark(f"{name}: {sentence}")
    if graded.others:
        also = ", ".join(graded.others)
        remark(
            f"{name} is in the grade book with another player or game too ({also}); "
            "`reviewer notes NOTE --delete` takes one out."
        )


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
