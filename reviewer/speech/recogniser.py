"""The speech model behind a small interface: sound in, words with times out.

`Recogniser` is what a pass over a recording needs; `WhisperRecogniser` is the real one and tests
use a fake. Positions are seconds from the start of the array that was given.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

from reviewer.errors import ModelError
from reviewer.records import Word
from reviewer.speech import activity
from reviewer.speech.decode import RATE
from reviewer.speech.models import Model

if TYPE_CHECKING:
    from reviewer.speech.decode import Audio

_ENGLISH = "en"
_MOST_THREADS = 8
_PROMPT_TOKENS = 200
"""Prompt and hotwords together. The decoder holds 448 tokens; the library lets each of the two
take 223, which leaves none for the words that are spoken and loses them without a word."""


_WINDOW_S = 29.0  # the model hears half a minute; a rounded edge must not fall outside
_AT_ONCE = 2  # windows; more are hardly faster, and a stop has to wait for them


@dataclass(frozen=True, slots=True)
class Segment:
    """A few seconds of talk as the model wrote it.

    words: with times. logprob: mean log-probability of the tokens of its window. silence: the
    model's own probability that nobody speaks. repetition: how well the text compresses (zlib);
    talk stays under about 2.4, a loop goes far over.
    """

    words: tuple[Word, ...]
    logprob: float = 0.0
    silence: float = 0.0
    repetition: float = 1.0


class Recogniser(Protocol):
    """Hears a stretch of sound."""

    def hear(self, audio: Audio, *, prompt: str = "", hotwords: str = "", beam: int = 5) -> Iterator[Segment]:
        """Segments in order, each as soon as it is there. audio: 16 kHz mono."""
        ...

    def language(self, audio: Audio) -> tuple[str, float]:
        """The language that the sound is most like (ISO 639-1) and its probability."""
        ...


Loader = Callable[[Model], Recogniser]
"""Makes the recogniser of a model; called only when something must really be heard."""


class WhisperRecogniser:
    """Whisper through faster-whisper: int8 on the processor, or a graphics card where there is one."""

    def __init__(self, model: Model, *, threads: int = 0, workers: int = 0) -> None:
        """threads: processor threads a worker. workers: how many calls to `hear` run side by side.

        By default all processors (at most eight) go to two workers: two on one thread each are
        faster than one on two. With threads given, one worker. Raises ModelError where the files
        cannot be loaded.
        """
        processors = usable_processors()
        self.model = model
        self.workers = workers or (1 if threads else min(2, processors))
        self._inner = _load(model, threads or max(1, processors // self.workers), self.workers)

    def hear(self, audio: Audio, *, prompt: str = "", hotwords: str = "", beam: int = 5) -> Iterator[Segment]:
        """See `Recogniser.hear`.

        The sound is cut in pauses into windows of at most half a minute, each heard by itself and
        under the prompt. Against one window after another, each told what the last one wrote: the
        same or fewer errors, a sixth less time, more of the full stops, and no drift into loops or
        endless sentences.
        """
        from faster_whisper import BatchedInferencePipeline

        windows = list(_windows(audio))
        if not windows:
            return
        prompt, hotwords = self._fit(prompt, hotwords)
        found, _ = BatchedInferencePipeline(self._inner).transcribe(
            audio,
            language=_ENGLISH,
            beam_size=beam,
            word_timestamps=True,
            initial_prompt=f" {prompt}" if prompt else None,
            hotwords=hotwords or None,
            clip_timestamps=windows,
            vad_filter=False,
            batch_size=_AT_ONCE,
        )
        for segment in found:
            yield Segment(
                tuple(_words(segment.words or ())),
                segment.avg_logprob,
                segment.no_speech_prob,
                segment.compression_ratio,
            )

    def language(self, audio: Audio) -> tuple[str, float]:
        """See `Recogniser.language`. An English-only model always answers English."""
        if not self._inner.model.is_multilingual:
            return _ENGLISH, 1.0
        code, probability, _ = self._inner.detect_language(audio)
        return code, float(probability)

    @property
    def whisper(self) -> Any:
        """The faster-whisper model, for `reviewer.speech.score`."""
        return self._inner

    def _fit(self, prompt: str, hotwords: str) -> tuple[str, str]:
        """Cut the hotwords, then the prompt, to what the decoder can hold beside the talk."""
        room = _PROMPT_TOKENS
        encode = self._inner.hf_tokenizer.encode
        kept: list[str] = []
        for text in (prompt, hotwords):
            tokens = encode(text.strip(), add_special_tokens=False).ids if text.strip() else []
            kept.append(self._inner.hf_tokenizer.decode(tokens[:room]) if len(tokens) > room else text)
            room -= min(room, len(tokens))
        return kept[0], kept[1]


def usable_processors() -> int:
    """Processors that this process may use, at most eight: more do not make the model faster."""
    try:
        count = len(os.sched_getaffinity(0))
    except AttributeError:  # only Linux has it
        count = os.cpu_count() or 1
    return max(1, min(_MOST_THREADS, count))


def _windows(audio: Audio) -> Iterator[dict[str, float]]:
    """Start and end, in seconds, of windows that cover the sound."""
    if len(audio) <= _WINDOW_S * RATE:
        if len(audio):
            yield {"start": 0.0, "end": len(audio) / RATE}
        return
    for chunk in activity.chunks([audio], most_s=_WINDOW_S):
        yield {"start": chunk.start, "end": chunk.end}


def _load(model: Model, threads: int, workers: int) -> Any:
    import ctranslate2
    import numpy as np
    from faster_whisper import WhisperModel

    def load(device: str, compute_type: str) -> Any:
        return WhisperModel(
            str(model.path),
            device=device,
            compute_type=compute_type,
            cpu_threads=threads,
            num_workers=workers,
            local_files_only=True,
        )

    if ctranslate2.get_cuda_device_count():
        try:
            found = load("cuda", "int8_float16")
            # its libraries are looked for at the first use only
            found.encode(found.feature_extractor(np.zeros(1600, np.float32))[:, :100])
            return found
        except (RuntimeError, ValueError):
            pass  # a card without its libraries: the processor does it too
    try:
        return load("cpu", "int8")
    except (RuntimeError, ValueError, OSError) as error:
        raise ModelError(
            f"the speech model in {model.path} cannot be loaded ({error}); name another model"
        ) from error


def _words(found: Any) -> Iterator[Word]:
    """The model's pieces as words; a piece without a space before it belongs to the word before.

    So does one that begins with a hyphen: the model writes "ninety -seven".
    """
    held: Word | None = None
    for piece in found:
        text = piece.word.strip()
        if not text:
            continue
        probability = float(piece.probability)
        joined = not piece.word.startswith(" ") or (text[0] == "-" and text[1:2].isalnum())
        if held is not None and joined:
            held = Word(held.text + text, held.start, float(piece.end), min(held.probability, probability))
            continue
        if held is not None:
            yield held
        held = Word(text, float(piece.start), float(piece.end), probability)
    if held is not None:
        yield held
