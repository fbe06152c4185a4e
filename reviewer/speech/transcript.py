"""What was heard: words with times, and the stretches where nothing sure was heard."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from typing import Any, Literal

from reviewer.records import Word

FORMAT = 1
"""Version of the stored form; a transcript of another version is heard again."""

_ENDLESS = 1e9
"""No second of any recording, nor any other number of a transcript, reaches this."""

RECIPE = 3
"""Raised whenever hearing changes in a way that gives other words for the same settings."""

Reason = Literal["not heard", "invented", "repeated", "damaged"]


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch of the recording that the words do not cover, or not honestly.

    start, end: seconds. reason: "not heard" - there is a voice but no words came of it;
    "invented" - the model wrote words where there is no voice; "repeated" - the model was caught
    in a loop; "damaged" - the file could not be decoded there.
    heard: the words that were taken out, for a person to judge; "" where there were none.
    """

    start: float
    end: float
    reason: Reason
    heard: str = ""


@dataclass(frozen=True, slots=True)
class Settings:
    """What a pass depends on beside the sound and the model.

    prompt: text that the model is told came before. hotwords: words to expect, in one string.
    beam: hypotheses kept while decoding.
    """

    prompt: str = ""
    hotwords: str = ""
    beam: int = 5

    def digest(self) -> str:
        """SHA-256 of the settings and of the version of hearing itself."""
        told = json.dumps({"recipe": RECIPE, **asdict(self)}, sort_keys=True)
        return hashlib.sha256(told.encode()).hexdigest()


@dataclass(frozen=True)
class Transcript:
    """A recording as heard.

    words: in spoken order, times in seconds, probability as the model gave it.
    duration_s: seconds of sound. digest: SHA-256 of the file. model, model_digest: what heard it.
    language_note: "" or one sentence when the talk does not sound like English.
    gaps: stretches not covered by words though they should be, in order.
    """

    words: tuple[Word, ...]
    duration_s: float
    digest: str
    model: str
    model_digest: str
    settings: Settings
    language_note: str = ""
    gaps: tuple[Gap, ...] = ()

    @property
    def text(self) -> str:
        """The words with spaces between them."""
        return " ".join(word.text for word in self.words)

    def to_json(self) -> str:
        """The stored form; `from_json` gives back an equal transcript."""
        stored = {
            "format": FORMAT,
            "digest": self.digest,
            "duration_s": self.duration_s,
            "model": self.model,
            "model_digest": self.model_digest,
            "settings": asdict(self.settings),
            "language_note": self.language_note,
            "words": words_to_list(self.words),
            "gaps": gaps_to_list(self.gaps),
        }
        return json.dumps(stored, ensure_ascii=False)

    @classmethod
    def from_json(cls, text: str) -> Transcript:
        """Raises ValueError where the text is not a stored transcript of this version."""
        try:
            stored = json.loads(text)
            if stored["format"] != FORMAT:
                raise ValueError(f"stored transcript of version {stored['format']}, not {FORMAT}")
            if not _is_number(stored["duration_s"]) or stored["duration_s"] < 0:
                raise ValueError("not a stored transcript: it has no length")
            texts = [stored[name] for name in ("digest", "model", "model_digest", "language_note")]
            if not all(isinstance(one, str) for one in texts):
                raise ValueError("not a stored transcript: a text of it is none")
            return cls(
                words=words_from_list(stored["words"]),
                duration_s=stored["duration_s"],
                digest=stored["digest"],
                model=stored["model"],
                model_digest=stored["model_digest"],
                settings=Settings(**stored["settings"]),
                language_note=stored["language_note"],
                gaps=gaps_from_list(stored["gaps"]),
            )
        except (KeyError, TypeError, IndexError, AttributeError, RecursionError) as error:
            raise ValueError("not a stored transcript") from error


def words_to_list(words: tuple[Word, ...]) -> list[list[Any]]:
    """Words as short JSON lists: text, start, end, probability."""
    return [[word.text, word.start, word.end, word.probability] for word in words]


def words_from_list(stored: list[list[Any]]) -> tuple[Word, ...]:
    """The inverse of `words_to_list`."""
    for text, *numbers in stored:
        if not isinstance(text, str) or not all(map(_is_number, numbers)) or min(numbers[:2]) < 0:
            raise ValueError("not a stored word")
        text.encode("utf-8")  # half a character could not be stored any further
    return tuple(Word(text, start, end, probability) for text, start, end, probability in stored)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < _ENDLESS


def gaps_to_list(gaps: tuple[Gap, ...]) -> list[list[Any]]:
    """Gaps as short JSON lists: start, end, reason, heard."""
    return [[gap.start, gap.end, gap.reason, gap.heard] for gap in gaps]


def gaps_from_list(stored: list[list[Any]]) -> tuple[Gap, ...]:
    """The inverse of `gaps_to_list`."""
    for start, end, _, heard in stored:
        if not (_is_number(start) and _is_number(end) and isinstance(heard, str)):
            raise ValueError("not a stored gap")
    return tuple(Gap(start, end, reason, heard) for start, end, reason, heard in stored)
