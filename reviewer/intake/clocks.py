"""The game clock of a play list, in the forms that lists and spreadsheets have it."""

from __future__ import annotations

import re
from collections.abc import Iterable

from reviewer.intake.values import read_seconds

QUARTER_S = 15 * 60
"""No quarter is longer (12 minutes in high school, 15 above)."""

_WITH_QUARTER = re.compile(r"(?:q\s*)?([1-9])\s*(?:q|st|nd|rd|th)?(?:\s*(?:quarter|qtr))?[\s,/-]+(.*:.*)")
_HALF_DAY = re.compile(r"(\d{1,2}):(\d{2})(?::00)?\s*([ap])\.?m\.?")
_UNITS = re.compile(r"(?:(\d{1,2})\s*m(?:in)?\.?\s*)?(\d{1,2})\s*s(?:ec)?\.?")


def packed(texts: Iterable[str]) -> bool:
    """Whether a column of clocks has minutes and seconds without a sign between them ("741" for 7:41).

    A column of seconds looks the same but for seconds of 60 and more, which it soon has.
    """
    values = [text.strip() for text in texts if text.strip()]
    bare = [text for text in values if re.fullmatch(r"\d{1,4}", text)]
    return len(bare) == len(values) > 4 and all(int(text[-2:]) < 60 for text in bare)


def read_clock(text: str, packed: bool = False) -> float | None:
    """Seconds left in the quarter, None for what is no game clock.

    "7:41", "07:41", ":41", "7:41.3", "7m 41s"; "07:41:00" and "7:41 AM", as a spreadsheet makes a time of
    day of it; with `packed` also "741".
    """
    plain = " ".join(text.casefold().split())
    if packed and re.fullmatch(r"\d{1,4}", plain):
        plain = f"{plain[:-2] or 0}:{plain[-2:]}"
    if found := _HALF_DAY.fullmatch(plain):
        hour = int(found[1]) % 12 + (12 if found[3] == "p" else 0)
        plain = f"{hour}:{found[2]}"
    elif found := _UNITS.fullmatch(plain):
        plain = f"{found[1] or 0}:{found[2]}"
    plain = re.sub(r"^0?(\d{1,2}:\d{2}):00$", r"\1", plain)
    value = read_seconds(f"0{plain}" if plain.startswith(":") else plain)
    return value if value is not None and value <= QUARTER_S else None


def with_quarter(text: str) -> tuple[str, str] | None:
    """Quarter and clock of one cell that has both ("Q2 7:41", "2 - 7:41"); None where it has not."""
    found = _WITH_QUARTER.fullmatch(" ".join(text.casefold().split()))
    return (found[1], found[2]) if found else None
