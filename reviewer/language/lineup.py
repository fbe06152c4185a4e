"""What follows from where men line up: shades by the man's position, sides by the way a run goes.

Both are plain trade facts (common practice, no source) applied to words that were said.
"""

from __future__ import annotations

from collections.abc import Sequence

from reviewer.language.analysis import Analysis
from reviewer.language.decided import Decided
from reviewer.language.people import people_words

SAID_BY_DIRECTION = 0.85
NOTHING = Decided(None, 1.0, [])


def shade_alignment(cue: str, position: str | None) -> str | None:
    """The alignment that "head up", "inside shade" or "outside shade" means over a man of a position."""
    found = people_words()["shades"].get(cue, {}).get(position)
    return None if found is None else str(found)


def side_by_direction(analysis: Analysis, sentences: Sequence[int], position: str | None) -> Decided:
    """Playside or backside by the way the run was said to go ("power to the right")."""
    words = people_words()
    between = set(words["direction"]["between"])
    barred = set(words["direction"]["not_a_way_before"])
    tokens = analysis.text.tokens
    for k in sentences:
        sentence = analysis.text.sentences[k]
        for concept in analysis.cues(k, "concepts"):
            at = concept.last
            while at < sentence.last and at - concept.last <= 6:
                text = tokens[at].text
                following = tokens[at + 1].text if at + 1 < sentence.last else ""
                if text in words["sides"] and following not in barred:
                    inside = position in words["sides"][text]
                    other = position in words["sides"]["left" if text == "right" else "right"]
                    if inside or other:
                        return Decided(
                            "playside" if inside else "backside", SAID_BY_DIRECTION, [(concept.first, at + 1)]
                        )
                    return NOTHING
                if text not in between:
                    break
                at += 1
    return NOTHING
