"""Hear a recording once, and keep what was heard."""

from __future__ import annotations

from pathlib import Path

from reviewer.errors import InputError
from reviewer.speech import decode
from reviewer.speech.kept import Done, Keeper
from reviewer.speech.models import Model, find_model
from reviewer.speech.passes import Pass, Progress, ShouldStop
from reviewer.speech.recogniser import Loader, WhisperRecogniser
from reviewer.speech.shipped import SHIPPED
from reviewer.speech.transcript import Settings, Transcript

SILENT_PEAK = 10 ** (-60 / 20)
"""A recording that never gets louder than -60 dBFS holds no talk that could be heard."""

_MAY_LACK_S = 2.0
"""Containers tell the length of their sound only about so well."""

_HOPELESS = 8.0
"""Seconds not heard for each second heard. Played backwards, talk gave 11, six voices at once 12."""


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
    prompt: talk of the kind to be heard, as if said before: names first, then a few sentences of
    the trade. hotwords: words to expect. Both go to every half minute; neither is given to a model
    that drops speech when prompted (tiny.en).
    progress: called with seconds done and in all. should_stop: asked every fifth of a second; ends
    the pass when it says so. Both are called in the caller's thread only.
    cache: folder for the kept transcripts, the library's own by default.
    allow_broken: take what there is of a file that was cut off.
    load: makes the recogniser; it is not called when the transcript is already kept.

    Raises InputError for a file that cannot be used or holds no talk, ModelError for the model,
    LibraryError where the result cannot be kept, Stopped when `should_stop` said so: what was
    done by then is kept, and the next call goes on from there.
    """
    path = Path(path)
    before = _signature(path)
    digest = decode.digest(path, should_stop=should_stop)
    found = model if isinstance(model, Model) else find_model(model)
    settings = Settings()
    if found.name not in SHIPPED or SHIPPED[found.name].takes_prompt:
        settings = Settings(prompt=prompt.strip(), hotwords=hotwords.strip())
    keeper = Keeper(digest, found.digest, settings, cache)
    transcript = keeper.finished()
    if transcript is None:
        measured = decode.measure(path)
        if not allow_broken:
            decode.refuse_cut_off(path, measured)
        one_pass = Pass(path, measured.duration_s, keeper, found, settings, load)
        chunks = one_pass.run(progress, should_stop)
        _refuse_changed(path, before, short=chunks[-1].last / decode.RATE < measured.duration_s - _MAY_LACK_S)
        _refuse_silence(path, chunks)
        transcript = _joined(chunks, digest, found, settings, measured.duration_s)
        keeper.finish(transcript)
    elif progress is not None:
        progress(transcript.duration_s, transcript.duration_s)
    _refuse_no_talk(path, transcript)
    return transcript


def _signature(path: Path) -> tuple[int, int] | None:
    try:
        stat = path.stat()
    except OSError:
        return None
    return stat.st_size, stat.st_mtime_ns


def _refuse_changed(path: Path, before: tuple[int, int] | None, *, short: bool) -> None:
    """What was heard of a file that another program changed meanwhile must not be kept as all of it.

    One that was taken away was read to its end, unless what was heard is too short.
    """
    now = _signature(path)
    if now == before or (now is None and not short):
        return
    raise InputError(
        f"{path.name} was changed or taken away while it was heard; hear it again when it is whole"
    )


def _refuse_silence(path: Path, chunks: list[Done]) -> None:
    peak = max((chunk.peak for chunk in chunks), default=0.0)
    if peak < SILENT_PEAK:
        raise InputError(f"{path.name} is silent from start to end; check the microphone and record again")
    if not any(chunk.voice_s for chunk in chunks):
        raise InputError(
            f"{path.name} holds sound but no talk, only noise or music; give the recording of the talk"
        )


def _refuse_no_talk(path: Path, transcript: Transcript) -> None:
    """A few words amid long stretches that could not be heard are chance hits on noise or music."""
    heard_s = sum(word.end - word.start for word in transcript.words)
    unheard_s = sum(gap.end - gap.start for gap in transcript.gaps if gap.reason != "damaged")
    if not transcript.words or unheard_s > _HOPELESS * heard_s:
        raise InputError(
            f"no talk could be made out in {path.name}, only noise, music or a far-off voice; "
            f"record closer to the microphone"
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
