"""Grade many notes: what need not be done, who does the rest, and the results into the grade book."""

from __future__ import annotations

import os
from collections.abc import Callable, Generator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from reviewer.errors import InputError, Stopped
from reviewer.many.crew import Crew
from reviewer.many.work import Hands, Here, Result, Shared, Task, Tell
from reviewer.pipeline.grade import GradedNote, HearWith, ShouldStop, as_graded, book_note, content_digest
from reviewer.pipeline.setting import Setting
from reviewer.pipeline.source import RECORDINGS, NoteSource, open_source

if TYPE_CHECKING:
    from reviewer.speech.models import Model
    from reviewer.store.library import Library

WORTH_A_PROCESS = 16
"""So many texts are read by one process before a second one is up."""

A_PROCESS_BYTES = 1_000_000_000
"""What a process with the model base may need, and some to spare."""

_FEW = 4

Outcome = Literal["graded", "known", "same", "failed"]


@dataclass(frozen=True)
class FileReport:
    """What became of one of the notes.

    outcome: "graded" now; "known": in the grade book already; "same": the same content as another of
    these files; "failed". graded: its rows, where it is graded or known. sentence: why it failed, or
    what it is the same as. number: its place among the notes, from 0.
    """

    number: int
    path: Path
    outcome: Outcome
    graded: GradedNote | None = None
    sentence: str = ""


@dataclass(frozen=True)
class Totals:
    """How many notes had which outcome, and how many rows those graded now have."""

    graded: int = 0
    known: int = 0
    same: int = 0
    failed: int = 0
    rows: int = 0

    def and_one(self, report: FileReport) -> Totals:
        """With one more."""
        more = {report.outcome: getattr(self, report.outcome) + 1}
        rows = len(report.graded.rows) if report.outcome == "graded" and report.graded else 0
        return replace(self, rows=self.rows + rows, **more)

    @property
    def done(self) -> int:
        """All of them."""
        return self.graded + self.known + self.same + self.failed


def hands_for(notes: Sequence[Path], jobs: int | None = None) -> Hands:
    """Processes for the notes: one a recording, and one for every `WORTH_A_PROCESS` texts.

    They are as many as there are processors and memory for, and share the processors out among them; one
    alone is this process. jobs: so many instead.
    """
    processors = _processors()
    heard = sum(path.suffix.lower() in RECORDINGS for path in notes)
    members = min(processors, _room(), max(heard, len(notes) // WORTH_A_PROCESS, 1))
    members = min(jobs or members, len(notes))
    return Here() if members == 1 else Crew(members, processors)


def _room() -> int:
    """Processes that the machine's memory is large enough for."""
    try:
        memory = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    except (AttributeError, ValueError, OSError):  # not on every system
        return _FEW
    return max(1, memory // A_PROCESS_BYTES)


def _processors() -> int:
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # only Linux has it
        return os.cpu_count() or 1


def grade_many(
    notes: Sequence[Path | NoteSource],
    setting: Setting,
    *,
    library: Library | None,
    how: HearWith,
    hands: Hands,
    keep: bool = False,
    again: bool = False,
    each: Callable[[FileReport], None] = lambda report: None,
    progress: Callable[[Totals, float], None] = lambda totals, share: None,
    should_stop: ShouldStop = lambda: False,
) -> Totals:
    """Grade notes side by side; each is stored as soon as it is read, in one transaction.

    library: None to store nothing; only this process writes it. keep: copy recordings into the library
    folder. again: also what is in the grade book already. each: called with every note's report, as they
    come. progress: called with the totals so far and how much of all notes is done (0..1).
    A note that cannot be used is reported and passed over. Raises ModelError, LibraryError where no note
    could be graded, Stopped when `should_stop` said so; what is graded by then is stored.
    """
    run = _Run(notes, setting, library, how, keep, again)
    totals = Totals()
    shares: dict[int, float] = {}

    def tell(number: int, share: float) -> None:
        shares[number] = share
        progress(totals, min(1.0, (totals.done + sum(shares.values())) / len(notes)))

    with closing(run.reports(hands, tell, should_stop)) as reports:
        for report in reports:
            totals = totals.and_one(report)
            each(report)
            tell(report.number, 0.0)
    if totals.done < len(notes):
        left = len(notes) - totals.done
        raise Stopped(
            f"stopped; {left} of {len(notes)} notes are left, the others are done, and what was heard is "
            "kept; the same command goes on from there"
        )
    return totals


class _Run:
    def __init__(
        self,
        notes: Sequence[Path | NoteSource],
        setting: Setting,
        library: Library | None,
        how: HearWith,
        keep: bool,
        again: bool,
    ) -> None:
        self._tasks = [_task(number, note) for number, note in enumerate(notes)]
        self._setting = setting
        self._library = library
        self._how = how
        self._keep = keep
        self._in_book = _in_book(library, setting)
        model = _found(how, self._tasks)
        other = {} if again else _as_before(library, self._in_book, how, model)
        self._shared = Shared(
            setting.context,
            replace(how, model=model) if model is not None else how,
            known=frozenset(other),
            refused=_refused(library, self._in_book),
        )

    def reports(self, hands: Hands, tell: Tell, should_stop: ShouldStop) -> Generator[FileReport, None, None]:
        same = _same(self._tasks, should_stop)
        first = [task for task in self._tasks if task.number not in same]
        for result in hands.run(first, self._shared, tell=tell, should_stop=should_stop):
            if not result.stopped:
                yield self._report(result)
        if should_stop():
            return
        for number, other in same.items():
            sentence = f"it is the same as {self._tasks[other].path.name}"
            yield FileReport(number, self._tasks[number].path, "same", sentence=sentence)

    def _report(self, result: Result) -> FileReport:
        path = self._tasks[result.number].path
        if result.read is not None:
            if self._library is None:
                return FileReport(result.number, path, "graded", as_graded(result.read))
            booking = self._setting.booking
            graded = book_note(result.read, self._library, booking=booking, keep=self._keep)
            return FileReport(result.number, path, "graded", graded)
        if result.known:
            return FileReport(result.number, path, "known", self._stored(path, result.known))
        problem = result.error
        assert problem is not None
        if not isinstance(problem, InputError):
            # what is wrong with the model or the disk is wrong for every note
            raise problem
        return FileReport(result.number, path, "failed", sentence=str(problem))

    def _stored(self, path: Path, digest: str) -> GradedNote:
        """A note as it stands in the grade book."""
        from reviewer.records import Reading
        from reviewer.store.notes import current_rows, note, words_of

        assert self._library is not None
        known = note(self._library, self._in_book[digest])
        rows = tuple(current_rows(self._library, known.id))
        reading = Reading(words_of(self._library, known.id), (), (), tuple(row.current for row in rows))
        return GradedNote(
            NoteSource(known.kind, path.name, path),
            self._setting.context,
            reading,
            known.duration_s,
            note=known.id,
            slug=known.slug,
            stored=rows,
            model=known.model,
        )


def _task(number: int, note: Path | NoteSource) -> Task:
    if isinstance(note, NoteSource):
        return Task(number, note.path or Path(note.name), note)
    return Task(number, note)


def _found(how: HearWith, tasks: Sequence[Task]) -> Model | None:
    """The model, put together and checked once for all; None where none is needed or it is a fake's."""
    from reviewer.speech.models import Model, find_model

    if isinstance(how.model, Model):
        return how.model
    if how.load is not None or not any(_is_heard(task) for task in tasks):
        return None
    return find_model(how.model)


def _is_heard(task: Task) -> bool:
    return task.source is None and task.path.suffix.lower() in RECORDINGS


def _in_book(library: Library | None, setting: Setting) -> dict[str, int]:
    """The notes with this context that are in the grade book: digest to id."""
    if library is None:
        return {}
    from reviewer.store.notes import find_note, notes

    context, game = setting.context, setting.booking.known(library)
    return {
        note.digest: note.id
        for note in notes(library)
        if find_note(library, note.digest, context, game) == note.id
    }


def _as_before(
    library: Library | None, in_book: Mapping[str, int], how: HearWith, model: Model | None
) -> dict[str, int]:
    """Those of them that were heard by the model that is asked for, where one is."""
    if library is None or how.model is None or model is None:
        return dict(in_book)
    from reviewer.store.notes import note

    return {
        digest: number
        for digest, number in in_book.items()
        if (known := note(library, number)).kind != "audio" or known.model == model.name
    }


def _refused(library: Library | None, in_book: Mapping[str, int]) -> dict[str, frozenset[tuple[str, str]]]:
    if library is None:
        return {}
    from reviewer.store.edit import refused_mends

    found = {digest: refused_mends(library, number) for digest, number in in_book.items()}
    return {digest: mends for digest, mends in found.items() if mends}


def _same(tasks: Sequence[Task], should_stop: ShouldStop) -> dict[int, int]:
    """Notes of the same content as an earlier one: number to number. Only files of one size are read."""
    sizes: dict[int, list[Task]] = {}
    for task in tasks:
        try:
            sizes.setdefault(task.path.stat().st_size, []).append(task)
        except OSError:
            continue  # said where it is heard
    first: dict[str, int] = {}
    same: dict[int, int] = {}
    for alike in sizes.values():
        for task in alike if len(alike) > 1 else ():
            try:
                digest = content_digest(task.source or open_source(task.path), should_stop)
            except (InputError, Stopped):
                continue
            if first.setdefault(digest, task.number) != task.number:
                same[task.number] = first[digest]
    return same
