"""From letters to sounds, for words that the pronouncing dictionary does not have.

A small set of rules for English spelling, the longest that fits first. It serves names and made-up
spellings, where only the likeness of two stretches counts, not perfection.
"""

from __future__ import annotations

# letters: sounds, in the one-character codes of `sounds.CODES`
_RULES = {
    "tion": "Sun", "sion": "Zun", "ough": "o", "augh": "o", "eigh": "A", "igh": "Y", "tch": "C", "dge": "J",
    "sch": "S", "ck": "k", "ch": "C", "sh": "S", "th": "T", "ph": "f", "wh": "w", "qu": "kw", "ng": "N",
    "gh": "g", "kn": "n", "wr": "r", "gn": "n", "mb": "m", "ss": "s", "ll": "l", "tt": "t", "nn": "n",
    "mm": "m", "pp": "p", "rr": "r", "ff": "f", "dd": "d", "bb": "b", "gg": "g", "zz": "z", "cc": "k",
    "eau": "O", "ee": "I", "ea": "I", "oo": "3", "ou": "W", "ow": "O", "oa": "O", "oe": "O", "oi": "0",
    "oy": "0", "ai": "A", "ay": "A", "ei": "A", "ey": "I", "ie": "I", "au": "o", "aw": "o", "eu": "3",
    "ew": "3", "ue": "3", "ui": "3", "er": "R", "ir": "R", "ur": "R", "ar": "ar", "or": "or",
    "ce": "s", "ci": "si", "cy": "sI", "ge": "J", "gi": "gi", "a": "@", "b": "b", "c": "k", "d": "d",
    "e": "e", "f": "f", "g": "g", "h": "h", "i": "i", "j": "J", "k": "k", "l": "l", "m": "m", "n": "n",
    "o": "a", "p": "p", "q": "k", "r": "r", "s": "s", "t": "t", "u": "u", "v": "v", "w": "w", "x": "ks",
    "y": "i", "z": "z",
}  # fmt: skip
_LONGEST = max(map(len, _RULES))
_NAMES = {
    "a": "A", "b": "bI", "c": "sI", "d": "dI", "e": "I", "f": "ef", "g": "JI", "h": "AC", "i": "Y", "j": "JA",
    "k": "kA", "l": "el", "m": "em", "n": "en", "o": "O", "p": "pI", "q": "ky3", "r": "ar", "s": "es",
    "t": "tI", "u": "y3", "v": "vI", "w": "dublyu", "x": "eks", "y": "wY", "z": "zI",
}  # fmt: skip
_LONG = {"@": "A", "e": "I", "i": "Y", "a": "O", "u": "3"}
_LETTER_VOWELS = frozenset("aeiouy")


def spell_out(word: str) -> str:
    """The sounds of a lower-case word by its letters; without vowels it is said letter by letter."""
    letters = "".join(char for char in word if char.isalpha())
    if not set(letters) & _LETTER_VOWELS:
        return "".join(_NAMES.get(char, "") for char in letters)
    sounds: list[str] = []
    at = 0
    while at < len(letters):
        if letters[at] == "e" and at == len(letters) - 1 and len(sounds) > 1:
            _lengthen(sounds)
            break
        if letters[at] == "y" and (at == 0 or at == len(letters) - 1):
            sounds.append("y" if at == 0 else "I")
            at += 1
            continue
        for size in range(min(_LONGEST, len(letters) - at), 0, -1):
            sound = _RULES.get(letters[at : at + size])
            if sound is not None:
                sounds += sound
                at += size
                break
        else:
            at += 1
    return "".join(sounds)


def _lengthen(sounds: list[str]) -> None:
    """The silent e: "brine" is not "brin"."""
    if sounds[-1] not in _LONG and len(sounds) > 1 and sounds[-2] in _LONG:
        sounds[-2] = _LONG[sounds[-2]]
