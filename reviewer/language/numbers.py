"""Spoken numbers: "ninety-four", "94", "nine four", "oh seven", "3rd" and what they may be.

`read_numbers` finds the numbers of a token list; what each one counts is told by `situation`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reviewer.language.tokens import Token

UNITS = {
    "zero": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8,
    "nine": 9,
}  # fmt: skip
TEENS = {
    "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16,
    "seventeen": 17, "eighteen": 18, "nineteen": 19,
}  # fmt: skip
TENS = {
    "twenty": 20, "thirty": 30, "forty": 40, "fourty": 40, "fifty": 50, "sixty": 60, "seventy": 70,
    "eighty": 80, "ninety": 90, "twenties": 20, "thirties": 30, "forties": 40, "fifties": 50,
    "sixties": 60, "seventies": 70, "eighties": 80, "nineties": 90,
}  # fmt: skip
ORDINALS = {
    "first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6, "seventh": 7, "eighth": 8,
    "ninth": 9, "tenth": 10, "eleventh": 11, "twelfth": 12, "thirteenth": 13, "fourteenth": 14,
    "fifteenth": 15, "sixteenth": 16, "seventeenth": 17, "eighteenth": 18, "nineteenth": 19,
    "twentieth": 20, "thirtieth": 30, "fortieth": 40, "fiftieth": 50, "sixtieth": 60, "seventieth": 70,
    "eightieth": 80, "ninetieth": 90,
}  # fmt: skip
_OH = frozenset({"oh", "o", "zero"})


@dataclass(frozen=True, slots=True)
class Number:
    """Tokens first..last (exclusive) that say one number.

    digits: as it would be worn on a jersey ("07", "00", "94"). ordinal: "third", "3rd".
    plural: "the eighties" (a decade of numbers, not one). spelled: said digit by digit.
    """

    first: int
    last: int
    value: int
    digits: str
    ordinal: bool = False
    plural: bool = False
    spelled: bool = False


def read_numbers(tokens: Sequence[Token]) -> list[Number]:
    """All numbers of the tokens, left to right, not overlapping."""
    found: list[Number] = []
    at = 0
    while at < len(tokens):
        number = _number_at(tokens, at)
        if number is None:
            at += 1
        else:
            found.append(number)
            at = number.last
    return found


def _plain(text: str) -> bool:
    """Whether a token is written in the digits 0 to 9 alone (other scripts have digits of their own)."""
    return text.isascii() and text.isdigit()


def _joined(tokens: Sequence[Token], at: int) -> bool:
    """Whether token `at` follows the one before it without comma or sentence end."""
    return (
        0 < at < len(tokens)
        and not tokens[at].comma
        and tokens[at].sentence == tokens[at - 1].sentence
        and tokens[at].gap_s < 0.6
    )


def _number_at(tokens: Sequence[Token], at: int) -> Number | None:
    text = tokens[at].text
    if _plain(text):
        return _digits_at(tokens, at)
    if text[0] in "0123456789":
        return Number(
            at,
            at + 1,
            int("".join(c for c in text if c in "0123456789")),
            text.rstrip("stndrh"),
            ordinal=True,
        )
    if text in ORDINALS:
        return Number(at, at + 1, ORDINALS[text], str(ORDINALS[text]), ordinal=True)
    if text == "double" and _joined(tokens, at + 1):
        following = tokens[at + 1].text
        if following in _OH or following in UNITS:
            digit = "0" if following in _OH else str(UNITS[following])
            return Number(at, at + 2, int(digit * 2), digit * 2, spelled=True)
        return None
    if text == "hundred" or (text == "a" and _joined(tokens, at + 1) and tokens[at + 1].text == "hundred"):
        return _hundreds(tokens, at, at + 1 + (text == "a"), 1)
    if text in TENS:
        return _tens_at(tokens, at)
    if text in TEENS:
        return Number(at, at + 1, TEENS[text], str(TEENS[text]))
    if text in UNITS or text == "oh" or text == "o":
        return _units_at(tokens, at)
    return None


def _digits_at(tokens: Sequence[Token], at: int) -> Number:
    text = tokens[at].text
    last = at + 1
    if len(text) == 1 and _joined(tokens, last) and _plain(tokens[last].text) and len(tokens[last].text) == 1:
        same_word = tokens[last].word == tokens[at].word
        adjacent = tokens[last].word == tokens[at].word + 1
        if same_word or adjacent:
            both = text + tokens[last].text
            return Number(at, last + 1, int(both), both, spelled=True)
    if len(text) == 2 and text.endswith("0") and text != "00" and _joined(tokens, last):
        following = tokens[last].text
        if UNITS.get(following):  # "90 four", as speech models write it
            return Number(at, last + 1, int(text) + UNITS[following], str(int(text) + UNITS[following]))
    return Number(at, last, int(text), text)


def _tens_at(tokens: Sequence[Token], at: int) -> Number:
    text = tokens[at].text
    value = TENS[text]
    if _joined(tokens, at + 1):
        following = tokens[at + 1].text
        if UNITS.get(following):
            if not _one_on_one(tokens, at + 1):
                return Number(at, at + 2, value + UNITS[following], str(value + UNITS[following]))
        elif following in ORDINALS and ORDINALS[following] < 10:
            total = value + ORDINALS[following]
            return Number(at, at + 2, total, str(total), ordinal=True)
    return Number(at, at + 1, value, str(value), plural=text.endswith("ies"))


def _one_on_one(tokens: Sequence[Token], at: int) -> bool:
    """Whether "one on one" begins at a token: "has ninety one on one" names ninety."""
    return (
        tokens[at].text == "one"
        and _joined(tokens, at + 2)
        and [t.text for t in tokens[at + 1 : at + 3]] == ["on", "one"]
    )


def _units_at(tokens: Sequence[Token], at: int) -> Number | None:
    text = tokens[at].text
    last = at + 1
    digits = "0" if text in _OH else str(UNITS[text])
    if _joined(tokens, last) and tokens[last].text == "hundred" and digits != "0":
        return _hundreds(tokens, at, last + 1, int(digits))
    spelled = [digits]
    while _joined(tokens, last) and len(spelled) < 3:
        following = tokens[last].text
        if following in _OH:
            spelled.append("0")
        elif following in UNITS and not _one_on_one(tokens, last):
            spelled.append(str(UNITS[following]))
        else:
            break
        last += 1
    if len(spelled) > 1:
        joined = "".join(spelled)
        return Number(at, last, int(joined), joined, spelled=True)
    if text in {"oh", "o"}:
        return None
    return Number(at, at + 1, int(digits), digits)


def _hundreds(tokens: Sequence[Token], first: int, last: int, hundreds: int) -> Number:
    """ "a hundred and two", "one hundred two"."""
    value = 100 * hundreds
    at = last + 1 if _joined(tokens, last) and tokens[last].text == "and" else last
    if _joined(tokens, at):
        rest = _number_at(tokens, at)
        if rest and rest.value < 100 and not rest.ordinal and not rest.spelled and rest.digits[0] != "0":
            return Number(first, rest.last, value + rest.value, str(value + rest.value))
    return Number(first, last, value, str(value))
