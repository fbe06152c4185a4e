"""Words into tokens: lower-cased, contractions split, inflections folded, sentences counted.

A `Token` is the unit that everything in this layer matches on. Several tokens may come from one
word ("doesn't" -> does, n't; "T-E" -> t, e), never the other way round.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from reviewer import paths
from reviewer.records import Word

PAUSE_S = 0.9
"""A silence of this many seconds ends a sentence even where no stop was written."""

_CLEAN = str.maketrans({"’": "'", "‘": "'", "“": '"', "”": '"', "—": "-", "–": "-", "…": "."})
_PIECE = re.compile(
    r"[0-9]{1,6}(?:st|nd|rd|th)\b|[0-9]{1,6}|[^\W\d_]+(?:'[^\W\d_]+)?|[.?!]+|[,;:\-]+", re.UNICODE
)
_LETTERS = re.compile(r"\b(?:[a-z]\.){2,}", re.UNICODE)
"""The points of "R.P.O." and "T.E." end no sentence."""

_STOPS = frozenset(".?!")

_IS_AFTER = frozenset(
    ["he", "she", "it", "that", "there", "here", "what", "who", "this", "one", "everything", "where", "how"]
)

_CONTRACTION = re.compile(r"^(.+?)('(?:s|re|ve|ll|d|m)|n't)$")


@dataclass(frozen=True, slots=True)
class Token:
    """One token. `text` is lower case; `norm` is its base form; `word` indexes the note's words;
    `sentence` counts from 0; `clause` counts clauses over the whole note; `gap_s` is the silence
    before it; `comma` tells that a comma, dash or semicolon stands directly before it."""

    text: str
    norm: str
    word: int
    sentence: int
    clause: int
    gap_s: float = 0.0
    comma: bool = False


@dataclass(frozen=True, slots=True)
class Sentence:
    """Tokens first..last (exclusive) that are spoken as one sentence."""

    index: int
    first: int
    last: int
    question: bool
    gap_s: float
    paragraph: bool = False


@dataclass(frozen=True)
class TokenText:
    """A note as tokens and sentences."""

    words: Sequence[Word]
    tokens: Sequence[Token]
    sentences: Sequence[Sentence]

    def norms(self, sentence: Sentence) -> list[str]:
        """The base forms of a sentence's tokens."""
        return [t.norm for t in self.tokens[sentence.first : sentence.last]]


@lru_cache(maxsize=1)
def _inflections() -> tuple[dict[str, str], dict[str, tuple[str, ...]]]:
    """The irregular forms and contractions of `vocab/inflections.toml`."""
    data = tomllib.loads((paths.vocabulary() / "inflections.toml").read_text("utf-8"))
    irregular = {form: base for base, forms in data["irregular"].items() for form in forms.split()}
    contractions = {whole: tuple(parts.split()) for whole, parts in data["contractions"].items()}
    return irregular, contractions


@lru_cache(maxsize=1)
def _stemmer() -> Any:
    import snowballstemmer

    return snowballstemmer.stemmer("english")


@lru_cache(maxsize=20000)
def base_form(text: str) -> str:
    """The base form of a lower-case word: swims, swam and swimming give the same.

    It is a stem (Snowball English), not always a word; forms and text pass through the same fold.
    """
    irregular = _inflections()[0].get(text, text)
    if len(irregular) <= 3 or not irregular.isalpha():
        return irregular
    return str(_stemmer().stemWord(irregular))


def _split_word(piece: str) -> tuple[str, ...]:
    whole = _inflections()[1].get(piece)
    if whole:
        return whole
    match = _CONTRACTION.match(piece)
    if match:
        head, tail = match.groups()
        return (head, tail)
    return (piece,)


def tokenize(words: Sequence[Word]) -> TokenText:
    """Cut words into tokens and sentences.

    A sentence ends at a written stop, at a pause of `PAUSE_S`, and after a word that carries a
    line break (a paragraph of plain text).
    """
    tokens: list[Token] = []
    sentences: list[Sentence] = []
    first = 0
    clause = 0
    comma = False
    question = False
    paragraph = False
    sentence_gap = 0.0
    previous_end: float | None = None

    def close() -> None:
        nonlocal first, question, clause, comma, paragraph, sentence_gap
        if len(tokens) > first:
            gap = sentence_gap
            sentences.append(Sentence(len(sentences), first, len(tokens), question, gap, paragraph))
            first = len(tokens)
            clause += 1
            paragraph = False
        question = False
        comma = False

    for index, word in enumerate(words):
        gap = 0.0 if previous_end is None else max(0.0, word.start - previous_end)
        previous_end = word.end
        if gap >= PAUSE_S:
            close()
        text = _LETTERS.sub(lambda m: m.group()[:-1].replace(".", "-"), word.text.translate(_CLEAN).lower())
        if fresh_start(word.text, tokens, words, index):
            close()
        new_paragraph = text.startswith("\n")
        if new_paragraph:
            close()
            paragraph = True
        fresh = True
        for piece in _PIECE.findall(text):
            if piece[0] in _STOPS:
                if "?" in piece:
                    question = True
                # "3.5" or an abbreviation inside a word is not the end of a sentence
                close()
                continue
            if piece[0] in ",;:-":
                if piece[0] != "-" or len(piece) > 1 or text.strip() == piece:
                    clause += len(tokens) > first
                    comma = True
                continue
            for part in _split_word(piece):
                if len(tokens) == first:
                    sentence_gap = gap if fresh else 0.0
                norm = "be" if part == "'s" and tokens and tokens[-1].text in _IS_AFTER else base_form(part)
                tokens.append(Token(part, norm, index, len(sentences), clause, gap if fresh else 0.0, comma))
                fresh = False
                comma = False
    close()
    return TokenText(tuple(words), tuple(tokens), tuple(sentences))


_STARTERS = frozenset(
    [
        "he",
        "his",
        "so",
        "now",
        "they",
        "the",
        "but",
        "and",
        "it",
        "that",
        "last",
        "next",
        "okay",
        "alright",
        "then",
        "this",
        "you",
        "your",
        "we",
        "there",
        "here",
        "in",
        "on",
        "at",
        "first",
        "second",
        "third",
        "fourth",
        "again",
        "her",
        "she",
        "their",
        "my",
        "our",
        "for",
        "from",
        "with",
        "not",
        "no",
        "yeah",
        "oh",
    ]
)


def fresh_start(written: str, tokens: Sequence[Token], words: Sequence[Word], index: int) -> bool:
    """Whether a capital shows a new sentence whose stop was not written ("again He takes")."""
    if not index or not written[:1].isupper() or written.rstrip(",.'").lower() not in _STARTERS:
        return False
    before = words[index - 1].text.rstrip("\"')")
    return bool(before) and before[-1].isalnum() and len(before) > 1 and not before[0].isupper()


def words_from_text(
    text: str, seconds_per_word: float = 0.36, stop_s: float = 0.3, paragraph_s: float = 1.0
) -> list[Word]:
    """Plain text as words with invented times (a talking pace, a pause at each paragraph).

    A paragraph's first word carries the line break, so that its start is known downstream.
    """
    words: list[Word] = []
    at = 0.0
    for number, paragraph in enumerate(re.split(r"\n\s*\n", text)):
        mark = "\n" if number else ""
        if number:
            at += paragraph_s
        for piece in paragraph.split():
            words.append(Word(mark + piece, round(at, 3), round(at + seconds_per_word * 0.9, 3)))
            mark = ""
            at += seconds_per_word
            if piece.rstrip("\"')").endswith((".", "?", "!")):
                at += stop_s
    return words


def join_text(words: Iterable[Word]) -> str:
    """The words as one line of text."""
    return " ".join(w.text.strip() for w in words if w.text.strip())
