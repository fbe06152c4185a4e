"""Fit the weights of mending on spoken notes: `python -m tests.fit_mend_weights [--cache DIR] [--also DIR]`.

Every other reading of what a speech model heard is right when it brings the words nearer to what was
spoken, and wrong else; all readings of the exact words of the development notes are wrong. The weights
are those of a logistic regression that is held near the values below, for there are few right ones.
Writes `reviewer/language/weights/mend.json` and prints what each recording gives with weights that
were fitted without it. Never opens the test part.
"""

from __future__ import annotations

import argparse
import json
import random
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

from reviewer.language.mend import ASKED, Mender, WordingScorer, apart_from_another, with_sound, wording
from reviewer.language.mend_put import put_words
from reviewer.language.mend_talk import Talk
from reviewer.language.mend_targets import Lexicon
from reviewer.language.mend_weigh import Reading
from reviewer.language.vocabulary import load_vocabulary
from reviewer.records import Word
from tests.annotated import load_part
from tests.fit_mend import WEIGHTS, count_talk
from tests.spoken import AUDIO, Spoken, letters_apart, listen, other_talk, recordings, sound_of, words_apart

BELIEVED: Mapping[str, float] = {
    "term": -4.0, "name": -2.0, "talk": 0.8, "unlike": -2.5, "share unlike": -8.0, "short": -0.4,
    "alike": 1.0, "doubt": 1.5, "listed": 1.5, "comma": -2.0, "more words": -1.0,
    "strange name": 2.0, "strange term": 1.0,
    "common term": -2.0, "common name": -4.0, "capital": 1.5, "given name": -3.0, "kept": 2.0,
    "breaks a term": -3.0, "by his number": 1.5, "joined": 0.5,
}  # fmt: skip
"""What the weights are held near."""

BELIEVED_WITH_SOUND: Mapping[str, float] = {
    **BELIEVED, "sound term": 0.7, "sound name": 0.3, "sound alike": 0.1, "term": -2.0, "name": -1.0,
}  # fmt: skip

HELD = 1.5
"""Standard deviation of a weight from what is believed, as a share of 1 or of the value, the larger."""

WRONG_COSTS = 3.0
"""A mend that should not be counts as so many that are missing."""

FOLDS = 6
_RIVALS = 3


@dataclass(frozen=True)
class Case:
    """A reading and whether it is right. group: the note it is from. source: where it was heard."""

    group: str
    source: str
    reading: Reading
    right: bool


def spoken_cases(one: Spoken, mender: Mender, scorer: WordingScorer | None) -> list[Case]:
    """The readings of a recording that are worth a thought."""
    readings = mender.readings(one.words, one.note.context)
    kept = _leading(readings, mender.weights["words"])
    before = _apart(one.words, one.note.words)
    cases = []
    for reading in kept:
        words = list(one.words)
        put_words(words, reading.stretch.first, reading.stretch.last, wording(reading), 1.0, "")
        if scorer is not None:
            reading = with_sound(reading, one.words, scorer)
        now = _apart(words, one.note.words)
        if now != before:  # words that are only parted otherwise tell nothing
            cases.append(Case(one.note.slug, f"{one.recording} {one.model}", reading, now < before))
    return cases


def _apart(heard: Sequence[Word], spoken: Sequence[Word]) -> tuple[int, int]:
    return letters_apart(heard, spoken), words_apart(heard, spoken)


def _leading(readings: Iterable[Reading], weights: Mapping[str, float]) -> list[Reading]:
    """For each stretch the few readings that lead."""
    by_place: dict[int, list[tuple[float, Reading]]] = defaultdict(list)
    for reading in readings:
        gain = reading.gain(weights)
        if gain >= ASKED:
            by_place[reading.stretch.first].append((gain, reading))
    return [
        reading
        for found in by_place.values()
        for _, reading in sorted(found, key=lambda one: -one[0])[:_RIVALS]
    ]


def exact_cases(lexicon_of_talk: Mapping[int, Mender], likely: Sequence[float]) -> list[Case]:
    """Readings of the exact words of the development notes, each with talk that never saw the note."""
    rng = random.Random(5)
    cases = []
    for k, note in enumerate(load_part("dev")):
        mender = lexicon_of_talk[k % FOLDS]
        words = [replace(word, probability=rng.choice(likely)) for word in note.words]
        leading = _leading(mender.readings(words, note.context), mender.weights["words"])
        cases += [Case(f"exact {k % FOLDS}", note.slug, reading, False) for reading in leading]
    return cases


def fit(cases: Sequence[Case], believed: Mapping[str, float]) -> dict[str, float]:
    """Weights by the signs' names."""
    names = sorted({name for case in cases for name in case.reading.signs} | set(believed))
    rows = np.array([[case.reading.signs.get(name, 0.0) for name in names] for case in cases])
    right = np.array([case.right for case in cases], dtype=float)
    costs = np.where(right > 0, 1.0, WRONG_COSTS)
    middle = np.array([believed.get(name, 0.0) for name in names])
    spread = HELD * np.maximum(1.0, np.abs(middle)) * np.where(np.array(names) == "talk", 0.3, 1.0)

    def loss(weights: np.ndarray) -> tuple[float, np.ndarray]:
        odds = rows @ weights
        chance = 1 / (1 + np.exp(-odds))
        away = (weights - middle) / spread
        cost = float((costs * (np.logaddexp(0, odds) - right * odds)).sum() + 0.5 * (away**2).sum())
        return cost, rows.T @ (costs * (chance - right)) + away / spread

    found = minimize(loss, middle, jac=True, method="L-BFGS-B", options={"maxiter": 2000})
    return {name: round(float(weight), 3) for name, weight in zip(names, found.x, strict=True)}


def report(group: str, cases: Sequence[Case], weights: Mapping[str, float], show: bool) -> tuple[int, int]:
    """Print and count the mends that the weights make of a group, right and wrong."""
    right = {id(case.reading): case.right for case in cases}
    made: set[int] = set()
    for source in {case.source for case in cases}:
        weighed = [(c.reading.gain(weights), c.reading) for c in cases if c.source == source]
        made |= {id(reading) for _, reading in apart_from_another(w for w in weighed if w[0] >= 0)}
    for case in cases if show else ():
        if id(case.reading) in made or case.right:
            mark = ("+" if case.right else "-") if id(case.reading) in made else "o"
            heard, gain = " ".join(case.reading.stretch.pieces), case.reading.gain(weights)
            print(f"   {mark} {gain:5.1f} {heard} => {case.reading.target.text} {dict(case.reading.signs)}")
    good = sum(right[each] for each in made)
    return good, len(made) - good


def _without_sound(case: Case) -> Case:
    signs = {name: value for name, value in case.reading.signs.items() if not name.startswith("sound ")}
    return replace(case, reading=replace(case.reading, signs=signs))


def menders(parts: int) -> dict[int, Mender]:
    """A mender for each part of the development notes that never saw it."""
    notes = load_part("dev")
    vocabulary = load_vocabulary(Path("none of one's own"))
    weights = {"words": dict(BELIEVED), "sound": dict(BELIEVED_WITH_SOUND)}
    made = {}
    for part in range(parts):
        talk = count_talk(note for k, note in enumerate(notes) if k % parts != part)
        made[part] = Mender(Lexicon(vocabulary, talk), talk, weights)
    return made


def spoken_mender(spoken: Sequence[Spoken]) -> Mender:
    """A mender that never saw the notes that were spoken."""
    talk: Talk = other_talk([one.note for one in spoken])
    weights = {"words": dict(BELIEVED), "sound": dict(BELIEVED_WITH_SOUND)}
    return Mender(Lexicon(load_vocabulary(Path("none of one's own")), talk), talk, weights)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cache", type=Path, help="where what was heard is kept")
    parser.add_argument("--also", type=Path, action="append", default=[], help="more recordings with notes")
    parser.add_argument("--models", nargs="+", default=["base", "tiny.en"])
    parser.add_argument("--show", action="store_true", help="list the mends")
    parser.add_argument("--dry", action="store_true", help="write nothing")
    args = parser.parse_args()
    files = [file for folder in (AUDIO, *args.also) for file in recordings(folder)]
    spoken = [listen(file, model, args.cache) for file in files for model in args.models]
    mender = spoken_mender(spoken)
    with_words: list[Case] = []
    with_sounds: list[Case] = []
    for one in spoken:
        scorer = sound_of(one, args.cache)
        found = spoken_cases(one, mender, scorer)
        scorer.keep()
        with_sounds += found
        with_words += [_without_sound(case) for case in found]
        print(f"{one.name} {one.model}: {sum(c.right for c in found)} right of {len(found)}", flush=True)
    likely = [word.probability for one in spoken for word in one.words if word.probability > 0.3]
    with_words += exact_cases(menders(FOLDS), likely)
    for what, cases, believed in (
        ("words", with_words, BELIEVED),
        ("sound", with_sounds, BELIEVED_WITH_SOUND),
    ):
        total = np.zeros(2, dtype=int)
        for group in sorted({case.group for case in cases}):
            others = fit([case for case in cases if case.group != group], believed)
            within = [case for case in cases if case.group == group]
            if args.show:
                print(f"  {what} {group}")
            counts = report(group, within, others, args.show)
            total += counts
            there = len({(c.source, c.reading.stretch.first) for c in within if c.right})
            print(f"{what:6} {group:40} right {counts[0]:3} wrong {counts[1]:3} of about {there}")
        print(f"{what:6} {'together':40} right {total[0]:3} wrong {total[1]:3}")
    fitted = {"words": fit(with_words, BELIEVED), "sound": fit(with_sounds, BELIEVED_WITH_SOUND)}
    print(json.dumps(fitted, indent=1))
    if not args.dry:
        (WEIGHTS / "mend.json").write_text(json.dumps(fitted, indent=1) + "\n", "utf-8")


if __name__ == "__main__":
    main()
