"""Hear a recording: the pass over its chunks, kept as it goes, stopped and resumed at will."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from reviewer.errors import InputError, Stopped
from reviewer.records import Word
from reviewer.speech import activity, decode
from reviewer.speech.activity import Chunk, Packed
from reviewer.speech.kept import Done, Keeper
from reviewer.speech.listen import listen
from reviewer.speech.models import Model, find_model
from reviewer.speech.recogniser import Loader, Recogniser, WhisperRecogniser
from reviewer.speech.transcript import Gap, Settings, Transcript

if TYPE_CHECKING:
    from reviewer.speech.decode import Audio

Progress = Callable[[float, float], None]
"""Called with seconds done and seconds in all."""

ShouldStop = Callable[[], bool]
"""Asked often; a true answer ends the pass, which can be gone on with later."""

SILENT_PEAK = 10 ** (-60 / 20)
"""A recording that never gets louder than -60 dBFS holds no talk that could be heard."""

_FOREIGN = 0.6  # below this the detector's word for another language is not worth repeating


def hear(
    path: Path,
    *,
    model: str | Model | None = None,
    prompt: str = "",
    hotwords: str = "",
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
    cache: Path | None = None,
    allow_broken: bool = False,
    load: Loader = WhisperRecogniser,
) -> Transcript:
    """Transcribe a recording once and keep the result.

    path: any audio or video file. model: as `find_model` takes it, or what it gave.
    prompt, hotwords: words to expect; the model is not bound by them.
    progress: called with seconds done and in all. should_stop: ends the pass when it says so.
    cache: folder for the kept transcripts, the library's own by default.
    allow_broken: take what there is of a file that was cut off.
    load: makes the recogniser; it is not called when the transcript is already kept.

    Raises InputError for a file that cannot be used or holds no talk, ModelError for the model,
    LibraryError where the result cannot be kept, Stopped when `should_stop` said so: what was
    done by then is kept, and the next call goes on from there.
    """
    path = Path(path)
    digest = decode.digest(path, should_stop=should_stop)
    found = model if isinstance(model, Model) else find_model(model)
    settings = Settings(prompt=prompt.strip(), hotwords=hotwords.strip())
    keeper = Keeper(digest, found.digest, settings, cache)
    transcript = keeper.finished()
    if transcript is None:
        measured = decode.measure(path)
        if not allow_broken:
            decode.refuse_cut_off(path, measured)
        one_pass = _Pass(path, measured.duration_s, keeper, found, settings, load)
        chunks = one_pass.run(progress, should_stop)
        _refuse_silence(path, chunks)
        transcript = _joined(chunks, digest, found, settings, measured.duration_s)
        keeper.finish(transcript)
    elif progress is not None:
        progress(transcript.duration_s, transcript.duration_s)
    if not transcript.words:
        raise InputError(
            f"no words could be made out in {path.name}, only noise, music or a far-off voice; "
            f"record closer to the microphone"
        )
    return transcript


class _Pass:
    """One pass over a recording, from where the last one stopped."""

    def __init__(
        self,
        path: Path,
        duration_s: float,
        keeper: Keeper,
        model: Model,
        settings: Settings,
        load: Loader,
    ) -> None:
        self._path = path
        self._duration_s = duration_s
        self._keeper = keeper
        self._model = model
        self._settings = settings
        self._load = load
        self._recogniser: Recogniser | None = None
        self._told_s = 0.0

    def run(self, progress: Progress | None, should_stop: ShouldStop | None) -> list[Done]:
        """Hear what is not heard yet. Every chunk of the recording, in order."""
        done = self._keeper.chunks()
        recording = decode.Recording(self._path)
        at = done[-1].last if done else 0
        self._tell(progress, at / decode.RATE)
        for chunk in activity.chunks(recording.blocks(), skip_samples=at):
            heard = self._hear(chunk, done, recording, progress, should_stop)
            self._keeper.add(heard)
            done.append(heard)
            self._tell(progress, chunk.end)
        return done

    def _tell(self, progress: Progress | None, seconds: float) -> None:
        # hearing something again goes back; a progress bar must not
        self._told_s = min(max(seconds, self._told_s), self._duration_s)
        if progress is not None:
            progress(self._told_s, self._duration_s)

    def _hear(
        self,
        chunk: Chunk,
        before: list[Done],
        recording: decode.Recording,
        progress: Progress | None,
        should_stop: ShouldStop | None,
    ) -> Done:
        import numpy as np

        def tick(seconds: float) -> None:
            self._tell(progress, chunk.start + seconds)
            self._check(should_stop)

        first = round(chunk.start * decode.RATE)
        words: list[Word] = []
        gaps: list[Gap] = []
        note = ""
        self._check(should_stop)
        if chunk.voice:
            if not any(done.voice_s for done in before):
                note = language_note(self._ears().language(_voice_only(chunk)))
            words, gaps = listen(chunk, self._ears(), self._settings, prompt=self._settings.prompt, tick=tick)
        return Done(
            first=first,
            last=first + len(chunk.audio),
            words=tuple(_word_at(word, chunk.start) for word in words),
            gaps=(*(_gap_at(gap, chunk.start) for gap in gaps), *_damaged(recording.holes, chunk)),
            peak=float(np.abs(chunk.audio).max()),
            voice_s=sum(stretch.length for stretch in chunk.voice),
            language_note=note,
        )

    def _ears(self) -> Recogniser:
        if self._recogniser is None:
            self._recogniser = self._load(self._model)
        return self._recogniser

    def _check(self, should_stop: ShouldStop | None) -> None:
        if should_stop is not None and should_stop():
            raise Stopped(
                f"stopped while hearing {self._path.name}; what was heard is kept, hear it again to go on"
            )


def language_note(found: tuple[str, float]) -> str:
    """One sentence when talk sounds like another language than English, else ""."""
    code, probability = found
    if code == "en" or probability < _FOREIGN:
        return ""
    return f"The talk sounds like another language ({code}, {probability:.0%}); it was heard as English."


def _voice_only(chunk: Chunk) -> Audio:
    return Packed(chunk.audio, activity.padded(chunk.voice, len(chunk.audio) / decode.RATE)).audio


def _word_at(word: Word, offset_s: float) -> Word:
    start, end = round(word.start + offset_s, 2), round(word.end + offset_s, 2)
    return Word(word.text, start, end, round(word.probability, 4))


def _gap_at(gap: Gap, offset_s: float) -> Gap:
    return Gap(round(gap.start + offset_s, 2), round(gap.end + offset_s, 2), gap.reason, gap.heard)


def _damaged(holes: list[tuple[float, float]], chunk: Chunk) -> tuple[Gap, ...]:
    """The holes that begin in this chunk."""
    return tuple(
        Gap(round(start, 2), round(end, 2), "damaged")
        for start, end in holes
        if chunk.start <= start < chunk.end
    )


def _refuse_silence(path: Path, chunks: list[Done]) -> None:
    peak = max((chunk.peak for chunk in chunks), default=0.0)
    if peak < SILENT_PEAK:
        raise InputError(f"{path.name} is silent from start to end; check the microphone and record again")
    if not any(chunk.voice_s for chunk in chunks):
        raise InputError(
            f"{path.name} holds sound but no talk, only noise or music; give the recording of the talk"
        )


def _joined(
    chunks: list[Done], digest: str, model: Model, settings: Settings, duration_s: float
) -> Transcript:
    return Transcript(
        words=tuple(word for chunk in chunks for word in chunk.words),
        duration_s=round(max(duration_s, chunks[-1].last / decode.RATE), 3),
        digest=digest,
        model=model.name,
        model_digest=model.digest,
        settings=settings,
        language_note=next((c.language_note for c in chunks if c.language_note), ""),
        gaps=tuple(gap for chunk in chunks for gap in chunk.gaps),
    )
