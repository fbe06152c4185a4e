"""Dates, numbers and clocks as people write them. Each reader returns None for what it cannot read."""

from __future__ import annotations

import re
from datetime import date, datetime

WRITTEN = ("%B %d %Y", "%b %d %Y", "%d %B %Y", "%d %b %Y")


def read_date(text: str) -> date | None:
    """ISO; 9/5/2031 (month first, unless only the other order is possible); 5.9.2031 (day first);
    Sep 5, 2031. Two-digit years are of this century."""
    text = " ".join(text.replace(",", " ").split())
    if found := re.match(r"(\d{4})-(\d{1,2})-(\d{1,2})\b", text):
        return _day(*map(int, found.groups()))
    if found := re.fullmatch(r"(\d{1,2})([/.-])(\d{1,2})\2(\d{4}|\d{2})", text):
        one, sign, two, year = int(found[1]), found[2], int(found[3]), int(found[4])
        year += 2000 if year < 100 else 0
        first, second = (two, one) if sign == "." else (one, two)
        return _day(year, first, second) or _day(year, second, first)
    for form in WRITTEN:
        try:
            return datetime.strptime(text.replace(".", ""), form).date()
        except ValueError:
            continue
    return None


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def read_jersey(text: str) -> str | None:
    """A jersey as worn: "#76" and "No. 76" are "76"; "00" and "07" stay as they are."""
    found = re.fullmatch(r"(?:#|no\.?|number)?\s*([0-9]{1,2})(?:\.0)?", text.strip().casefold())
    return found[1] if found else None


def read_int(text: str) -> int | None:
    """A whole number with or without its sign ("+7", "−3", "1st")."""
    text = text.strip().casefold().replace("−", "-")
    found = re.fullmatch(r"([+-]?[0-9]{1,9})(?:\.0+)?(?:st|nd|rd|th)?", text)
    return int(found[1]) if found else None


def read_seconds(text: str) -> float | None:
    """A time as seconds: "75.5", "1:15.5", "1:02:33", "01:02:33". A workbook's "00:01:15" is one too."""
    found = re.fullmatch(
        r"(?:(?:([0-9]{1,4}):)?([0-9]{1,3}):)?([0-9]{1,9}(?:[.,][0-9]+)?)\s*(?:s|sec|seconds)?",
        text.strip().casefold(),
    )
    if not found:
        return None
    hours, minutes = int(found[1] or 0), int(found[2] or 0)
    seconds = float(found[3].replace(",", "."))
    if found[2] and seconds >= 60:
        return None
    return hours * 3600 + minutes * 60 + seconds
