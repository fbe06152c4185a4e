"""The work on one note of many, as it goes to another process and comes back, and who does it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from reviewer.errors import ReviewerError, Stopped
from reviewer.pipeline.grade import HearWith, Progress, ReadNote, Refused, ShouldStop
from reviewer.pipeline.source import NoteSource
from reviewer.records import NoteContext

if TYPE_CHECKING:
    from reviewer.language.read import Reader
    from reviewer.speech.models import Model
    from reviewer.speech.recogniser import WhisperRecogniser


@dataclass(frozen=True)
class Task:
    """One note to hear and read. source: where it was opened already (text from a pipe)."""

    number: int
    path: Path
    source: NoteSource | None = None


@dataclass(frozen=True)
class Shared:
    """What is the same for every note of a run.

    known: digests of notes that need not be done. refused: digest to the mends that were refused in
    that note. vocabulary: the user's own words, None for the library's.
    """

    context: NoteContext
    how: HearWith
    known: frozenset[str] = frozenset()
    refused: Mapping[str, Refused] = field(default_factory=dict)
    vocabulary: Path | None = None


@dataclass(frozen=True)
class Result:
    """What became of a task: one of the four.

    read: it was heard and read. known: the digest by which it needs not be done. error: why it could
    not be used. stopped: it was stopped before its end; what was heard of it is kept.
    """

    number: int
    read: ReadNote | None = None
    known: str = ""
    error: ReviewerError | None = None
    stopped: bool = False


Tell = Callable[[int, float], None]
"""Called with a task's number and how much of it is done (0..1)."""


class Hands(Protocol):
    """Somebody who hears and reads notes."""

    def run(
        self, tasks: Sequence[Task], shared: Shared, *, tell: Tell, should_stop: ShouldStop
    ) -> Iterator[Result]:
        """Each result as soon as it is there, in any order, at most one a task.

        When `should_stop` says so, what is under way is ended at a good moment and the tasks not begun
        get no result. Raises ReviewerError where no work can be done at all.
        """
        ...


class Desk:
    """Hears and reads one note after another, with one reader and one model loaded once."""

    def __init__(self, shared: Shared, processors: int | None = None) -> None:
        """processors: how many the model may use; None for all."""
        self._shared = shared
        self._processors = processors
        self._reader: Reader | None = None
        self._whisper: dict[str, WhisperRecogniser] = {}

    def load(self) -> None:
        """Load the reader now, and not with the first note. Raises InputError as `Reader.load` does."""
        self._read_with()

    def do(
        self,
        task: Task,
        *,
        progress: Progress | None = None,
        should_stop: ShouldStop,
        cache: Path | None = None,
    ) -> Result:
        """Hear and read one note. Nothing that is wrong with a note comes out as an exception.

        cache: the folder for its transcript, where it is another one than the others'.
        """
        try:
            return self._do(task, progress, should_stop, cache)
        except Stopped:
            return Result(task.number, stopped=True)
        except ReviewerError as problem:
            return Result(task.number, error=problem)
        except MemoryError:
            short = f"{task.path.name}: there is not enough memory for it; grade fewer at once (--jobs 1)"
            return Result(task.number, error=ReviewerError(short))

    def _do(
        self, task: Task, progress: Progress | None, should_stop: ShouldStop, cache: Path | None
    ) -> Result:
        from reviewer.pipeline.grade import content_digest, read_source
        from reviewer.pipeline.source import open_source

        shared = self._shared
        source = task.source or open_source(task.path)
        if shared.known and (digest := content_digest(source, should_stop)) in shared.known:
            return Result(task.number, known=digest)
        how = shared.how if shared.how.load else replace(shared.how, whisper=self._model)
        read = read_source(
            source,
            shared.context,
            reader=self._read_with(),
            refused=lambda digest: shared.refused.get(digest, frozenset()),
            how=replace(how, cache=cache) if cache is not None else how,
            progress=progress,
            should_stop=should_stop,
        )
        return Result(task.number, read=read)

    def _read_with(self) -> Reader:
        if self._reader is None:
            from reviewer.language.read import Reader

            self._reader = Reader.load(self._shared.vocabulary)
        return self._reader

    def _model(self, model: Model) -> WhisperRecogniser:
        if model.digest not in self._whisper:
            from reviewer.speech.recogniser import WhisperRecogniser, usable_processors

            mine = self._processors or usable_processors()
            side_by_side = min(2, mine)
            self._whisper[model.digest] = WhisperRecogniser(
                model, threads=max(1, mine // side_by_side), workers=side_by_side
            )
        return self._whisper[model.digest]


def share_done(stage: str, done: float, total: float) -> float:
    """How much of a note is done, 0..1, from what `Progress` is told: hearing is nearly all of it."""
    share = min(1.0, done / total) if total else 0.0
    return 0.9 * share if stage == "hear" else 0.9 + 0.1 * share


class Here:
    """This process, one note after another."""

    def run(
        self, tasks: Sequence[Task], shared: Shared, *, tell: Tell, should_stop: ShouldStop
    ) -> Iterator[Result]:
        """See `Hands.run`."""
        desk = Desk(shared)
        for task in tasks:
            if should_stop():
                return

            def progress(stage: str, done: float, total: float, number: int = task.number) -> None:
                tell(number, share_done(stage, done, total))

            yield desk.do(task, progress=progress, should_stop=should_stop)
