"""Frame rates and timecode, drop-frame included. Frames count from 0; a timecode names one frame.

SMPTE ST 12-1: at 30000/1001 drop-frame the labels 00 and 01 (00 to 03 at 60000/1001) are skipped at the
start of every minute but each tenth, so that the labels keep up with the clock.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction

from reviewer.errors import InputError

NTSC = {nominal: Fraction(1000 * nominal, 1001) for nominal in (24, 30, 48, 60, 120)}
"""The exact rates that people call 23.976, 29.97 and so on."""

KNOWN = "23.976, 24, 25, 29.97, 29.97df, 30, 50, 59.94, 59.94df or 60"


@dataclass(frozen=True, slots=True)
class Rate:
    """Frames a second, exact. drop: whether its timecode drops labels (29.97 and 59.94 only)."""

    exact: Fraction
    drop: bool = False

    @property
    def nominal(self) -> int:
        """Labels a second: 30 for 29.97."""
        return math.ceil(self.exact - Fraction(1, 100))

    @property
    def dropped(self) -> int:
        """Labels skipped at a minute's start."""
        return self.nominal // 15 if self.drop else 0

    def __str__(self) -> str:
        text = f"{float(self.exact):.3f}".rstrip("0").rstrip(".")
        return text + ("df" if self.drop else "")


def read_rate(text: str) -> Rate:
    """A rate as people write it: "29.97df", "29.97", "30000/1001", "25". InputError for any other."""
    found = re.fullmatch(r"(\d+(?:\.\d+)?|\d+/\d+)\s*(df|ndf)?", text.strip().casefold().replace(",", "."))
    if not found:
        raise InputError(f"{text!r} is no frame rate; say {KNOWN}.")
    try:
        return rate_of(Fraction(found[1]), found[2] == "df")
    except (ZeroDivisionError, ValueError) as problem:
        raise InputError(f"{text!r} is no frame rate that can be used; say {KNOWN}.") from problem


def rate_of(fps: Fraction, drop: bool = False) -> Rate:
    """The exact rate nearest to a measured one: 29.97 is 30000/1001. ValueError when it cannot be one."""
    if not 1 <= fps <= 240:
        raise ValueError(f"{fps} frames a second")
    for nominal, exact in NTSC.items():
        if abs(fps - exact) < Fraction(1, 100) and abs(fps - exact) < abs(fps - nominal):
            fps = exact
    if drop and fps not in (NTSC[30], NTSC[60]):
        raise ValueError("only 29.97 and 59.94 drop frames")
    return Rate(fps, drop)


def to_timecode(frame: int, rate: Rate) -> str:
    """The label of a frame, "01:02:03:04", with ";" before the frames where labels drop."""
    if frame < 0:
        raise ValueError("a frame counts from 0")
    label = frame
    if rate.drop:
        ten_minutes = 600 * rate.nominal - 9 * rate.dropped
        minute = 60 * rate.nominal - rate.dropped
        tens, rest = divmod(frame, ten_minutes)
        label += 9 * rate.dropped * tens
        if rest > rate.dropped:
            label += rate.dropped * ((rest - rate.dropped) // minute)
    seconds, frames = divmod(label, rate.nominal)
    mark = ";" if rate.drop else ":"
    return f"{seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02}{mark}{frames:02}"


def from_timecode(text: str, rate: Rate) -> int:
    """The frame that a label names. Raises InputError for a label that does not exist at that rate."""
    found = re.fullmatch(r"(\d{1,2}):(\d{2}):(\d{2})[:;.](\d{2,3})", text.strip())
    if not found:
        raise InputError(f"{text!r} is no timecode; write it as 00:01:02:03.")
    hours, minutes, seconds, frames = map(int, found.groups())
    whole = 60 * hours + minutes
    if minutes > 59 or seconds > 59 or frames >= rate.nominal:
        raise InputError(f"There is no timecode {text} at {rate} frames a second; check it.")
    if rate.drop and seconds == 0 and frames < rate.dropped and minutes % 10:
        raise InputError(
            f"There is no timecode {text} at {rate}: drop-frame skips it; the next one is "
            f"{hours:02}:{minutes:02}:00;{rate.dropped:02}."
        )
    label = rate.nominal * (60 * whole + seconds) + frames
    return label - rate.dropped * (whole - whole // 10)


def first_frame(seconds: float, rate: Rate) -> int:
    """The frame on screen at that second."""
    return max(0, math.floor(Fraction(seconds).limit_denominator(100_000) * rate.exact))


def end_frame(seconds: float, rate: Rate) -> int:
    """The first frame that is wholly after that second; a clip's end, exclusive."""
    return max(0, math.ceil(Fraction(seconds).limit_denominator(100_000) * rate.exact))


def seconds_of(frame: int, rate: Rate) -> float:
    """The second at which a frame begins."""
    return float(frame / rate.exact)
