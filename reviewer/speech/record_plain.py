"""Record without a screen: for a script, or where there is no terminal."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress

from reviewer.speech.record_desk import Desk
from reviewer.speech.record_notes import Recording, describe
from reviewer.speech.record_state import State

_POLL_S = 0.1


def record_plain(desk: Desk, *, tell: Callable[[str], None], should_stop: Callable[[], bool]) -> Recording:
    """Record until `should_stop` says so, or what is followed has ended; keep what there is.

    tell: gets each new sentence about what goes on. A microphone lost or a full disk ends the note,
    since nobody is there to put it right. Raises SoundError where nothing was recorded.
    """
    for note in desk.unfinished():
        tell(f"Unfinished: {describe(note)}; it is kept, and can be gone on with on the screen.")
    try:
        desk.open()
        if desk.view().state is State.READY:
            desk.toggle()
        told: set[str] = set()
        with suppress(KeyboardInterrupt):  # Ctrl-C ends a note, it does not lose it
            while not (should_stop() or desk.ended):
                view = desk.view()
                for sentence in (f"{view.headline}.", *view.warnings):
                    if sentence not in told:
                        told.add(sentence)
                        tell(sentence)
                if view.state is State.PAUSED:
                    break
                time.sleep(_POLL_S)
        if desk.ended:
            tell(desk.view().headline)
        return desk.finish()
    finally:
        desk.close()
