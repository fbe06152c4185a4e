"""A linear chain over sentences: the best labels together, not one by one.

A conditional random field with hand-made binary features. Weights are learned from the annotated
notes by `python -m tests.fit` and ship as data; decoding is plain dynamic programming.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Chain:
    """labels and features name the axes; state[f, y] and move[y0, y1] are log weights; start[y] too.

    allowed[y0, y1] is False where a label can never follow another.
    """

    labels: tuple[str, ...]
    features: Mapping[str, int]
    state: Floats
    move: Floats
    start: Floats

    def scores(self, sentences: Sequence[Sequence[str]]) -> Floats:
        """Log weight of each label at each sentence."""
        out = np.zeros((len(sentences), len(self.labels)))
        for k, names in enumerate(sentences):
            rows = [self.features[n] for n in names if n in self.features]
            if rows:
                out[k] = self.state[rows].sum(axis=0)
        return out

    def decode(self, sentences: Sequence[Sequence[str]]) -> tuple[list[str], Floats]:
        """The best label sequence and each label's marginal probability per sentence."""
        if not sentences:
            return [], np.zeros((0, len(self.labels)))
        unary = self.scores(sentences)
        best = viterbi(unary, self.move, self.start)
        forward, backward, total = forward_backward(unary, self.move, self.start)
        marginals = np.exp(forward + backward - total)
        return [self.labels[y] for y in best], marginals


def viterbi(unary: Floats, move: Floats, start: Floats) -> list[int]:
    """The best path."""
    length, count = unary.shape
    score = start + unary[0]
    back = np.zeros((length, count), dtype=int)
    for k in range(1, length):
        step = score[:, None] + move
        back[k] = step.argmax(axis=0)
        score = step.max(axis=0) + unary[k]
    path = [int(score.argmax())]
    for k in range(length - 1, 0, -1):
        path.append(int(back[k, path[-1]]))
    return path[::-1]


def _lse(values: Floats, axis: int) -> Floats:
    top = values.max(axis=axis, keepdims=True)
    out: Floats = np.squeeze(top, axis) + np.log(np.exp(values - top).sum(axis=axis))
    return out


def forward_backward(unary: Floats, move: Floats, start: Floats) -> tuple[Floats, Floats, float]:
    """Log forward and backward messages and the log partition."""
    length = len(unary)
    forward = np.zeros_like(unary)
    backward = np.zeros_like(unary)
    forward[0] = start + unary[0]
    for k in range(1, length):
        forward[k] = _lse(forward[k - 1][:, None] + move, 0) + unary[k]
    for k in range(length - 2, -1, -1):
        backward[k] = _lse(move + (unary[k + 1] + backward[k + 1])[None, :], 1)
    total = float(_lse(forward[-1][None, :], 1)[0])
    return forward, backward, total
