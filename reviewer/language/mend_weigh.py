"""Weigh whether a stretch was meant to be a target: what speaks for it, one sign at a time.

The weights ship as data (`weights/mend.json`), fitted on spoken development notes by
`python -m tests.fit_mend --weights`; without sound and with sound they differ, for the sound knows most.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from reviewer.language.mend_heard import Stretch, as_slots, as_spoken
from reviewer.language.mend_talk import Talk, as_counted, ordinarily
from reviewer.language.mend_targets import Lexicon, Target
from reviewer.language.numbers import ORDINALS
from reviewer.language.sounds import NUMBER, apart, is_known, sounds_of_all
from reviewer.language.tokens import base_form

MOST_UNLIKE = 0.3
"""Share of a target's sounds that may differ from what was heard."""

LEAST_TALK = 3.0
"""Nats by which a target must be likelier in talk than what was heard, unless it is a known mishearing."""

Signs = Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Reading:
    """A stretch read as a target, and the signs for and against it."""

    stretch: Stretch
    target: Target
    signs: Signs

    def gain(self, weights: Mapping[str, float]) -> float:
        """What speaks for the reading: log odds that it is right."""
        return sum(weights.get(name, 0.0) * value for name, value in self.signs.items())


@lru_cache(maxsize=1)
def mend_weights() -> Mapping[str, Mapping[str, float]]:
    """The weights by what is to be mended: "words" without sound, "sound" with it."""
    weights: Mapping[str, Mapping[str, float]] = json.loads(
        (Path(__file__).parent / "weights" / "mend.json").read_text("utf-8")
    )
    return weights


def read_as(stretch: Stretch, target: Target, lexicon: Lexicon, talk: Talk, listed: bool) -> Reading | None:
    """The stretch read as the target with its signs; None where that cannot be, or changes nothing."""
    pieces = tuple(target.text.lower().replace("-", " ").split())
    said = _comparable(stretch, pieces)
    if said is None or (stretch.pieces == pieces and stretch.named):
        return None
    if target.kind == "term" and _says_it_already(stretch, pieces):
        return None
    talk_says = talk_gain(stretch, target.line, talk)
    if talk_says < LEAST_TALK and not listed:
        return None
    most = MOST_UNLIKE * target.size
    unlike = min(apart(way, theirs, most) for way in sounds_of_all(said) for theirs in target.sounds)
    if unlike > most and not listed:
        return None
    signs = {
        target.kind: 1.0,
        "talk": talk_says,
        "unlike": unlike,
        "share unlike": unlike / target.size,
        "short": max(0.0, 6.0 - target.size),
        "alike": float(unlike < 0.05),
        "doubt": 1.0 - stretch.probability,
        "listed": float(listed),
        "comma": float(stretch.comma),
        **_word_signs(stretch, pieces, target),
    }
    if target.kind == "term":
        signs["breaks a term"] = float(_breaks(stretch, pieces, lexicon))
    return Reading(stretch, target, {name: value for name, value in signs.items() if value})


def talk_gain(stretch: Stretch, line: Sequence[str], talk: Talk) -> float:
    """How much likelier a wording is in talk than what was heard, in nats, with what follows."""
    start = len(stretch.before)
    new = talk.line([*stretch.before, *line, *stretch.after], start)
    return new - talk.line([*stretch.before, *stretch.counted, *stretch.after], start)


def _word_signs(stretch: Stretch, pieces: Sequence[str], target: Target) -> dict[str, float]:
    """What the words themselves tell: whether they are words, whether they look like a name."""
    changed = [p for p in stretch.pieces if p not in pieces and p != "'s" and not p[0].isdigit()]
    strange = any(not is_known(p) for p in changed)
    common = max((max(0.0, 12.0 + ordinarily(p)) for p in changed), default=0.0)
    told = {"more words": float(max(0, len(stretch.pieces) - len(pieces)))}
    kind = target.kind
    told[f"strange {kind}"] = float(strange)
    told[f"common {kind}"] = 0.0 if strange else common / 10
    if kind == "name":
        told["capital"] = float(stretch.capital)
        told["given name"] = float(target.given)
    else:
        told["kept"] = sum(p in stretch.pieces for p in pieces) / len(pieces)
    return told


def _comparable(stretch: Stretch, pieces: tuple[str, ...]) -> tuple[str, ...] | None:
    """The stretch as it is to be compared with a target; None where a number would be lost or changed."""
    if NUMBER in pieces:
        slots = as_slots(stretch.pieces)
        return slots if slots.count(NUMBER) == pieces.count(NUMBER) and slots != pieces else None
    said = as_spoken(stretch.pieces)
    numbers = [p for p in said if _counts(p)]
    return None if numbers and numbers != [p for p in pieces if _counts(p)] else said


def _counts(piece: str) -> bool:
    return piece in ORDINALS or as_counted([piece]) == [NUMBER]


def _says_it_already(stretch: Stretch, pieces: tuple[str, ...]) -> bool:
    """Whether the target is heard already, or is no more than what was heard with words more or less."""
    heard = tuple(map(base_form, as_spoken(stretch.pieces)))
    meant = tuple(map(base_form, pieces))
    return _within(heard, meant) or _within(meant, heard)


def _within(part: tuple[str, ...], whole: tuple[str, ...]) -> bool:
    return any(whole[k : k + len(part)] == part for k in range(len(whole) - len(part) + 1))


def _breaks(stretch: Stretch, pieces: tuple[str, ...], lexicon: Lexicon) -> bool:
    """Whether the stretch says a term as heard that the target would take away."""
    heard = tuple(map(base_form, as_spoken(stretch.pieces)))
    meant = tuple(map(base_form, pieces))
    for first in range(len(heard)):
        for last in range(first + 1, len(heard) + 1):
            part = heard[first:last]
            if part in lexicon.said and not _within(part, meant):
                return True
    return False
