"""A decided field, with how likely it is and the words that said it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass
class Decided:
    """A field's value with its probability and the tokens that said it."""

    value: Any
    probability: float
    spans: list[tuple[int, int]]
