"""From a moment of the recording to a moment of the film: a line through one or more sync marks.

A sync mark says that at this second of the recording the film stood at that second. One mark gives
an offset; from two on, a line is fitted by least squares, for two clocks never run quite alike. With
three or more its error can be seen, and is always shown: where the film was stopped and run back
while the coach talked, no line fits, and the error says so.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import linear_regression

from reviewer.errors import InputError
from reviewer.reports.cuts.timecode import Rate, from_timecode, seconds_of

ODD_SPEED = 0.02
"""A slope further from 1 than this is no clock's drift: the film did not run along with the talk."""


@dataclass(frozen=True, slots=True)
class SyncMark:
    """At `recording_s` of the recording the film stood at `film_s` (seconds from its first frame)."""

    recording_s: float
    film_s: float


@dataclass(frozen=True)
class SyncLine:
    """film seconds = offset_s + speed * recording seconds.

    residuals_s: each mark's film time minus the line's. error_s: their standard error, None with
    fewer than three marks (a line through two always fits).
    """

    offset_s: float
    speed: float
    residuals_s: tuple[float, ...]
    error_s: float | None

    def film(self, recording_s: float) -> float:
        """The film's second at a second of the recording; never before the first frame."""
        return max(0.0, self.offset_s + self.speed * recording_s)

    @property
    def odd(self) -> bool:
        """Whether the film cannot have run along with the talk all the time."""
        return abs(self.speed - 1) > ODD_SPEED

    def words(self) -> str:
        """The line and its error for people."""
        marks = len(self.residuals_s)
        head = f"{marks} sync {'mark' if marks == 1 else 'marks'}: film = {self.offset_s:+.2f} s"
        head += f" + {self.speed:.5f} x recording" if marks > 1 else " + recording"
        if self.error_s is None:
            tail = f"; no error can be told from {'one mark' if marks == 1 else 'two marks'}."
        else:
            worst = max(map(abs, self.residuals_s))
            tail = f"; standard error {self.error_s:.2f} s, largest {worst:.2f} s."
        return head + tail + (" The film did not run along with the talk." if self.odd else "")


SAME = SyncLine(0.0, 1.0, (), None)
"""The recording is the film's own sound: no marks needed."""


def fit(marks: Sequence[SyncMark]) -> SyncLine:
    """The line through the marks. Raises InputError for none, or marks at one moment that disagree."""
    if not marks:
        raise InputError(
            "There is no sync mark; give one as --sync RECORDING=FILM, for example 12.5=00:04:10:00."
        )
    if len(marks) == 1:
        only = marks[0]
        return SyncLine(only.film_s - only.recording_s, 1.0, (0.0,), None)
    recording = [mark.recording_s for mark in marks]
    film = [mark.film_s for mark in marks]
    if max(recording) - min(recording) < 1e-6:
        raise InputError("All sync marks are at one moment of the recording; set a second one elsewhere.")
    speed, offset = linear_regression(recording, film)
    if speed <= 0:
        raise InputError("The sync marks say that the film runs backwards; check their times.")
    residuals = tuple(f - (offset + speed * r) for r, f in zip(recording, film, strict=True))
    error = math.sqrt(sum(r * r for r in residuals) / (len(marks) - 2)) if len(marks) > 2 else None
    return SyncLine(offset, speed, residuals, error)


def read_mark(text: str, rate: Rate) -> SyncMark:
    """A mark as typed: RECORDING=FILM, each as seconds ("12.5"), a clock ("4:10.5") or, for the film, a
    timecode with frames ("00:04:10;12")."""
    recording, equals, film = text.partition("=")
    if not equals:
        raise InputError(f"{text!r} is no sync mark; write RECORDING=FILM, for example 12.5=00:04:10:00.")
    return SyncMark(read_moment(recording, rate), read_moment(film, rate))


def read_moment(text: str, rate: Rate) -> float:
    """Seconds from "12.5", "4:10.5", "1:04:10.5" or a timecode with frames."""
    text = text.strip()
    if re.fullmatch(r"\d+:\d{2}:\d{2}[:;]\d{2,3}", text):
        return seconds_of(from_timecode(text, rate), rate)
    found = re.fullmatch(r"(?:(?:(\d+):)?(\d{1,2}):)?(\d+(?:\.\d+)?)", text)
    if not found or (found[2] and float(found[3]) >= 60):
        raise InputError(f"{text!r} is no time; write seconds, m:ss, h:mm:ss or a timecode.")
    return int(found[1] or 0) * 3600 + int(found[2] or 0) * 60 + float(found[3])
