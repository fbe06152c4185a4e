"""Small logistic models over named features; weights ship as data, learned from the annotated
development notes by `python -m tests.fit`.

Each answer is a probability, so the doubt of every reading can be shown.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

SHIPPED = Path(__file__).parent / "weights"


@dataclass(frozen=True)
class Judge:
    """A multinomial logistic model. `weights[label][feature]`; a label's bias is its "" feature."""

    labels: tuple[str, ...]
    weights: Mapping[str, Mapping[str, float]]

    def probabilities(self, features: Mapping[str, float] | Iterable[str]) -> dict[str, float]:
        """Probability of each label."""
        values = features if isinstance(features, Mapping) else dict.fromkeys(features, 1.0)
        scores = {
            label: table.get("", 0.0) + sum(table.get(name, 0.0) * value for name, value in values.items())
            for label, table in self.weights.items()
        }
        top = max(scores.values())
        exp = {label: math.exp(s - top) for label, s in scores.items()}
        total = sum(exp.values())
        return {label: e / total for label, e in exp.items()}

    def probability(self, features: Mapping[str, float] | Iterable[str]) -> float:
        """Probability of "yes" of a two-label model."""
        return self.probabilities(features)["yes"]


_loaded: dict[str, Any] = {}
_folder = SHIPPED


def load_weights(name: str) -> Any:
    """A weights file's data, read once."""
    if name not in _loaded:
        _loaded[name] = json.loads((_folder / f"{name}.json").read_text("utf-8"))
    return _loaded[name]


def load_judge(name: str) -> Judge:
    """A judge by name."""
    key = f"judge {name}"
    if key not in _loaded:
        data = load_weights(name)
        _loaded[key] = Judge(tuple(data["labels"]), data["weights"])
    judge: Judge = _loaded[key]
    return judge


@contextmanager
def weights_from(folder: Path) -> Iterator[None]:
    """Use other weights for a while, as cross-validation does."""
    global _folder
    before, _folder = _folder, folder
    _loaded.clear()
    try:
        yield
    finally:
        _folder = before
        _loaded.clear()
