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
    """Writes one word for each loud stretch: "t" and its length in tenths of a second."""

    def __init__(self) -> None:
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
            word = Word(f"t{round(stretch.length * 10)}", stretch.start, stretch.end, 0.9)
            yield Segment((word,))

    def language(self, audio: Audio) -> tuple[str, float]:
        return "en", 0.99
