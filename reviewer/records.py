"""The typed records that pass between the layers.

recording -> `Word` -> mended `Word` -> `Rep` -> `GradeRow` -> store -> screens and reports.
Times are seconds from the start of the recording. Every record carries where it came from.
The grade row's fields and their meaning are the project's contract; `shared/schemas/` holds
the JSON schema generated from this module.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

Verdict = Literal["win", "loss", "neutral"]
Mark = Literal["+", "-"]
Phase = Literal["run", "pass"]
Side = Literal["playside", "backside"]
Level = Literal["professional", "college", "high school"]

LIST_FIELDS: tuple[str, ...] = (
    "concepts", "opponents", "techniques", "faults", "moves", "games", "events", "safety", "labels",
)  # fmt: skip
"""Fields of a grade row that hold a list."""

GRADE_FIELDS: tuple[str, ...] = (
    "player", "position", "down", "distance", "goal_to_go", "phase", "concepts", "side", "alignment",
    "opponents", "set", "techniques", "faults", "moves", "games", "verdict", "assignment", "technique",
    "finish", "events", "play_result", "safety", "labels",
)  # fmt: skip
"""Fields of a grade row that a coach can correct, in the order they are shown."""


@dataclass(frozen=True, slots=True)
class Word:
    """One spoken word, as the tool reads it, with its time and what was heard.

    text: the word as read, punctuation attached as the speech model wrote it ("stunt,").
    start, end: seconds in the recording.
    probability: the speech model's own probability of the word, 0..1.
    heard: None when the word is read as it was heard; else the words as heard. Where several
        heard words became several read ones, the first carries all of them and the others "".
    """

    text: str
    start: float
    end: float
    probability: float = 1.0
    heard: str | None = None


@dataclass(frozen=True, slots=True)
class Mend:
    """A stretch of words read otherwise than heard.

    first, last: indices into the mended words, last exclusive.
    score: how sure the mend is, 0..1. term: the vocabulary id it serves, "" for a number.
    """

    first: int
    last: int
    start: float
    end: float
    heard: str
    read: str
    score: float
    term: str = ""


@dataclass(frozen=True, slots=True)
class RosterEntry:
    """One man of a roster. `jersey` as worn ("0", "00", "76"); `side` is "own" or "opp"."""

    jersey: str
    name: str
    position: str
    side: Literal["own", "opp"]


@dataclass(frozen=True, slots=True)
class NoteContext:
    """What is known of a note before it is read; every field may be empty.

    player: jersey of the default player under review. opponent: the other team's name.
    game: how the user names the game. roster: both teams' men. level sets the numbering rules.
    """

    player: str | None = None
    position: str | None = None
    opponent: str | None = None
    game: str | None = None
    roster: tuple[RosterEntry, ...] = ()
    level: Level | None = None


@dataclass(frozen=True, slots=True)
class Rep:
    """One snap as talked about. `stretches` are (first, last) word indices, last exclusive, in
    spoken order; remarks back from later in the note are further stretches."""

    index: int
    start: float
    end: float
    stretches: tuple[tuple[int, int], ...]


class Evidence(BaseModel):
    """Where in the recording a value was said: seconds, words as heard, words as read."""

    model_config = ConfigDict(frozen=True)

    start: float
    end: float
    heard: str
    read: str


class GradeRow(BaseModel):
    """One player's grade on one rep. A value that was not said is None, empty or False.

    `field_confidence` (not part of the exchanged row) holds a calibrated 0..1 per field.
    """

    model_config = ConfigDict(extra="forbid")

    rep: int = Field(ge=1)
    start: float
    end: float
    player: str | None = None
    position: str | None = None
    down: int | None = Field(default=None, ge=1, le=4)
    distance: int | None = Field(default=None, ge=0, le=99)
    goal_to_go: bool = False
    phase: Phase | None = None
    concepts: list[str] = []
    side: Side | None = None
    alignment: str | None = None
    opponents: list[str] = []
    set: str | None = None
    techniques: list[str] = []
    faults: list[str] = []
    moves: list[str] = []
    games: list[str] = []
    verdict: Verdict = "neutral"
    assignment: Mark | None = None
    technique: Mark | None = None
    finish: Mark | None = None
    events: list[str] = []
    play_result: str | None = None
    safety: list[str] = []
    labels: list[str] = []
    confidence: float = Field(default=0.0, ge=0, le=1)
    evidence: dict[str, list[Evidence]] = {}
    field_confidence: dict[str, float] = Field(default={}, exclude=True)


@dataclass(frozen=True)
class Reading:
    """What reading a note gives: the words after mending, the mends, the reps and the rows.

    A rep with several graded players has several rows; rows stand in spoken order.
    """

    words: Sequence[Word]
    mends: Sequence[Mend] = ()
    reps: Sequence[Rep] = ()
    rows: Sequence[GradeRow] = ()
    remarks: Mapping[str, Any] = field(default_factory=dict)
