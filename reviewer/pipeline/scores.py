"""What the sound said about wordings, kept beside the transcript: asking again costs the model."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path

from reviewer.errors import Stopped
from reviewer.language.mend import WordingScorer
from reviewer.speech import atomic


class KeptScorer:
    """A `WordingScorer` that asks the sound only what it was not asked before."""

    def __init__(
        self,
        path: Path,
        make: Callable[[], WordingScorer],
        should_stop: Callable[[], bool] | None = None,
    ) -> None:
        """path: the file of answers. make: the scorer, made at the first new question.

        should_stop: ends the asking; what was answered by then is kept.
        """
        self._path = path
        self._make = make
        self._should_stop = should_stop
        self._inner: WordingScorer | None = None
        self._known = _read(path)
        self._new = False

    def score(self, start: float, end: float, wordings: Sequence[str], /) -> list[float]:
        """See `WordingScorer.score`. Raises Stopped when `should_stop` said so."""
        keys = [f"{start:.3f} {end:.3f} {wording}" for wording in wordings]
        missing = [n for n, key in enumerate(keys) if key not in self._known]
        if missing:
            if self._should_stop is not None and self._should_stop():
                self.keep()
                raise Stopped("stopped while reading; what was heard is kept, grade it again to go on")
            self._inner = self._inner or self._make()
            scores = self._inner.score(start, end, [wordings[n] for n in missing])
            self._known.update(zip((keys[n] for n in missing), scores, strict=True))
            self._new = True
        return [self._known[key] for key in keys]

    def keep(self) -> None:
        """Write the answers; where that fails they are asked for again another time."""
        if self._new:
            with suppress(OSError):
                atomic.write_text(self._path, json.dumps(self._known, ensure_ascii=False))
                self._new = False


_ENDLESS = 1e9
"""No sum of log-probabilities of a wording comes near this."""


def _read(path: Path) -> dict[str, float]:
    try:
        found = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    if not isinstance(found, dict):
        return {}
    known = ((key, value) for key, value in found.items() if isinstance(value, int | float))
    return {key: float(value) for key, value in known if abs(value) < _ENDLESS}
