"""Where heard words stand in the words that were spoken."""

from __future__ import annotations

import re
from collections.abc import Sequence

from reviewer.records import Word


def places(heard: Sequence[Word], spoken: Sequence[Word]) -> dict[int, int]:
    """Index of a heard word -> index of the spoken word it stands for; words too many have none.

    The two are laid beside each other with the fewest changes (Levenshtein).
    """
    from rapidfuzz.distance import Levenshtein

    found: dict[int, int] = {}
    for step in Levenshtein.opcodes(_plain(heard), _plain(spoken)):
        if step.tag in ("equal", "replace"):
            found.update(
                zip(range(step.src_start, step.src_end), range(step.dest_start, step.dest_end), strict=True)
            )
    return found


def _plain(words: Sequence[Word]) -> list[str]:
    return [re.sub(r"[^\w']", "", word.text.lower()) for word in words]
