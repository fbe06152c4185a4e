"""Our hearing, with all its steps, against other offline engines: `python -m benchmarks hearing [--all]`.

Each engine hears the same recordings in a process of its own. Shares of the recordings' length are without
loading; memory is the most that the process had; the word error rate takes numbers alike in figures and
words. The voices are synthetic. PocketSphinx is measured where it is installed.
"""

from __future__ import annotations

import json
import sys
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import click

from benchmarks import _engines
from benchmarks._figures import Figure, as_text
from benchmarks._process import spent
from reviewer.compare.annotated import load_note
from reviewer.language.tokens import words_from_text
from reviewer.speech.decode import duration
from tests.spoken import AUDIO, DEMO, annotation, recordings, said, wrong_words

LIMIT_CPU = 0.5
"""Processor seconds for a second of talk: a quarter of an hour within four minutes on two processors."""
LIMIT_MB = 1000.0
SOME = 2


@dataclass(frozen=True)
class Heard:
    """What an engine needed. wall, cpu: shares of the recordings' length. wrong: word error rate."""

    wall: float
    cpu: float
    peak_mb: float
    wrong: float


def chosen(every: bool) -> list[Path]:
    """The recordings of the test part, a short and a middling one of them, or the demo's."""
    folder = AUDIO / "test"
    found = recordings(folder) if folder.is_dir() else []
    found = found or recordings(DEMO)
    return found if every else sorted(found, key=duration)[:SOME]


def hear_with(name: str, files: Sequence[Path], home: str) -> Heard:
    """Let one engine hear them."""
    command = [sys.executable, "-m", "benchmarks._engines", name, *map(str, files)]
    done = spent(command, {"REVIEWER_HOME": home})
    told = json.loads(done.out)
    seconds = sum(map(duration, files))
    return Heard(told["wall_s"] / seconds, told["cpu_s"] / seconds, done.peak_mb, word_error(told["words"]))


def word_error(words: Mapping[str, Sequence[str]]) -> float:
    """Word error rate over all recordings, by their paths."""
    wrong = total = 0.0
    for file, heard in words.items():
        spoken = load_note(annotation(Path(file))).words
        wrong += wrong_words(words_from_text(" ".join(heard)), spoken)
        total += len(said(spoken))
    return wrong / total


def figures_of(heard: Mapping[str, Heard]) -> list[Figure]:
    """What is heard here against the others."""
    here = heard["here"]
    others = {name: one for name, one in heard.items() if not name.startswith("here")}

    def against(field: str) -> tuple[tuple[str, float], ...]:
        return tuple((name, getattr(one, field)) for name, one in others.items())

    figures = [
        Figure("processor seconds a second of talk", here.cpu, "", against("cpu"), LIMIT_CPU),
        Figure("seconds a second of talk", here.wall, "", against("wall")),
        Figure("most memory", here.peak_mb, "MB", against("peak_mb"), LIMIT_MB),
        Figure("word error rate", 100 * here.wrong, "%", tuple((n, 100 * v) for n, v in against("wrong"))),
    ]
    for name, one in heard.items():
        if name != "here":
            said_of = f"{name}: CPU {one.cpu:.3f}, {one.peak_mb:.0f} MB, word error rate"
            figures.append(Figure(said_of, 100 * one.wrong, "%"))
    return figures


def measure(every: bool = False) -> list[Figure]:
    """Every engine that is installed, one after the other."""
    files = chosen(every)
    heard: dict[str, Heard] = {}
    with tempfile.TemporaryDirectory() as home:
        # the model is put together once in a library's life, not with each recording
        program = "from reviewer.speech.models import find_model; find_model()"
        spent([sys.executable, "-c", program], {"REVIEWER_HOME": home})
        for name in _engines.ENGINES:
            if not _engines.installed(name):
                click.echo(f"{name}: not installed", err=True)
                continue
            heard[name] = hear_with(name, files, home)
    return figures_of(heard)


@click.command()
@click.option("--all", "every", is_flag=True, help="Every recording of the test part, not two of them.")
def main(every: bool) -> None:
    """Print the figures."""
    click.echo(as_text(measure(every)))


if __name__ == "__main__":
    main()
