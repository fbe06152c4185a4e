"""Speak annotated notes aloud, as `voices.toml` says: the recordings that hearing is measured on.

Needs what `demo_audio/speak.py` needs, in the environment that runs it; Reviewer needs none of it:

    python tests/audio/make.py package/voices         speaks what is not there yet
    .venv/bin/python -m tests.audio.make --garbled    takes away what the voice garbled

A recording is named after its note in `tests/notes`. Garbled is what the plain speech model hears with
more than `GARBLED` of the words wrong: then the voice is to blame, and nothing could be learned from it.
"""

from __future__ import annotations

import argparse
import sys
import tomllib
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Audio = npt.NDArray[np.float32]

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
GARBLED = 0.25
_SMALL = 0.96  # of the scale from 256 down to 6 kbit/s: 16
_VOICES = 12
_BREATH = 350  # phonemes


def plan() -> dict[str, dict[str, dict[str, Any]]]:
    """Part -> name of the note -> how it is spoken."""
    return tomllib.loads((HERE / "voices.toml").read_text("utf-8"))


def speak(note: Path, out: Path, how: dict[str, Any], voices: Path) -> None:
    """Speak a note and write it as Opus at 24 kHz."""
    sys.path.insert(0, str(ROOT / "demo_audio"))
    import numpy as np
    import soundfile
    import speak as speaker

    voice = speaker.Voice(voices / f"{how['voice']}.bin")
    respellings = speaker.read_respellings(ROOT / "demo_audio" / "respell.json")
    rng = np.random.default_rng(zlib.crc32(out.stem.encode()))
    pieces: list[Audio] = []
    for block in speaker.read_blocks(note):
        text = " ".join(block["text"].split())
        for pattern, spelling in respellings:
            text = pattern.sub(spelling, text)
        for group in voice.breath_groups(text):
            pieces += [voice.say(breath, how["speed"]) for breath in breaths(group)]
            pieces.append(_silence(0.3 * rng.uniform(0.8, 1.3)))
        pieces.append(_silence(how.get("pause", 0.9) * rng.uniform(0.7, 1.5)))
    audio = spoil(np.concatenate(pieces), how, rng)
    soundfile.write(out, audio, speaker.RATE, format="OGG", subtype="OPUS", compression_level=_SMALL)
    print(f"{out.relative_to(HERE)}: {len(audio) / speaker.RATE:.0f} s", flush=True)


def breaths(sounds: str) -> Iterator[str]:
    """A long sentence in pieces, cut after commas or words: the voice leaves out what is over `_BREATH`."""
    while len(sounds) > _BREATH:
        cut = max(sounds.rfind(", ", 0, _BREATH) + 1, 0) or sounds.rfind(" ", 0, _BREATH)
        yield sounds[:cut]
        sounds = sounds[cut:].strip()
    yield sounds


def spoil(audio: Audio, how: dict[str, Any], rng: np.random.Generator) -> Audio:
    """The sound as a worse microphone in a worse room would give it."""
    import numpy as np

    audio = audio / max(1.0, float(np.abs(audio).max()))
    if "crowd_db" in how:
        audio = audio + _at_level(_crowd(audio, rng), how["crowd_db"])
    audio = audio + _at_level(rng.standard_normal(len(audio)), how["noise_db"])
    if "band" in how:
        audio = _band(audio, *how["band"])
    if "clip" in how:
        top = how["clip"] * float(np.abs(audio).max())
        audio = np.clip(audio, -top, top)
    audio = audio * 10 ** (how.get("level_db", 0.0) / 20)
    return np.clip(audio, -1, 1).astype(np.float32)


def _silence(seconds: float) -> Audio:
    import numpy as np

    return np.zeros(int(seconds * 24000), np.float32)


def _at_level(sound: Any, level_db: float) -> Any:
    import numpy as np

    return sound * (10 ** (level_db / 20) / float(np.sqrt(np.mean(np.square(sound)))))


def _crowd(audio: Audio, rng: np.random.Generator) -> Any:
    """A murmur without words: the talk itself backwards, many times over, out of step."""
    return sum(_rolled(audio[::-1], int(rng.integers(len(audio)))) for _ in range(_VOICES))


def _rolled(audio: Audio, by: int) -> Any:
    import numpy as np

    return np.roll(audio, by)


def _band(audio: Audio, low: float, high: float) -> Any:
    import numpy as np

    spectrum = np.fft.rfft(audio)
    hertz = np.fft.rfftfreq(len(audio), 1 / 24000)
    spectrum[(hertz < low) | (hertz > high)] = 0
    return np.fft.irfft(spectrum, len(audio))


def garbled() -> list[tuple[Path, float]]:
    """The recordings of which the plain model hears too many words wrong, with their word error rate."""
    from tests.spoken import AUDIO, listen, recordings, word_error

    found = []
    for part in plan():
        for recording in recordings(AUDIO / part):
            error = word_error(listen(recording))
            if error > GARBLED:
                found.append((recording, error))
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("voices", type=Path, nargs="?", help="folder of the speakers' files")
    parser.add_argument("--garbled", action="store_true", help="hear them and take away what is garbled")
    parser.add_argument("--only", help="one note")
    args = parser.parse_args()
    if args.garbled:
        for recording, error in garbled():
            recording.unlink()
            print(f"{recording.name}: {100 * error:.0f} % of the words wrong, taken away")
        return
    if args.voices is None:
        parser.error("name the folder of the speakers' files")
    for part, notes in plan().items():
        for name, how in notes.items():
            out = HERE / part / f"{name}.ogg"
            if not out.exists() and args.only in (None, name):
                speak(ROOT / "tests" / "notes" / part / f"{name}.yaml", out, how, args.voices)


if __name__ == "__main__":
    main()
