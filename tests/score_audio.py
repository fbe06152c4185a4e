"""Measure hearing, mending and reading on spoken notes: `python -m tests.score_audio`.

The recordings are those of `tests/audio` (made by `tests/audio/make.py` from the annotated notes) and of
`demo_audio`. Each is heard by the plain model and by one that is told what to expect, mended by the sound
of its words alone and with the recording itself as judge, and read into grade rows. Nothing is
downloaded. What is known of film talk comes from the development notes, but never from the notes that
were spoken in the recordings that are measured.

A line is a state of the words: as the plain model heard them (`plain`), with each lever alone, with all.
`false` counts mends that took the words farther from what was said; `cpu` is processor seconds for a second
of talk, `peak` the memory of the process that did it. Nothing of the test part is printed but figures.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import resource
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import ExitStack
from dataclasses import astuple, dataclass, field
from pathlib import Path
from typing import Any

from reviewer.compare.annotated import AnnotatedNote
from reviewer.compare.heard import places
from reviewer.compare.score import Tally, score_note
from reviewer.language.analysis import Analysis, analyse
from reviewer.language.mend import MendedWords, Mender, mend_weights
from reviewer.language.mend_put import put_words
from reviewer.language.mend_talk import film_talk
from reviewer.language.mend_targets import Lexicon
from reviewer.language.read import Reader
from reviewer.language.vocabulary import FIELD_GROUPS
from reviewer.records import Mend, NoteContext, Word
from reviewer.speech.score import WordingScorer
from reviewer.speech.transcript import RECIPE
from tests.annotated import load_part
from tests.plain_talk import HumanClip, human_clips, plain_words
from tests.spoken import (
    AUDIO,
    DEMO,
    Spoken,
    letters_apart,
    listen,
    other_talk,
    recordings,
    said,
    words_apart,
    wrong_words,
)

TERM_GROUPS = FIELD_GROUPS | {"play_result"}
PARTS = ("dev", "test", "demo")

Counts = Counter[tuple[str, ...]]


@dataclass(frozen=True)
class Lever:
    """What is done beyond plain hearing. told: prompt, hotwords. mended: by sound. asked: the recording."""

    name: str
    told: bool = False
    mended: bool = False
    asked: bool = False


LEVERS = (
    Lever("plain"),
    Lever("prompt", told=True),
    Lever("mending", mended=True),
    Lever("mending, asked", mended=True, asked=True),
    Lever("all", told=True, mended=True, asked=True),
)


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

    @property
    def recall(self) -> float:
        return self.true / self.spoken if self.spoken else 1.0

    @property
    def precision(self) -> float:
        return self.true / self.found if self.found else 1.0


def _terms(analysis: Analysis) -> Counts:
    return Counter((span.group, span.id) for span in analysis.spans if span.group in TERM_GROUPS)


def _jerseys(analysis: Analysis) -> Counts:
    uses = analysis.figures.numbers
    return Counter((use.number.digits,) for use in uses if use.use == "jersey" and not use.withdrawn)


def _situations(analysis: Analysis) -> Counts:
    found = analysis.figures.situations
    return Counter((str(s.down), str(s.distance), str(s.goal_to_go)) for s in found if s.down)


KINDS: Mapping[str, Callable[[Analysis], Counts]] = {
    "terms": _terms, "jerseys": _jerseys, "down, dist.": _situations,
}  # fmt: skip


@dataclass
class Cost:
    """Seconds of talk, what they took on the clock and of the processors, and the peak in MB."""

    talk_s: float = 0.0
    wall_s: float = 0.0
    cpu_s: float = 0.0
    peak_mb: float = 0.0

    def __add__(self, more: Cost) -> Cost:
        return Cost(
            self.talk_s, self.wall_s + more.wall_s, self.cpu_s + more.cpu_s, max(self.peak_mb, more.peak_mb)
        )


@dataclass
class Figures:
    """The figures of one state of the words over some recordings."""

    wrong: float = 0.0
    words: int = 0
    kinds: dict[str, Found] = field(default_factory=lambda: {k: Found() for k in KINDS})
    mends: Counter[str] = field(default_factory=Counter)
    rows: Tally = field(default_factory=Tally)
    cost: Cost = field(default_factory=Cost)

    def add(self, one: Spoken, mended: MendedWords, reader: Reader) -> None:
        """Add a recording's words in this state."""
        note = one.note
        self.wrong += wrong_words(mended.words, note.words)
        self.words += len(said(note.words))
        spoken, heard = (analyse(w, note.context, reader.tagger) for w in (note.words, mended.words))
        for kind, count in KINDS.items():
            self.kinds[kind].add(count(heard), count(spoken))
        self.mends.update(judge(each, one) for each in mended.mends)
        reading = reader.read_mended(mended, note.context)
        score_note(note, reading, self.rows, places(reading.words, note.words))

    @property
    def false_mends(self) -> float:
        """In a thousand words."""
        return 1000 * self.mends["wrong"] / max(1, self.words)

    def line(self, name: str) -> str:
        kinds = "  ".join(f"{f.recall:.3f} {f.precision:.3f}" for f in self.kinds.values())
        cost = "    -     -     -"
        if self.cost.talk_s:
            c = self.cost
            cost = f"{c.wall_s / c.talk_s:5.3f} {c.cpu_s / c.talk_s:5.3f} {c.peak_mb:5.0f}"
        return (
            f"{name:15} {100 * self.wrong / max(1, self.words):5.2f}  {kinds}  {self.false_mends:5.2f}"
            f"  {self.rows.share('hands-off'):.3f}  {cost}"
        )


HEAD = (
    f"{'':15} {'words':>5}  "
    + "  ".join(f"{kind:11}" for kind in KINDS)
    + "  false  hands-  real  cpu   peak\n"
    f"{'':15} wrong  " + "  ".join(["recall prec"] * len(KINDS)) + "  /1000  off     time  /s    MB"
)


def judge(mend: Mend, one: Spoken) -> str:
    """Whether a mend brought the words nearer to the spoken ones: "right", "wrong", "neither"."""
    words = list(one.words)
    put_words(words, mend.first, mend.last, mend.read.rstrip(".,?!;:"), 1.0, "")
    before, after = (
        (letters_apart(w, one.note.words), words_apart(w, one.note.words)) for w in (one.words, words)
    )
    return "neither" if before == after else "right" if after < before else "wrong"


def measured(work: Callable[..., Any], *given: Any) -> tuple[Any, Cost]:
    """What some work gives, done in a process of its own, and what it took."""
    spawn = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(max_workers=1, mp_context=spawn) as pool:
        found, cost = pool.submit(_timed, work, given).result()
    return found, cost


def _timed(work: Callable[..., Any], given: Sequence[Any], **named: Any) -> tuple[Any, Cost]:
    wall, cpu = time.monotonic(), time.process_time()
    found = work(*given, **named)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1024 if sys.platform != "darwin" else 2**20)
    return found, Cost(0.0, time.monotonic() - wall, time.process_time() - cpu, peak)


def hear_all(files: Sequence[Path], model: str, cache: Path, told: bool) -> tuple[list[Spoken], Cost]:
    """Hear recordings one after another. What was heard before costs what it did then."""
    heard, together = [], Cost()
    for file in files:
        one, cost = _timed(listen, (file, model, cache), told=told)
        kept = cache / f"{file.parent.name}-{file.stem}-{model}-{'told' if told else 'plain'}-{RECIPE}.cost"
        if kept.is_file():
            cost = Cost(*json.loads(kept.read_text("utf-8")))
        else:
            kept.write_text(json.dumps(astuple(cost)), "utf-8")
        heard.append(one)
        together = together + cost
    return heard, together


def mend_all(spoken: Sequence[Spoken], ours: bool, asked: bool) -> list[MendedWords]:
    """Mend recordings. ours: with the talk that ships; else with talk that never saw these notes."""
    mender = _mender([one.note for one in spoken], ours)
    found = []
    for one in spoken:
        scorer = WordingScorer(one.recording, one.words, model=one.model) if asked else None
        found.append(mender.mend(one.words, one.note.context, scorer=scorer))
    return found


def _mender(notes: Sequence[AnnotatedNote], ours: bool) -> Mender:
    vocabulary = Reader.load(Path("none of one's own")).vocabulary
    talk = film_talk() if ours else other_talk(notes)
    return Mender(Lexicon(vocabulary, talk), talk, mend_weights())


def files_of(part: str) -> list[Path]:
    """The recordings of a part."""
    return recordings(DEMO if part == "demo" else AUDIO / part)


def score_part(part: str, model: str, cache: Path, levers: Iterable[Lever]) -> Iterator[tuple[str, Figures]]:
    """The figures of a part: of each lever, then of the exact words."""
    reader = Reader.load(Path("none of one's own"))
    files = files_of(part)
    heard: dict[bool, tuple[list[Spoken], Cost]] = {}
    for lever in levers:
        if lever.told not in heard:
            heard[lever.told] = measured(hear_all, files, model, cache, lever.told)[0]
        spoken, cost = heard[lever.told]
        figures = Figures()
        mended = [MendedWords(one.words, ()) for one in spoken]
        if lever.mended:
            mended, more = measured(mend_all, spoken, part != "dev", lever.asked)
            cost = cost + more
        figures.cost = Cost(sum(one.duration_s for one in spoken), cost.wall_s, cost.cpu_s, cost.peak_mb)
        for one, words in zip(spoken, mended, strict=True):
            figures.add(one, words, reader)
        yield lever.name, figures
    exact = Figures()
    for one in next(iter(heard.values()))[0]:
        note = one.note
        exact.add(_as_heard(one), MendedWords(note.words, ()), reader)
    yield "exact words", exact


def _as_heard(one: Spoken) -> Spoken:
    return Spoken(one.name, one.recording, one.note, one.note.words, one.model, one.told, one.duration_s)


@dataclass
class Untouched:
    """Words that are right as they are, and the mends that were made of them all the same."""

    words: int = 0
    made: list[Mend] = field(default_factory=list)

    def __str__(self) -> str:
        share = 1000 * len(self.made) / max(1, self.words)
        return f"{len(self.made)} of {self.words} words mended, {share:.2f} in a thousand"


def mends_of_right_words(texts: Iterable[tuple[Sequence[Word], NoteContext]], mender: Mender) -> Untouched:
    """Mend words as if they had been heard."""
    found = Untouched()
    for words, context in texts:
        found.words += len(words)
        found.made += mender.mend(words, context).mends
    return found


def human_error(clips: Sequence[HumanClip], model: str, cache: Path, context: NoteContext) -> str:
    """Word error rate of people reading plain English: of the plain model, and with all levers."""
    from reviewer.pipeline.expect import Expected, expected
    from reviewer.speech.transcribe import hear

    mender = _mender([], True)
    words, wrong, made = 0, {False: 0.0, True: 0.0}, 0
    for clip in clips:
        words += len(said(clip.words))
        for told in wrong:
            what = expected(context) if told else Expected()
            heard = hear(clip.path, model=model, prompt=what.prompt, hotwords=what.hotwords, cache=cache)
            now = heard.words
            if told:
                scorer = WordingScorer(clip.path, heard.words, model=model)
                now, mends = mender.mend(heard.words, context, scorer=scorer)
                made += len(mends)
            wrong[told] += wrong_words(now, clip.words)
    before, after = (100 * wrong[told] / max(1, words) for told in (False, True))
    return (
        f"{len(clips)} clips, {words} words: {before:.2f} % wrong plain, {after:.2f} % with all; {made} mends"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--model", default="base")
    parser.add_argument("--part", choices=PARTS, action="append", help="all when left out")
    parser.add_argument("--cache", type=Path, help="where what is heard is kept, with what it cost")
    parser.add_argument("--human", type=Path, help="clips of people with their words (tests/plain_talk.py)")
    parser.add_argument("--show", action="store_true", help="list the mends of the development part")
    args = parser.parse_args()
    with ExitStack() as stack:
        cache = args.cache or Path(stack.enter_context(tempfile.TemporaryDirectory()))
        for part in args.part or PARTS:
            files = files_of(part)
            print(f"\n{part}: {len(files)} recordings, model {args.model}\n{HEAD}", flush=True)
            for name, figures in score_part(part, args.model, cache, LEVERS):
                print(figures.line(name), flush=True)
        if args.show:
            _show(args.model, cache)
        _right_words(args.part or PARTS)
        if args.human:
            context = listen(files_of("demo")[0], args.model, cache).note.context
            print(f"people reading: {human_error(human_clips(args.human), args.model, cache, context)}")


def _right_words(parts: Sequence[str]) -> None:
    print("\nRight words taken for misheard ones:")
    for part in parts:
        if part != "demo":
            notes = load_part(part)
            made = Untouched()
            for k in range(_FOLDS if part == "dev" else 1):
                some = notes[k::_FOLDS] if part == "dev" else notes
                mender = _mender(some, part != "dev")
                more = mends_of_right_words(((n.words, n.context) for n in some), mender)
                made = Untouched(made.words + more.words, made.made + more.made)
            print(f"exact words of the {part} notes: {made}")
    context = load_part("dev")[0].context
    print(f"ordinary talk: {mends_of_right_words([(plain_words(), context)], _mender([], True))}")


_FOLDS = 6


def _show(model: str, cache: Path) -> None:
    spoken, _ = hear_all(files_of("dev"), model, cache, True)
    for one, mended in zip(spoken, mend_all(spoken, False, True), strict=True):
        for each in mended.mends:
            print(f"   {one.name} {judge(each, one):8} {each.score:.2f}  {each.heard} -> {each.read}")


if __name__ == "__main__":
    main()
