"""What was said about each man of a rep, before anything is decided: the records of `draft`."""

from __future__ import annotations

from dataclasses import dataclass, field

from reviewer.language.focus import Focus
from reviewer.language.marks import Mark
from reviewer.language.opponents import Opponent
from reviewer.language.situation import Situation
from reviewer.language.split import Cut
from reviewer.language.tag import TermSpan


@dataclass
class Candidate:
    """A term span that may fill a field of one man's row, with what is known of it."""

    span: TermSpan
    features: list[str]


@dataclass
class Cue:
    """A judging span with its effective polarity: +, - or 0 times its weight."""

    span: TermSpan
    polarity: float
    explicit: bool
    features: list[str]


@dataclass
class RowDraft:
    """What was said about one man in one rep."""

    man: str | None
    default: bool
    sentences: list[int]
    candidates: list[Candidate] = field(default_factory=list)
    cues: list[Cue] = field(default_factory=list)
    opponents: list[Opponent] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    features: list[str] = field(default_factory=list)


@dataclass
class RepDraft:
    """A rep: its sentences, situation, and a draft per man who may be graded in it."""

    index: int
    cut: Cut
    focus: Focus
    situation: Situation | None
    rows: list[RowDraft] = field(default_factory=list)
