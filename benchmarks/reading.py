"""How long words take to be read into rows, against spaCy's rule matcher: `python -m benchmarks reading`.

A note of a quarter of an hour (2,200 words), made of the annotated development notes. Processor seconds after
loading and one short note read, the median of several. The matcher has as many patterns over the same words;
it only finds terms. The small English pipeline tags and parses, where it is installed.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from statistics import median
from typing import Any

import click

from benchmarks._figures import Figure, as_text
from reviewer.compare.annotated import AnnotatedNote
from reviewer.language.read import Reader
from reviewer.language.vocabulary import Vocabulary
from reviewer.records import NoteContext, Word
from tests.annotated import load_part

WORDS = 2200
LIMIT_S = 2.0
TIMES = 5
PIPELINE = "en_core_web_sm"


def long_note(count: int = WORDS) -> tuple[list[Word], NoteContext]:
    """So many words of the development notes, one note after another, in the first one's context."""
    words: list[Word] = []
    notes = load_part("dev")
    for note in notes:
        words += _after(words[-1].end if words else 0.0, note)
        if len(words) >= count:
            break
    return words[:count], notes[0].context


def _after(end_s: float, note: AnnotatedNote) -> list[Word]:
    start = end_s + 1.0
    return [Word(word.text, word.start + start, word.end + start, word.probability) for word in note.words]


def measure(count: int = WORDS, times: int = TIMES) -> list[Figure]:
    """Reading as written and as heard (with mending), each against the others."""
    words, context = long_note(count)
    reader = Reader.load()
    text = " ".join(word.text for word in words)
    others = tuple(
        (name, cpu(run, 1)) for name, run in (_matcher(reader.vocabulary, text), _pipeline(text)) if run
    )
    reader.read(words[:40], context, heard=True)
    figures = []
    for what, heard in (("reading 2,200 words", False), ("mending and reading 2,200 words", True)):

        def run(heard: bool = heard) -> Any:
            return reader.read(words, context, heard=heard)

        figures.append(Figure(what, cpu(run, times), "s CPU", others, LIMIT_S))
    phrases, find = _phrases(reader.vocabulary, text)
    figures.append(Figure(f"finding literal words alone: {phrases}", cpu(find, times), "s CPU"))
    return figures


def cpu(run: Callable[[], Any], times: int) -> float:
    """Median processor seconds."""
    taken = []
    for _ in range(times):
        began = time.process_time()
        run()
        taken.append(time.process_time() - began)
    return median(taken)


def forms(vocabulary: Vocabulary) -> list[list[list[str]]]:
    """Every spoken form as its words in order, each with its alternatives, without the format's marks."""
    every = (form for term in vocabulary.terms for form in (*term.forms, *term.mishearings))
    found = ([re.findall(r"[a-z0-9']+", piece) for piece in form.lower().split()] for form in every)
    return [[choice for choice in form if choice] or [["-"]] for form in found]


def patterns(vocabulary: Vocabulary) -> list[list[dict[str, Any]]]:
    """The forms as patterns of the rule matcher, as many as there are forms."""
    return [[{"LOWER": {"IN": choice}} for choice in form] for form in forms(vocabulary)]


def _matcher(vocabulary: Vocabulary, text: str) -> tuple[str, Callable[[], Any]]:
    import spacy
    from spacy.matcher import Matcher

    nlp = spacy.blank("en")
    matcher = Matcher(nlp.vocab)
    every = patterns(vocabulary)
    for number, pattern in enumerate(every):
        matcher.add(str(number), [pattern])
    return f"spaCy's matcher, {len(every):,} patterns", lambda: matcher(nlp(text))


def _phrases(vocabulary: Vocabulary, text: str) -> tuple[str, Callable[[], Any]]:
    """The matcher that is fast because it knows no alternatives: one wording of each form."""
    import spacy
    from spacy.matcher import PhraseMatcher

    nlp = spacy.blank("en")
    matcher = PhraseMatcher(nlp.vocab, attr="LOWER")
    wordings = (" ".join(choice[0] for choice in form) for form in forms(vocabulary))
    matcher.add("term", list(nlp.pipe(wordings)))
    return "spaCy's phrase matcher, one wording a form", lambda: matcher(nlp(text))


def _pipeline(text: str) -> tuple[str, Callable[[], Any] | None]:
    import spacy

    try:
        nlp = spacy.load(PIPELINE)
    except OSError:
        click.echo(f"{PIPELINE}: not installed", err=True)
        return PIPELINE, None
    return PIPELINE, lambda: nlp(text)


@click.command()
def main() -> None:
    """Print the figures."""
    figures = measure()
    click.echo(as_text(figures))
    read, mended = (WORDS / figure.here for figure in figures[:2])
    click.echo(f"{read:,.0f} words a processor second read, {mended:,.0f} mended and read")


if __name__ == "__main__":
    main()
