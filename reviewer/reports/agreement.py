"""How far two gradings of the same reps agree: two graders, or the machine's first reading and the
coach's confirmed rows. Cohen's kappa (weighted where values are ordered) with its interval, and the
fields that differ most."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reviewer.alignment import align
from reviewer.errors import InputError
from reviewer.records import GRADE_FIELDS, LIST_FIELDS, GradeRow
from reviewer.reports.document import Cell, Document, Table
from reviewer.reports.intervals import Share, share
from reviewer.reports.kappa import Kappa, cross_table, kappa
from reviewer.reports.reps import GradedRep, field_values
from reviewer.reports.wording import FIELD_TITLES

ORDERED: dict[str, tuple[Any, ...]] = {"verdict": ("loss", "neutral", "win"), "down": (1, 2, 3, 4)}
"""Fields whose values have an order: kappa is weighted linearly, on rows where both have a value."""

UNSAID = "(nothing)"
MOST_DIFFERENCES = 3

Pair = tuple[GradeRow, GradeRow]


@dataclass(frozen=True)
class FieldAgreement:
    """Agreement in one field.

    same: rows in which both have the very same value (an empty one counts), of all rows in which
    either has one. kappa: over the rows; for lists over every term that either used and every row
    (named or not named); None when nothing can be said. differences: (first's, second's, how often).
    """

    field: str
    same: Share
    kappa: Kappa | None
    weighted: bool
    differences: tuple[tuple[str, str, int], ...]

    @property
    def differing(self) -> int:
        return self.same.total - self.same.hits


@dataclass(frozen=True)
class Agreement:
    """Agreement of two gradings. only_first, only_second: rows that the other has not."""

    first: str
    second: str
    pairs: int
    fields: tuple[FieldAgreement, ...]
    only_first: int
    only_second: int


def agreement(
    pairs: Sequence[Pair], first: str, second: str, only_first: int = 0, only_second: int = 0
) -> Agreement:
    """Compare rows that are graded twice. Fields that nobody filled are left out.

    Raises InputError when no row is graded by both.
    """
    if not pairs:
        raise InputError(f"{first} and {second} have no graded rep in common; nothing can be compared.")
    fields = [found for field in GRADE_FIELDS if (found := _field(field, pairs)) is not None]
    return Agreement(first, second, len(pairs), tuple(fields), only_first, only_second)


def _field(field: str, pairs: Sequence[Pair]) -> FieldAgreement | None:
    values = [(field_values(one, field), field_values(two, field)) for one, two in pairs]
    used = [(one, two) for one, two in values if one or two]
    if not used:
        return None
    same = sum(set(one) == set(two) for one, two in used)
    differences = Counter((_text(one), _text(two)) for one, two in used if set(one) != set(two))
    return FieldAgreement(
        field,
        share(same, len(used)),
        _kappa(field, pairs, values),
        field in ORDERED,
        tuple((one, two, count) for (one, two), count in differences.most_common(MOST_DIFFERENCES)),
    )


def _text(values: tuple[str, ...]) -> str:
    return ", ".join(values) or UNSAID


def _kappa(
    field: str, pairs: Sequence[Pair], values: Sequence[tuple[tuple[str, ...], tuple[str, ...]]]
) -> Kappa | None:
    if field in ORDERED:
        both = [(getattr(one, field), getattr(two, field)) for one, two in pairs]
        told = [(one, two) for one, two in both if one is not None and two is not None]
        return kappa(cross_table(told, ORDERED[field]), "linear") if told else None
    if field in LIST_FIELDS:
        terms = {term for one, two in values for term in (*one, *two)}
        decisions = [(term in one, term in two) for one, two in values for term in terms]
        return kappa(cross_table(decisions, (False, True)))
    named = [(_text(one), _text(two)) for one, two in values]
    order = sorted({text for pair in named for text in pair})
    return kappa(cross_table(named, order))


@dataclass(frozen=True)
class Paired:
    """Rows of two notes on the same film, matched."""

    pairs: tuple[Pair, ...]
    only_first: int
    only_second: int


def pair_rows(first: Sequence[GradedRep], second: Sequence[GradedRep]) -> Paired:
    """Match the reps of two gradings of one film by order and situation, then the men within a rep.

    Reps that both were matched to a play of the game's list are matched by that play.
    """
    ours, theirs = _by_rep(first), _by_rep(second)
    scores = [[_likeness(one, two) for two in theirs] for one in ours]
    pairs: list[Pair] = []
    for match in align(scores, skip_first=-2.0, skip_second=-2.0):
        others = {rep.row.player: rep.row for rep in theirs[match.second]}
        pairs += [(rep.row, others[rep.row.player]) for rep in ours[match.first] if rep.row.player in others]
    return Paired(tuple(pairs), len(first) - len(pairs), len(second) - len(pairs))


def _by_rep(reps: Sequence[GradedRep]) -> list[list[GradedRep]]:
    found: dict[int, list[GradedRep]] = {}
    for rep in sorted(reps, key=lambda r: (r.row.rep, r.row.start)):
        found.setdefault(rep.row.rep, []).append(rep)
    return list(found.values())


SITUATION = ("down", "distance", "phase", "concepts", "play_result")
ALIKE, UNLIKE = 1.2, -1.5
SAME_PLAY, OTHER_PLAY = 8.0, -8.0


def _likeness(one: Sequence[GradedRep], two: Sequence[GradedRep]) -> float:
    """How much likelier two reps look as they do when they are one snap (a logarithm, by rough guess)."""
    plays = {rep.play for rep in one if rep.play}, {rep.play for rep in two if rep.play}
    if all(plays):
        return SAME_PLAY if plays[0] & plays[1] else OTHER_PLAY
    total = 0.0
    for field in SITUATION:
        values = [{v for rep in side for v in field_values(rep.row, field)} for side in (one, two)]
        if all(values):
            total += ALIKE if values[0] & values[1] else UNLIKE
    men = [{rep.row.player for rep in side if rep.row.player} for side in (one, two)]
    if all(men):
        total += ALIKE if men[0] & men[1] else UNLIKE
    return total


def agreement_document(found: Agreement) -> Document:
    """The agreement laid out: the fields that differ most come first."""
    columns = {
        "field": "Field",
        "same": "The same",
        "kappa": "Kappa (95 %)",
        "weighted": "Weights",
        "differences": "Differs mostly",
    }
    ordered = sorted(found.fields, key=lambda f: (-f.differing, f.field))
    rows: list[tuple[Cell, ...]] = [
        (
            FIELD_TITLES.get(f.field, f.field),
            f.same,
            f.kappa,
            "linear" if f.weighted else "none",
            "; ".join(f"{one} / {two} ({count})" for one, two, count in f.differences),
        )
        for f in ordered
    ]
    about = (
        "The same: share of the rows in which either has a value, 95 % interval. Kappa: agreement beyond "
        "chance; for lists, over every term either used. Words after Landis and Koch (1977)."
    )
    remarks = []
    for name, count in ((found.first, found.only_first), (found.second, found.only_second)):
        if count:
            remarks.append(f"{count} {'row is' if count == 1 else 'rows are'} only in {name}.")
    return Document(
        title=f"{found.first} and {found.second}",
        subtitle="Agreement",
        facts=[("Rows graded by both", found.pairs)],
        remarks=remarks,
        blocks=(Table("fields", "Fields, those that differ most first", columns, rows, about),),
    )
