"""Hear a recording of so many minutes with a fake recogniser and print the peak of memory in MB.

`python -m tests.speech.hour MINUTES FOLDER`: a program of its own, for memory is measured by process.
"""

from __future__ import annotations

import resource
import sys
import wave
from pathlib import Path

import numpy as np

from reviewer.speech.decode import RATE
from reviewer.speech.transcribe import hear

from .fakes import MODEL, FakeEars, loud
from .sounds import tones


def record(path: Path, minutes: int) -> Path:
    """Ten seconds of sound and silence again and again, written piece by piece."""
    piece = tones((3.0, 0.5), (1.5, 0.0), (4.0, 0.4), (1.5, 0.0))
    frames = (piece * 32767).astype(np.int16).tobytes()
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        for _ in range(minutes * 6):
            file.writeframes(frames)
    return path


def main() -> None:
    from reviewer.speech import activity

    activity.voiced = loud  # the detector knows voices, not tones
    minutes, folder = int(sys.argv[1]), Path(sys.argv[2])
    path = record(folder / f"{minutes}.wav", minutes)
    heard = hear(path, model=MODEL, load=FakeEars(), cache=folder / "cache")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(len(heard.words), peak / 1024 if sys.platform != "darwin" else peak / 2**20)


if __name__ == "__main__":
    main()
