"""Places that the speaker asked to be marked ("mark it"); the wordings are in `vocab/talk.toml`."""

from __future__ import annotations

from typing import Any

from reviewer.language.analysis import Analysis

MARK = "mark it"
"""The command's name in the vocabulary."""


def spoken_marks(analysis: Analysis) -> list[dict[str, Any]]:
    """Each mark as {"start", "end", "heard"}: seconds in the recording and the words that asked for it."""
    found = []
    for span in analysis.spans:
        if span.group == "command" and span.id == MARK:
            said = analysis.evidence(span.first, span.last)
            found.append({"start": said.start, "end": said.end, "heard": said.heard})
    return found
