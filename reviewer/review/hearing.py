"""Which stretch of the recording to play, and from which file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from reviewer import paths
from reviewer.errors import InputError
from reviewer.review.plain import clock, plain
from reviewer.review.session import Session
from reviewer.review.slots import Slot

if TYPE_CHECKING:
    from reviewer.speech.sound_play import Playback

AROUND_S = 0.8
"""So many seconds before and after the words of one field are played too."""

EDGE_S = 0.3
"""So many seconds before and after the words of a row."""

SLOWER = 0.7
"""Slower playing, as a share of the spoken speed."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of a recording in seconds, and what it is."""

    path: Path
    start_s: float
    end_s: float
    name: str


def recording(session: Session) -> Path:
    """The note's recording. Raises InputError where the note has none or its file is gone."""
    note = session.note
    if note.kind != "audio" or not note.source:
        kind = {"captions": "captions", "text": "text"}.get(note.kind, "words only")
        raise InputError(f"This note came as {kind}: there is no recording to hear.")
    given = Path(note.source).expanduser()
    kept = paths.recordings() / given.name
    for place in (given, kept):
        if place.is_file():
            return place
    raise InputError(
        f"The recording {plain(given.name)} is gone; put it back at {plain(str(given))} to hear it."
    )


def stretch_of(session: Session, slot: Slot | None = None) -> Stretch:
    """What to play: the words of a slot, or (None, or where no words gave it) of the whole row.

    Raises InputError as `recording` does, or when there is no row.
    """
    row = session.row
    if row is None:
        raise InputError("There is no row here to hear.")
    path = recording(session)
    said = [e for name in slot.fields for e in row.current.evidence.get(name, ())] if slot else []
    if slot is not None and said:
        start, end = min(e.start for e in said), max(e.end for e in said)
        return Stretch(path, max(0.0, start - AROUND_S), end + AROUND_S, f"the words for {slot.label}")
    rep = session.state.rep(row.rep_id)
    start, end = row.start, row.end
    if rep and rep.stretches:
        first, last = rep.stretches[0]
        start, end = session.words[first].start, session.words[last - 1].end
    return Stretch(path, max(0.0, start - EDGE_S), end + EDGE_S, f"rep {row.current.rep}")


class Player:
    """Plays stretches, one at a time."""

    def __init__(self) -> None:
        self._now: Playback | None = None
        self.stretch: Stretch | None = None

    @property
    def playing(self) -> bool:
        """Whether there is still sound to come."""
        return self._now is not None and self._now.playing

    @property
    def at_s(self) -> float | None:
        """The second of the recording that is heard now, None when nothing plays."""
        if self._now is None or self.stretch is None or not self._now.playing:
            return None
        return self.stretch.start_s + self._now.position_s

    def play(self, stretch: Stretch, speed: float = 1.0) -> str:
        """Start to play, in the place of what plays now. Raises SoundError without a speaker, InputError
        where the file cannot be read."""
        from reviewer.speech.sound_play import play_span

        self.stop()
        self._now = play_span(stretch.path, stretch.start_s, stretch.end_s, speed=speed)
        self.stretch = stretch
        slow = ", slower" if speed < 1 else ""
        return f"Playing {stretch.name}, {clock(stretch.start_s)}–{clock(stretch.end_s)}{slow}; h stops it."

    def stop(self) -> bool:
        """Stop; False when nothing was playing."""
        was = self.playing
        if self._now is not None:
            self._now.stop()
        self._now = None
        return was
