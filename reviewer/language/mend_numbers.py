"""Jerseys that nobody wears: what else the speaker may have said. Offered, never put in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reviewer.language.mend_heard import as_spoken
from reviewer.language.situation import Figures
from reviewer.language.sounds import apart, sounds_of_all
from reviewer.language.tokens import TokenText
from reviewer.records import NoteContext

MOST_UNLIKE = 2.0
"""How far another jersey may sound from the one that was heard: "ninety-five" from "ninety-four" is 1.4."""

_MOST_OFFERED = 3


def alternatives(text: TokenText, figures: Figures, context: NoteContext) -> list[dict[str, Any]]:
    """For each jersey heard that is on no roster, the jerseys of the roster that sound like it.

    Each is {"word", "start", "end", "heard", "read", "why"}: index of its first word, seconds, the number
    heard, the jerseys that it may be, the likeliest first, and a sentence. Without a roster of both
    sides nobody can tell that a number is worn by none.
    """
    worn = {man.jersey for man in context.roster} | ({context.player} if context.player else set())
    if {man.side for man in context.roster} != {"own", "opp"}:
        return []
    found = []
    for use in figures.numbers:
        heard = use.number.digits
        if use.use != "jersey" or use.withdrawn or heard in worn:
            continue
        read = _sounding_like(heard, sorted(worn))
        if read:
            first, last = text.tokens[use.number.first].word, text.tokens[use.number.last - 1].word
            found.append(
                {
                    "word": first,
                    "start": text.words[first].start,
                    "end": text.words[last].end,
                    "heard": heard,
                    "read": read,
                    "why": f"Nobody on the rosters wears {heard}; {_or(read)} sounds like it.",
                }
            )
    return found


def _sounding_like(heard: str, worn: Sequence[str]) -> list[str]:
    said = _said(heard)
    near = sorted((apart(said, _said(jersey), MOST_UNLIKE), jersey) for jersey in worn)
    return [jersey for unlike, jersey in near if unlike <= MOST_UNLIKE][:_MOST_OFFERED]


def _said(jersey: str) -> str:
    return sounds_of_all(as_spoken([jersey]))[0]


def _or(jerseys: Sequence[str]) -> str:
    return jerseys[0] if len(jerseys) == 1 else f"{', '.join(jerseys[:-1])} or {jerseys[-1]}"
