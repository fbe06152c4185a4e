"""One engine that hears recordings, in a process of its own: `python -m benchmarks._engines NAME FILE…`.

Prints one JSON object: seconds and processor seconds of hearing without those of loading, and the words.
"""

from __future__ import annotations

import importlib.util
import json
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

Ears = Callable[[Path], list[str]]


def ours(model: str | None = None) -> Ears:
    """Reviewer: told what to expect, with every check of what was heard, nothing kept from before."""
    from reviewer.compare.annotated import load_note
    from reviewer.pipeline.expect import expected
    from reviewer.speech.models import find_model
    from reviewer.speech.recogniser import WhisperRecogniser
    from reviewer.speech.transcribe import hear
    from tests.spoken import annotation

    found = find_model(model)
    whisper = WhisperRecogniser(found)

    def ears(path: Path) -> list[str]:
        told = expected(load_note(annotation(path)).context)
        with tempfile.TemporaryDirectory() as cache:
            heard = hear(
                path, model=found, prompt=told.prompt, hotwords=told.hotwords, cache=Path(cache),
                load=lambda _: whisper,
            )  # fmt: skip
        return [word.text for word in heard.words]

    return ears


def plain() -> Ears:
    """faster-whisper as it comes, with the same model at the same precision and word times."""
    from faster_whisper import WhisperModel

    from reviewer.speech.models import find_model

    model = WhisperModel(str(find_model().path), device="cpu", compute_type="int8", local_files_only=True)

    def ears(path: Path) -> list[str]:
        segments, _ = model.transcribe(str(path), language="en", word_timestamps=True)
        return [word.word.strip() for segment in segments for word in segment.words]

    return ears


def pocketsphinx() -> Ears:
    """PocketSphinx with the English model that comes in its package, half a minute at a time."""
    from pocketsphinx import Decoder

    from reviewer.speech import activity, decode

    decoder = Decoder(samprate=decode.RATE, loglevel="FATAL")

    def spoken(path: Path) -> Iterator[str]:
        for chunk in activity.chunks(decode.Recording(path).blocks(), most_s=29.0):
            decoder.start_utt()
            decoder.process_raw((32767 * chunk.audio).astype("<i2").tobytes(), full_utt=True)
            decoder.end_utt()
            if (found := decoder.hyp()) is not None:
                yield from found.hypstr.split()

    return lambda path: list(spoken(path))


ENGINES: dict[str, tuple[str, Callable[[], Ears]]] = {
    "here": ("faster_whisper", ours),
    "here, tiny.en": ("faster_whisper", lambda: ours("tiny.en")),
    "plain faster-whisper": ("faster_whisper", plain),
    "PocketSphinx": ("pocketsphinx", pocketsphinx),
}
"""Name to the module that it needs, and how it is made."""


def installed(name: str) -> bool:
    """Whether an engine can be measured here."""
    return importlib.util.find_spec(ENGINES[name][0]) is not None


def main(name: str, *files: str) -> dict[str, Any]:
    """Hear the files."""
    ears = ENGINES[name][1]()
    began, cpu = time.perf_counter(), time.process_time()
    words = {file: ears(Path(file)) for file in files}
    return {"wall_s": time.perf_counter() - began, "cpu_s": time.process_time() - cpu, "words": words}


if __name__ == "__main__":
    json.dump(main(*sys.argv[1:]), sys.stdout)
