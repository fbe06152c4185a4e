"""Which reps to show a player: teaching and highlight, with a balance of wins and losses."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from reviewer.reports.reps import GradedRep, in_order


@dataclass(frozen=True)
class Showing:
    """Reps worth showing, each list in film order.

    balanced: False when the reps at hand could not give as many wins as losses.
    """

    teach: tuple[GradedRep, ...]
    highlight: tuple[GradedRep, ...]

    @property
    def balanced(self) -> bool:
        return len(self.teach) == len(self.highlight)


def to_show(reps: Sequence[GradedRep], count: int = 10) -> Showing:
    """Up to `count` reps, half of them wins to keep doing and half losses to learn from.

    What the coach labelled himself ("teach", "highlight") comes first; then reps that say most
    (terms, events), each next one preferring terms not shown yet. A rep flagged for head contact
    or injury is never chosen by itself: showing it is the coach's own decision.
    """
    half = count // 2
    highlight = _choose([r for r in reps if r.row.verdict == "win" and _showable(r)], half, "highlight")
    teach = _choose([r for r in reps if r.row.verdict == "loss" and _showable(r)], half, "teach")
    return Showing(tuple(in_order(teach)), tuple(in_order(highlight)))


def _showable(rep: GradedRep) -> bool:
    return not rep.row.safety or bool(rep.row.labels)


def _terms(rep: GradedRep) -> list[str]:
    row = rep.row
    return [*row.techniques, *row.faults, *row.moves, *row.games, *row.events]


def _choose(candidates: list[GradedRep], wanted: int, label: str) -> list[GradedRep]:
    shown: Counter[str] = Counter()
    chosen: list[GradedRep] = []
    left = in_order(candidates)

    def worth(rep: GradedRep) -> tuple[int, int, float]:
        fresh = sum(1 / (1 + shown[term]) for term in _terms(rep))
        # A label of either kind is the coach's own choice and beats any count of terms.
        return (2 * (label in rep.row.labels) + bool(rep.row.labels), len(rep.row.events), fresh)

    while left and len(chosen) < wanted:
        best = max(left, key=worth)
        left.remove(best)
        chosen.append(best)
        shown.update(_terms(best))
    return chosen
