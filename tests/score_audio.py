"""Measure hearing and mending on spoken notes: `python -m tests.score_audio [--show] [--no-sound]`.

The recordings are those of `tests/audio` and `demo_audio` with their annotated notes beside them, and any
`--also` folder. Each is heard with the speech model, mended and read; the figures stand before and after
mending. Nothing is downloaded. Mending knows film talk from the development notes; of the notes that
were spoken in `tests/audio` it is made to know nothing here. The last line counts the mends of words that
are right already: the exact words of the development notes, each with talk that never saw the note.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from jiwer import wer

from reviewer.language.analysis import Analysis, analyse
from reviewer.language.mend import MendedWords, Mender, WordingScorer, mend_weights
from reviewer.language.mend_put import put_words
from reviewer.language.mend_talk import Talk, film_talk
from reviewer.language.mend_targets import Lexicon
from reviewer.language.tag import Tagger
from reviewer.language.vocabulary import FIELD_GROUPS, Vocabulary, load_vocabulary
from reviewer.records import Mend
from tests.annotated import load_part
from tests.fit_mend import count_talk
from tests.spoken import (
    AUDIO,
    DEMO,
    Spoken,
    letters_apart,
    listen,
    other_talk,
    recordings,
    said,
    sound_of,
    words_apart,
)

TERM_GROUPS = FIELD_GROUPS | {"play_result"}
FOLDS = 6

Counts = Counter[tuple[str, ...]]


@dataclass
class Found:
    """What was found in words against what is in the spoken ones: counts of true, found and spoken."""

    true: int = 0
    found: int = 0
    spoken: int = 0

    def add(self, found: Counts, spoken: Counts) -> None:
        self.true += (found & spoken).total()
        self.found += found.total()
        self.spoken += spoken.total()

    def __str__(self) -> str:
        recall = self.true / self.spoken if self.spoken else 1.0
        precision = self.true / self.found if self.found else 1.0
        return f"{100 * recall:5.1f} {100 * precision:5.1f}"


@dataclass
class State:
    """Figures of the words before or after mending."""

    wrong: float = 0.0
    words: int = 0
    kinds: dict[str, Found] = field(default_factory=lambda: {k: Found() for k in KINDS})

    def add(self, heard: Analysis, spoken: Analysis) -> None:
        reference = said(spoken.text.words)
        self.wrong += wer(" ".join(reference), " ".join(said(heard.text.words)) or "-") * len(reference)
        self.words += len(reference)
        for kind, count in KINDS.items():
            self.kinds[kind].add(count(heard), count(spoken))


def _terms(analysis: Analysis) -> Counts:
    return Counter((span.group, span.id) for span in analysis.spans if span.group in TERM_GROUPS)


def _men(analysis: Analysis) -> Counts:
    return Counter((m.jersey,) for m in analysis.mentions if m.jersey and m.how in {"name", "number"})


def _situations(analysis: Analysis) -> Counts:
    found = analysis.figures.situations
    return Counter((str(s.down), str(s.distance), str(s.goal_to_go)) for s in found if s.down)


KINDS = {"terms": _terms, "men": _men, "down and distance": _situations}


@dataclass
class Measured:
    """The figures of some recordings."""

    before: State = field(default_factory=State)
    after: State = field(default_factory=State)
    mends: Counter[str] = field(default_factory=Counter)

    def line(self, name: str) -> str:
        error = " ".join(f"{100 * s.wrong / max(1, s.words):5.1f}" for s in (self.before, self.after))
        kinds = "  ".join(f"{self.before.kinds[k]} {self.after.kinds[k]}" for k in KINDS)
        marks = " ".join(f"{self.mends[m]:3}" for m in ("right", "wrong", "neither"))
        return f"{name:26} {self.before.words:5}  {error}  {kinds}  {marks}"


HEAD = (
    f"{'':26} {'':5}  {'words wrong':11}  {'terms':23}  {'men':23}  {'down and distance':23}  mends\n"
    f"{'':26} words  before  now  " + "  ".join(["before: R P  now: R P  "] * len(KINDS)) + "   +   -   ="
)


def judge(mend: Mend, one: Spoken) -> str:
    """Whether a mend brought the words nearer to the spoken ones."""
    words = list(one.words)
    put_words(words, mend.first, mend.last, mend.read.rstrip(".,?!;:"), 1.0, "")
    before, after = (
        (letters_apart(w, one.note.words), words_apart(w, one.note.words)) for w in (one.words, words)
    )
    return "neither" if before == after else "right" if after < before else "wrong"


def measure(
    one: Spoken, mender: Mender, tagger: Tagger, scorer: WordingScorer | None, into: Iterable[Measured]
) -> MendedWords:
    """Mend a recording's words and add its figures."""
    context = one.note.context
    mended = mender.mend(one.words, context, scorer=scorer)
    spoken, heard, now = (analyse(w, context, tagger) for w in (one.note.words, one.words, mended.words))
    for measured in into:
        measured.before.add(heard, spoken)
        measured.after.add(now, spoken)
        measured.mends.update(judge(each, one) for each in mended.mends)
    return mended


def false_mends(vocabulary: Vocabulary) -> tuple[int, int, list[Mend]]:
    """(words, heard words mended, the mends) of the exact words of the development notes."""
    notes = load_part("dev")
    words, made = 0, []
    for part in range(FOLDS):
        talk = count_talk(note for k, note in enumerate(notes) if k % FOLDS != part)
        mender = Mender(Lexicon(vocabulary, talk), talk)
        for note in notes[part::FOLDS]:
            words += len(note.words)
            made += mender.mend(note.words, note.context).mends
    return words, len(made), made


def menders(vocabulary: Vocabulary, spoken: Sequence[Spoken]) -> dict[Path, Mender]:
    """The mender for each folder of recordings: one that never saw the notes spoken there."""
    folders = {one.recording.parent for one in spoken}
    made = {}
    for folder in folders:
        notes = [one.note for one in spoken if one.recording.parent == folder]
        talk: Talk = film_talk() if folder == DEMO else other_talk(notes)
        made[folder] = Mender(Lexicon(vocabulary, talk), talk, mend_weights())
    return made


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--model", default="base")
    parser.add_argument("--cache", type=Path, help="where what was heard is kept")
    parser.add_argument("--also", type=Path, action="append", default=[], help="more recordings with notes")
    parser.add_argument("--no-sound", action="store_true", help="do not ask the sound")
    parser.add_argument("--show", action="store_true", help="list the mends")
    args = parser.parse_args()
    vocabulary = load_vocabulary(Path("none of one's own"))
    tagger = Tagger(vocabulary)
    files = [file for folder in (DEMO, AUDIO, *args.also) for file in recordings(folder)]
    spoken = [listen(file, args.model, args.cache) for file in files]
    by_folder = menders(vocabulary, spoken)
    together = Measured()
    print(HEAD)
    for one in spoken:
        alone = Measured()
        scorer = None if args.no_sound else sound_of(one, args.cache)
        mended = measure(one, by_folder[one.recording.parent], tagger, scorer, (alone, together))
        if scorer is not None:
            scorer.keep()
        print(alone.line(f"{one.recording.parent.name[:4]} {one.name}"), flush=True)
        for each in mended.mends if args.show else ():
            print(f"      {judge(each, one):8} {each.score:.2f}  {each.heard} -> {each.read}")
    print(together.line("together"))
    words, wrong, made = false_mends(vocabulary)
    print(f"exact words: {wrong} of {words} mended, {1000 * wrong / words:.2f} in a thousand")
    for each in made if args.show else ():
        print(f"      {each.score:.2f}  {each.heard} -> {each.read}")


if __name__ == "__main__":
    main()
