"""What a speech model is told before it hears a note: the men on the field and the trade's talk.

It is the same for the same roster whatever the coach taught since, so that a recording heard once is
not heard again for every word that he teaches.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from reviewer import paths
from reviewer.records import NoteContext, RosterEntry


@dataclass(frozen=True, slots=True)
class Expected:
    """A prompt and hotwords, as `reviewer.speech.transcribe.hear` takes them; "" for nothing."""

    prompt: str = ""
    hotwords: str = ""


def expected(context: NoteContext) -> Expected:
    """What to expect in a note: opponent, the roster's men, the trade's talk (`vocab/prompt.toml`)."""
    told = _told()
    names = ", ".join(f"{man.jersey} {man.name}" for man in _men(context, told["most_names"]))
    opponent = f"The {context.opponent}." if context.opponent else ""
    before = " ".join(part for part in (opponent, f"{names}." if names else "") if part)
    return Expected(f"{before} {told['sentences'].strip()}".strip(), ", ".join(told["words"]))


def _men(context: NoteContext, most: int) -> list[RosterEntry]:
    """The man under review, then the others in the order of the roster."""
    ordered = sorted(context.roster, key=lambda man: not (man.side == "own" and man.jersey == context.player))
    return ordered[:most]


@lru_cache(maxsize=1)
def _told() -> dict[str, Any]:
    return tomllib.loads((paths.vocabulary() / "prompt.toml").read_text("utf-8"))
