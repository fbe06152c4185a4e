"""What each choice for speed gave, measured with and without it: `python -m benchmarks choices`.

On a minute and a half of the terse demo recording, with the model base. Both sides are measured in turn in
one process (or in fresh ones where loading is the subject), the least of several; the ratio is what is
needed with the choice to what is needed without it. Side by side and threads are measured by the clock, so
that a busy machine blurs them; the rest are processor seconds.
"""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any
from unittest.mock import patch

import click
import numpy as np

from benchmarks._figures import Figure, as_text
from benchmarks.start import _OURS, least
from reviewer import paths
from reviewer.speech import activity, decode
from reviewer.speech.activity import Packed
from reviewer.speech.decode import RATE
from reviewer.speech.models import Model, find_model

if TYPE_CHECKING:
    from reviewer.speech.decode import Audio

SECONDS = 87.0
TIMES = 2
_WINDOW = 29 * RATE
WORDINGS = ("T-E stunt", "E-T stunt", "T-East on", "at the east hunt", "twist")

_EVERYTHING = (
    "import sys, spacy, faster_whisper, textual.app, scipy.stats, av, sqlite_utils, openpyxl, xlsxwriter; "
) + _OURS.removeprefix("import sys; ")


def measure(seconds: float = SECONDS, times: int = TIMES) -> list[Figure]:
    """A figure for each choice; "others" is the same without it."""
    sound = decode.span(paths.demo_audio() / "terse-coach.ogg", 0.0, seconds)
    with tempfile.TemporaryDirectory() as home, patch.dict(os.environ, {paths.HOME_VARIABLE: home}):
        model = find_model()
        return [
            _voice(model, sound, times),
            _batching(model, sound, times),
            _side_by_side(model, sound, times),
            _threads(model, sound, times),
            _int8(model, sound, times),
            *_scoring(model, times),
            _imports(home),
        ]


def needed(
    one: Callable[[], Any], two: Callable[[], Any], times: int, clock: Callable[[], float]
) -> list[float]:
    """The least that each needed, measured in turn; the first round is for warming up."""
    taken: tuple[list[float], list[float]] = ([], [])
    for turn in range(times + 1):
        for run, found in zip((one, two), taken, strict=True):
            began = clock()
            run()
            if turn:
                found.append(clock() - began)
    return [min(found) for found in taken]


def _figure(what: str, unit: str, with_it: float, without: str, needed_s: float) -> Figure:
    return Figure(what, with_it, unit, ((without, needed_s),))


def _whisper(model: Model, threads: int = 1, workers: int = 1, compute: str = "int8") -> Any:
    from faster_whisper import WhisperModel

    return WhisperModel(
        str(model.path), device="cpu", compute_type=compute, cpu_threads=threads, num_workers=workers,
        local_files_only=True,
    )  # fmt: skip


def _transcribe(whisper: Any, sound: Audio, batch: int) -> int:
    """Hear half-minute windows, so many at once; how many words came."""
    from faster_whisper import BatchedInferencePipeline

    # cut by length alone: looking for pauses has a cost of its own
    ends = [*range(_WINDOW, len(sound), _WINDOW), len(sound)]
    windows = [{"start": (end - 1) // _WINDOW * _WINDOW / RATE, "end": end / RATE} for end in ends]
    segments, _ = BatchedInferencePipeline(whisper).transcribe(
        sound,
        language="en",
        word_timestamps=True,
        clip_timestamps=windows,
        vad_filter=False,
        batch_size=batch,
    )
    return sum(len(segment.words) for segment in segments)


def _packed(sound: Audio) -> Audio:
    """The sound without its long silences, as the passes hear it."""
    return np.concatenate(
        [
            Packed(chunk.audio, activity.padded(chunk.voice, len(chunk.audio) / RATE)).audio
            for chunk in activity.chunks([sound])
        ]
    )


def _voice(model: Model, sound: Audio, times: int) -> Figure:
    whisper = _whisper(model)
    with_it, without = needed(
        lambda: _transcribe(whisper, _packed(sound), 2), lambda: _transcribe(whisper, sound, 2), times,
        time.process_time,
    )  # fmt: skip
    return _figure("voice activity: silences are cut out", "s CPU", with_it, "with its silences", without)


def _batching(model: Model, sound: Audio, times: int) -> Figure:
    whisper = _whisper(model)
    with_it, without = needed(
        lambda: _transcribe(whisper, sound, 2), lambda: _transcribe(whisper, sound, 1), times,
        time.process_time,
    )  # fmt: skip
    return _figure("batching: two windows at once", "s CPU", with_it, "one at a time", without)


def _halves(whisper: Any, sound: Audio) -> None:
    """Both halves of the sound at the same time."""
    middle = len(sound) // 2
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(lambda half: _transcribe(whisper, half, 2), (sound[:middle], sound[middle:])))


def _one_by_one(whisper: Any, sound: Audio) -> None:
    middle = len(sound) // 2
    for half in (sound[:middle], sound[middle:]):
        _transcribe(whisper, half, 2)


def _side_by_side(model: Model, sound: Audio, times: int) -> Figure:
    two, one = _whisper(model, 1, 2), _whisper(model, 2, 1)
    with_it, without = needed(
        lambda: _halves(two, sound), lambda: _one_by_one(one, sound), times, time.perf_counter
    )
    what = "side by side: two stretches on a thread each"
    return _figure(what, "s", with_it, "one after another on two threads", without)


def _threads(model: Model, sound: Audio, times: int) -> Figure:
    two, one = _whisper(model, 2), _whisper(model, 1)
    with_it, without = needed(
        lambda: _transcribe(two, sound, 2), lambda: _transcribe(one, sound, 2), times, time.perf_counter
    )
    return _figure("threads: one stretch on two threads", "s", with_it, "on one thread", without)


def _int8(model: Model, sound: Audio, times: int) -> Figure:
    eight, full = _whisper(model), _whisper(model, compute="float32")
    with_it, without = needed(
        lambda: _transcribe(eight, sound, 2), lambda: _transcribe(full, sound, 2), times, time.process_time
    )
    return _figure("int8 weights", "s CPU", with_it, "float32", without)


def _scoring(model: Model, times: int) -> list[Figure]:
    """Five wordings of one phrase: encoded once, at its own length."""
    from reviewer.records import Word
    from reviewer.speech.recogniser import WhisperRecogniser
    from reviewer.speech.score import WordingScorer

    path = paths.demo_audio() / "terse-coach.ogg"
    words = [Word(f"word{n}", 16.0 + n / 2, 16.5 + n / 2) for n in range(16)]
    whisper = WhisperRecogniser(model, threads=1, workers=1)

    def asked(once: bool, padded: bool = False) -> None:
        scorer = WordingScorer(path, words, load=lambda _: whisper, model=model)
        encode = scorer._encode
        if padded:
            scorer._encode = lambda start, end, *, padded: encode(start, end, padded=True)  # type: ignore[method-assign]
        for wording in WORDINGS:
            scorer.score(19.0, 20.0, [wording])
            if not once:
                scorer._encoded.clear()

    once, each = needed(lambda: asked(True), lambda: asked(False), times, time.process_time)
    short, padded = needed(lambda: asked(True), lambda: asked(True, True), times, time.process_time)
    return [
        _figure("encoder output kept: five wordings of a phrase", "s CPU", once, "encoded for each", each),
        _figure("a phrase encoded at its length", "s CPU", short, "padded to half a minute", padded),
    ]


def _imports(home: str) -> Figure:
    env = {paths.HOME_VARIABLE: home}
    with_it, without = (least((program, "--help"), 3, env) for program in (_OURS, _EVERYTHING))
    return _figure("lazy imports: `reviewer --help`", "s CPU", with_it, "everything imported", without)


@click.command()
def main() -> None:
    """Print the figures."""
    click.echo(as_text(measure()))


if __name__ == "__main__":
    main()
