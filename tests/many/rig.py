"""Recordings of one tone each, and a recogniser that goes to other processes and knows what each means.

The tone's length tells: `SPOKEN` is a rep that is won, `DEADLY` ends the process that hears it, `ONCE` does
so as long as the marker file is there.
"""

from __future__ import annotations

import os
import signal
import wave
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from reviewer.pipeline import HearWith
from reviewer.records import NoteContext, Word
from reviewer.speech import activity
from reviewer.speech.decode import RATE
from reviewer.speech.models import Model
from reviewer.speech.recogniser import Segment
from tests.speech.fakes import MODEL, loud
from tests.speech.sounds import Audio

CONTEXT = NoteContext(player="74", position="RT")
TALK = "First and ten, inside zone. He reaches ninety-one and seals him. That's a win."

SPOKEN, DEADLY, ONCE = 5.0, 2.0, 3.0


@dataclass
class FakeTalk:
    """Hears `TALK` in every recording. marker: see above."""

    marker: Path
    workers: int = 1

    def __post_init__(self) -> None:
        # made anew wherever it arrives: voices are found by loudness there too
        activity.voiced = loud

    def __reduce__(self) -> Any:
        return FakeTalk, (self.marker,)

    def __call__(self, model: Model) -> FakeTalk:
        return self

    def hear(self, audio: Audio, *, prompt: str = "", hotwords: str = "", beam: int = 5) -> Iterator[Segment]:
        (stretch,) = loud(audio)
        if abs(stretch.length - DEADLY) < 0.3:
            os.kill(os.getpid(), signal.SIGKILL)
        if abs(stretch.length - ONCE) < 0.3 and self.marker.exists():
            self.marker.unlink()
            os.kill(os.getpid(), signal.SIGKILL)
        words = TALK.split()
        step = stretch.length / len(words)
        starts = [stretch.start + n * step for n in range(len(words))]
        yield Segment(tuple(Word(word, at, at + step, 0.9) for word, at in zip(words, starts, strict=True)))

    def language(self, audio: Audio) -> tuple[str, float]:
        return "en", 0.99


def how(folder: Path) -> HearWith:
    """Hear with the fake."""
    return HearWith(model=MODEL, load=FakeTalk(folder / "marker"))


def recording(path: Path, number: int, seconds: float = SPOKEN) -> Path:
    """A tone in silence; every number gives another file."""
    tone = 0.5 * np.sin(2 * np.pi * (200 + number) * np.arange(round(seconds * RATE)) / RATE)
    sound = np.concatenate([np.zeros(RATE // 4), tone, np.zeros(RATE // 4)])
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        out.writeframes((32767 * sound).astype("<i2").tobytes())
    return path


def recordings(folder: Path, count: int) -> list[Path]:
    """So many recordings, by name."""
    folder.mkdir(exist_ok=True)
    return [recording(folder / f"note {number:03}.wav", number) for number in range(count)]


def captions(folder: Path, count: int) -> list[Path]:
    """So many captions, each of one rep."""
    folder.mkdir(exist_ok=True)
    made = []
    for number in range(count):
        path = folder / f"talk {number:03}.vtt"
        start, end = f"00:{number // 60:02}:{number % 60:02}.000", "00:09:59.000"
        path.write_text(f"WEBVTT\n\n{start} --> {end}\n{TALK}\n", "utf-8")
        made.append(path)
    return made
