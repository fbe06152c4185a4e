"""The main job: a note in, grade rows out, kept in the grade book.

hear (or take the words of captions and text) -> read -> store. Each step can be stopped; what is
heard by then is kept with the transcripts, and the same call goes on from there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from reviewer import paths
from reviewer.errors import LibraryError, Stopped
from reviewer.pipeline.expect import expected
from reviewer.pipeline.keep import keep_recording
from reviewer.pipeline.scores import KeptScorer
from reviewer.pipeline.setting import Booking
from reviewer.pipeline.source import NoteSource, open_source, spoken_words
from reviewer.records import GradeRow, NoteContext, Reading, Word
from reviewer.store.fold import StoredRow

if TYPE_CHECKING:
    from reviewer.language.read import Reader
    from reviewer.speech.models import Model
    from reviewer.speech.recogniser import Loader, WhisperRecogniser
    from reviewer.speech.transcript import Transcript
    from reviewer.store.library import Library

Stage = Literal["hear", "read", "store"]

Progress = Callable[[Stage, float, float], None]
"""Called with the stage, how much of it is done and how much there is (hear: seconds)."""

ShouldStop = Callable[[], bool]


@dataclass(frozen=True)
class GradedNote:
    """A note after the whole pass.

    note: its id in the grade book, None where nothing was stored. stored: its rows as they stand
    there, corrections included; empty where nothing was stored. rows: the rows as they stand.
    model: the speech model's name, "" where nothing was heard. remarks: sentences about what could not
    be heard and the places marked by voice. others: other notes of the same content (another player or game).
    """

    source: NoteSource
    context: NoteContext
    reading: Reading
    duration_s: float
    note: int | None = None
    slug: str = ""
    stored: tuple[StoredRow, ...] = ()
    model: str = ""
    remarks: tuple[str, ...] = ()
    others: tuple[str, ...] = ()

    @property
    def rows(self) -> tuple[GradeRow, ...]:
        """The grade rows in the order the reps are spoken."""
        return tuple(self.reading.rows if self.note is None else (row.current for row in self.stored))

    @property
    def times(self) -> bool:
        """Whether the times are those of a recording."""
        return self.source.kind != "text"


@dataclass(frozen=True)
class Heard:
    """The words of a note with where they came from.

    settings: what the pass depended on. scorer: asks the sound about wordings; None where there is none
    to ask.
    """

    words: Sequence[Word]
    duration_s: float
    digest: str
    model: str = ""
    settings: Mapping[str, Any] = field(default_factory=dict)
    remarks: tuple[str, ...] = ()
    scorer: KeptScorer | None = None


@dataclass(frozen=True, slots=True)
class HearWith:
    """How to hear a recording; as `reviewer.speech.transcribe.hear` takes them.

    prompt, hotwords: None for what `expect.expected` makes of the note's context; "" for nothing.
    load: makes the recogniser; wordings are then asked of nobody. whisper: makes the real one, which is
    asked about wordings too: for several notes heard by one.
    """

    model: str | Model | None = None
    prompt: str | None = None
    hotwords: str | None = None
    cache: Path | None = None
    allow_broken: bool = False
    load: Loader | None = None
    whisper: Callable[[Model], WhisperRecogniser] | None = None


@dataclass(frozen=True)
class ReadNote:
    """A note heard and read, in no grade book yet. It may go from one process to another."""

    source: NoteSource
    context: NoteContext
    heard: Heard
    reading: Reading


def grade_note(
    source: Path | NoteSource,
    context: NoteContext,
    *,
    library: Library | None,
    reader: Reader | None = None,
    booking: Booking | None = None,
    how: HearWith = HearWith(),
    title: str | None = None,
    keep: bool = False,
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
) -> GradedNote:
    """Hear, read and store one note.

    library: None to store nothing. reader: to read several notes with one. booking: what to keep in
    the grade book beside the note. title: instead of the file's name. keep: copy a recording into the
    library folder.
    Storing is one transaction: a note is there whole or not at all; the same note again changes nothing.
    Raises InputError, ModelError, LibraryError as the steps do, Stopped when `should_stop` said so.
    """
    if not isinstance(source, NoteSource):
        source = open_source(source)
    reader = reader or _reader()
    read = read_source(
        source,
        context,
        reader=reader,
        refused=lambda digest: refused_of(library, digest, context, booking),
        how=how,
        progress=progress,
        should_stop=should_stop,
    )
    if library is None:
        return as_graded(read)
    _tell(progress, "store", 0.0)
    graded = book_note(read, library, booking=booking, title=title, keep=keep)
    _tell(progress, "store", 1.0)
    return graded


def read_source(
    source: NoteSource,
    context: NoteContext,
    *,
    reader: Reader,
    refused: Callable[[str], Refused] | None = None,
    how: HearWith = HearWith(),
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
) -> ReadNote:
    """Hear and read one note, without a grade book. Raises as `grade_note`.

    refused: told the digest of the note's content, the mends that the coach refused in it.
    """
    heard = hear_source(source, _told(how, context), progress=progress, should_stop=should_stop)
    _tell(progress, "read", 0.0)
    known = refused(heard.digest) if refused is not None else frozenset()
    reading = _read(source, heard, context, reader, known)
    _tell(progress, "read", 1.0)
    if should_stop is not None and should_stop():
        raise Stopped(
            f"stopped before {source.name} was stored; what was heard is kept, grade it again to go on"
        )
    return ReadNote(source, context, replace(heard, scorer=None), reading)


def as_graded(read: ReadNote) -> GradedNote:
    """A note that is stored nowhere."""
    heard = read.heard
    remarks = (*heard.remarks, *_marks(read.reading))
    return GradedNote(
        read.source, read.context, read.reading, heard.duration_s, model=heard.model, remarks=remarks
    )


def book_note(
    read: ReadNote,
    library: Library,
    *,
    booking: Booking | None = None,
    title: str | None = None,
    keep: bool = False,
) -> GradedNote:
    """Store a note that was heard and read; see `grade_note`. Raises LibraryError."""
    graded, source = as_graded(read), read.source
    where = source.path
    if keep and source.kind == "audio":
        try:
            where = keep_recording(source.file, read.heard.digest)
        except LibraryError:
            if source.file.exists():
                raise
            # what was said in it is all there is now: it must not be lost with it
            gone = f"{source.name} is gone: it is in the grade book, but cannot be heard again."
            graded = replace(graded, remarks=(*graded.remarks, gone))
    return _store(library, graded, read.heard, booking or Booking(), title or source.title, where)


def _told(how: HearWith, context: NoteContext) -> HearWith:
    told = expected(context)
    return replace(
        how,
        prompt=told.prompt if how.prompt is None else how.prompt,
        hotwords=told.hotwords if how.hotwords is None else how.hotwords,
    )


def read_words(
    words: Sequence[Word], context: NoteContext, reader: Reader | None = None, *, heard: bool = False
) -> Reading:
    """Read words into reps and grade rows; needs neither a recording nor a grade book.

    heard: whether a speech model wrote them; then they are mended by their sound too.
    """
    return (reader or _reader()).read(words, context, heard=heard)


def _read(
    source: NoteSource, heard: Heard, context: NoteContext, reader: Reader, refused: Refused
) -> Reading:
    try:
        return reader.read(
            heard.words, context, heard=source.kind == "audio", refused=refused, scorer=heard.scorer
        )
    finally:
        if heard.scorer is not None:
            heard.scorer.keep()


Refused = frozenset[tuple[str, str]]
"""Mends that the coach refused, as (heard, read)."""


def refused_of(
    library: Library | None, digest: str, context: NoteContext, booking: Booking | None
) -> Refused:
    """What was refused of the note of this content, where it is in the grade book already."""
    if library is None:
        return frozenset()
    from reviewer.store.edit import refused_mends
    from reviewer.store.notes import find_note

    game = booking.known(library) if booking is not None else None
    note = find_note(library, digest, context, game)
    return refused_mends(library, note) if note is not None else frozenset()


def content_digest(source: NoteSource, should_stop: ShouldStop | None = None) -> str:
    """SHA-256 of a note's content, by which the grade book knows it. Raises InputError, Stopped."""
    return source.digest or _digest(source, should_stop)


def hear_source(
    source: NoteSource,
    how: HearWith = HearWith(),
    *,
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
) -> Heard:
    """The words of a note of any kind. Raises as `reviewer.speech.transcribe.hear` and the readers do."""
    if source.kind != "audio":
        words = spoken_words(source)
        return Heard(words, words[-1].end, content_digest(source, should_stop))
    from reviewer.speech.recogniser import WhisperRecogniser
    from reviewer.speech.transcribe import hear

    transcript = hear(
        source.file,
        model=how.model,
        prompt=how.prompt or "",
        hotwords=how.hotwords or "",
        progress=(lambda done, total: progress("hear", done, total)) if progress else None,
        should_stop=should_stop,
        cache=how.cache,
        allow_broken=how.allow_broken,
        load=how.load or how.whisper or WhisperRecogniser,
    )
    return Heard(
        words=transcript.words,
        duration_s=transcript.duration_s,
        digest=transcript.digest,
        model=transcript.model,
        settings={"model_digest": transcript.model_digest, **asdict(transcript.settings)},
        remarks=tuple(_remarks(transcript)),
        scorer=None if how.load else _scorer(source.file, transcript, how, should_stop),
    )


def _scorer(path: Path, transcript: Transcript, how: HearWith, should_stop: ShouldStop | None) -> KeptScorer:
    from reviewer.speech.recogniser import WhisperRecogniser
    from reviewer.speech.score import WordingScorer

    load = how.whisper or WhisperRecogniser
    stem = f"{transcript.digest[:20]}-{transcript.model_digest[:12]}-{transcript.settings.digest()[:12]}"
    kept = (how.cache or paths.transcripts()) / f"{stem}.scores"
    return KeptScorer(
        kept, lambda: WordingScorer(path, transcript.words, model=how.model, load=load), should_stop
    )


def _digest(source: NoteSource, should_stop: ShouldStop | None) -> str:
    from reviewer.speech.decode import digest

    return digest(source.file, should_stop=should_stop)


_GAP_WORDS: Mapping[str, str] = {
    "not heard": "there is a voice, but no words came of it",
    "invented": "words were written where nobody speaks, and left out",
    "repeated": "the same words were written over and over, and left out",
    "damaged": "the recording is damaged there",
}


def _remarks(transcript: Transcript) -> list[str]:
    from reviewer.speech.decode import clock

    said = [transcript.language_note] if transcript.language_note else []
    for gap in transcript.gaps:
        heard = f' ("{gap.heard}")' if gap.heard else ""
        said.append(f"{clock(gap.start)} to {clock(gap.end)}: {_GAP_WORDS[gap.reason]}{heard}.")
    return said


def _marks(reading: Reading) -> list[str]:
    from reviewer.speech.decode import clock

    return [f"{clock(mark['start'])}: marked as you said." for mark in reading.remarks.get("marks", ())]


def _store(
    library: Library, graded: GradedNote, heard: Heard, booking: Booking, title: str, where: Path | None
) -> GradedNote:
    from reviewer.store.notes import NewNote, add_note, current_rows, same_content

    reading = graded.reading
    remarks = {**reading.remarks, **({"hearing": list(heard.remarks)} if heard.remarks else {})}
    kept = Reading(reading.words, reading.mends, reading.reps, reading.rows, remarks)
    with library.writing():
        new = NewNote(
            digest=heard.digest,
            kind=graded.source.kind,
            duration_s=heard.duration_s,
            context=graded.context,
            title=title,
            source=str(where.absolute()) if where else None,
            game_id=booking.save(library),
            model=heard.model,
            settings=heard.settings,
        )
        note = add_note(library, new, kept)
        rows = tuple(current_rows(library, note))
        same = same_content(library, heard.digest)
    slug = same.pop(note)
    return replace(graded, reading=kept, note=note, slug=slug, stored=rows, others=tuple(same.values()))


def _reader() -> Reader:
    from reviewer.language.read import Reader

    return Reader.load()


def _tell(progress: Progress | None, stage: Stage, done: float) -> None:
    if progress is not None:
        progress(stage, done, 1.0)
