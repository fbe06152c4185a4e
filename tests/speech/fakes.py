"""A recogniser that hears tones: quick, and it counts how often it was asked."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from reviewer.records import Word
from reviewer.speech.activity import Stretch
from reviewer.speech.decode import RATE
from reviewer.speech.models import Model
from reviewer.speech.recogniser import Segment

from .sounds import Audio

MODEL = Model("fake", Path("fake"), "0" * 64)


def loud(audio: Audio) -> tuple[Stretch, ...]:
    """Stretches over -40 dBFS, to the twentieth of a second: the fake's voice activity."""
    frame = RATE // 20
    frames = np.pad(audio, (0, -len(audio) % frame)).reshape(-1, frame)
    on = np.concatenate([[False], np.abs(frames).max(axis=1) > 0.01, [False]])
    edges = np.flatnonzero(np.diff(on.astype(int))).tolist()
    end = len(audio) / RATE
    return tuple(
        Stretch(first * frame / RATE, min(last * frame / RATE, end))
        for first, last in zip(edges[::2], edges[1::2], strict=True)
    )


class FakeEars:
    """Writes a word for each half second of a loud stretch; the first tells its length.

    "t13" is a stretch of 1.3 seconds; the words after it are "t13.1", "t13.2".
    """

    def __init__(self) -> None:
        self.workers = 1
        self.loaded = 0
        self.seconds: list[float] = []
        self.prompts: list[str] = []

    def __call__(self, model: Model) -> FakeEars:
        self.loaded += 1
        return self

    def hear(self, audio: Audio, *, prompt: str = "", hotwords: str = "", beam: int = 5) -> Iterator[Segment]:
        self.seconds.append(len(audio) / RATE)
        self.prompts.append(prompt)
        for stretch in loud(audio):
            name = f"t{round(stretch.length * 10)}"
            starts = np.arange(stretch.start, stretch.end - 0.05, 0.5).tolist()
            yield Segment(
                tuple(
                    Word(f"{name}.{n}" if n else name, at, min(at + 0.5, stretch.end), 0.9)
                    for n, at in enumerate(starts)
                )
            )

    def language(self, audio: Audio) -> tuple[str, float]:
        return "en", 0.99
