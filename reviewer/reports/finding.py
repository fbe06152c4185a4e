"""Search as a person types it.

    bull rush 74 loss            words; a term by any spoken form; a man's number; a verdict
    "right on the chest"         a phrase; its words one by one where nobody said it so
    hand*                        a beginning
    third and long               a down with a distance ("3rd and 7" too); what long is: situations.toml
    player:74 move:"bull rush" verdict:loss distance:7-10 season:2031 game:"Calder Falls" sort:oldest

Everything typed must hold. A typing error is forgiven where a word finds nothing as it stands.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from dataclasses import field as made_by
from typing import TYPE_CHECKING, Any

from reviewer.errors import InputError
from reviewer.records import GradeRow
from reviewer.reports.excerpts import with_excerpts
from reviewer.reports.lexicon import FILTERS, LONGEST_PHRASE, Lexicon, plain_words
from reviewer.reports.orders import ORDERS
from reviewer.reports.reps import field_values
from reviewer.reports.situations import Situation, distance_text, find_situation, read_distance

if TYPE_CHECKING:
    from reviewer.store.library import Library
    from reviewer.store.search import Hit, SearchQuery

ALIASES: Mapping[str, str] = {
    "team": "opponent_team", "vs": "opponent_team", "no": "player", "stunt": "line_game", "play": "concept",
    "result": "play_result", "line game": "line_game",
}  # fmt: skip
"""Names that people give filters."""

ROW_FIELDS: Mapping[str, str] = {
    **{name: field for field, name in FILTERS.items()},
    "player": "player",
    "opponent": "opponents",
    "verdict": "verdict",
}
"""Name of a filter -> field of the grade row."""

VERDICTS: Mapping[str, str] = {
    "win": "win", "wins": "win", "won": "win", "loss": "loss", "losses": "loss", "lost": "loss",
    "neutral": "neutral",
}  # fmt: skip
"""Words typed that may mean a verdict."""

MOST_WAYS = 4
"""A word of several meanings is searched in each, up to so many combinations."""

_PIECE = re.compile(r'([A-Za-z_]+):(?:"([^"]*)"?|(\S*))|"([^"]*)"?(\*?)|(\S+)')


@dataclass(frozen=True)
class Asked:
    """What was typed, understood.

    ways: queries whose hits are joined, the words as typed first. terms: (filter, value) that words were
    read as. remarks: what was read otherwise than typed.
    """

    typed: str
    ways: tuple[SearchQuery, ...]
    terms: tuple[tuple[str, str], ...] = ()
    remarks: tuple[str, ...] = ()


@dataclass
class _Reading:
    """Typed text taken apart: words and phrases as typed, and filters."""

    pieces: list[str] = made_by(default_factory=list)
    plain: list[str] = made_by(default_factory=list)
    filters: dict[str, Any] = made_by(default_factory=dict)


def read_search(library: Library, typed: str, lexicon: Lexicon, limit: int = 50, **given: Any) -> Asked:
    """Understand a typed search. given: filters of SearchQuery from elsewhere (options); None is none.

    Raises InputError for a filter that does not exist or a value that it cannot have.
    """
    from reviewer.store.search import SearchQuery

    remarks: list[str] = []
    reading = _loosened(library, _take_apart(typed), remarks)
    filters: dict[str, Any] = {}
    for name, text in reading.filters.items():
        value = _value(library, name, text)
        # an opponent that is no number is a team
        team = name == "opponent" and not str(value).isdigit()
        filters["opponent_team" if team else "order" if name == "sort" else name] = value
    filters |= {name: value for name, value in given.items() if value is not None}
    named = find_situation(reading.plain)
    kept = range(named.first, named.last) if named else range(0)
    words = [
        word if place in kept else _forgiven(library, word, lexicon, remarks)
        for place, word in enumerate(reading.plain)
    ]
    said = words if named is None else _as_phrase(words, named)
    exact = SearchQuery(words=" ".join([*reading.pieces, *said]), limit=limit, **filters)
    ways = [exact]
    terms: list[tuple[str, str]] = []
    for left, situation in _with_situation(words, named, filters, remarks):
        base = replace(exact, **situation)
        if situation:
            ways.append(replace(base, words=" ".join([*reading.pieces, *left])))
        for meant, rest in _by_terms(left, _meanings(library, lexicon)):
            if not meant.keys() & filters.keys():
                ways.append(replace(base, words=" ".join([*reading.pieces, *rest]), **meant))
                terms += meant.items()
    return Asked(typed, tuple(dict.fromkeys(ways)), tuple(dict.fromkeys(terms)), tuple(remarks))


def find(library: Library, asked: Asked) -> list[Hit]:
    """The hits of every way of reading the search, each once, in the order asked for.

    The words of a rep belong to all its rows. Where the words typed are a term, and another man of
    the rep has that term, they were said of him: a row that has only the words is then no hit.
    """
    from reviewer.store.search import search

    exact, *by_term = asked.ways
    found = {hit.id: hit for way in by_term for hit in search(library, way)}
    for hit in search(library, exact):
        if hit.id in found:
            found[hit.id] = hit if hit.marks else found[hit.id]
        elif not (by_term and _of_another(library, hit, asked.terms)):
            found[hit.id] = hit
    hits = sorted(found.values(), key=_ORDER_KEYS[exact.order])
    return with_excerpts(library, hits[: exact.limit], _sought(asked))


def _last(value: float | None) -> tuple[bool, float]:
    """Sorts a value; an unknown one comes last."""
    return value is None, value or 0.0


_ORDER_KEYS: Mapping[str, Callable[[Hit], tuple[Any, ...]]] = {
    "newest": lambda hit: (-hit.id,),
    "oldest": lambda hit: (hit.id,),
    "best": lambda hit: (),
    "confidence": lambda hit: (_last(hit.confidence), -hit.id),
    "down": lambda hit: (hit.row is None, _last(hit.down), _last(hit.distance), -hit.id),
}


def _as_phrase(words: list[str], named: Situation) -> list[str]:
    """The words, a situation among them as one phrase: "third" and "long" alone are not it."""
    phrase = " ".join(words[named.first : named.last])
    return [*words[: named.first], f'"{phrase}"', *words[named.last :]]


def _with_situation(
    words: list[str], found: Situation | None, filters: Mapping[str, Any], remarks: list[str]
) -> list[tuple[list[str], dict[str, Any]]]:
    """The words that terms are looked for in, and with the situation that some of them name the filters
    that it is."""
    if found is None:
        return [(words, {})]
    if {"down", "distance"} & filters.keys():
        return []
    if found.named:
        remarks.append(
            f"{' '.join(words[found.first : found.last])!r} is down {found.down} with "
            f"{distance_text(found.yards)} to go (common practice, no source), or these words as said."
        )
    rest = words[: found.first] + words[found.last :]
    return [(rest, {"down": found.down, "distance": found.yards})]


def _sought(asked: Asked) -> list[tuple[str, str]]:
    """Field of the grade row and value, of every term that was asked for."""
    given = ((name, getattr(asked.ways[0], name)) for name in FILTERS.values())
    terms = [*asked.terms, *((name, value) for name, value in given if value is not None)]
    return [(ROW_FIELDS[name], value) for name, value in terms if name in FILTERS.values()]


def _of_another(library: Library, hit: Hit, terms: Sequence[tuple[str, str]]) -> bool:
    """Whether another row of the hit's rep has one of the terms."""
    if hit.row is None:
        return False
    with library.reading() as db:
        rows = db.execute(
            "SELECT grade FROM row_now WHERE note_id = ? AND rep = ? AND row_id <> ?",
            (hit.note, hit.rep, hit.row),
        ).fetchall()
    grades = [GradeRow.model_validate_json(grade) for (grade,) in rows]
    return any(value in field_values(grade, ROW_FIELDS[name]) for grade in grades for name, value in terms)


def hit_data(hit: Hit) -> dict[str, Any]:
    """A hit as plain data for JSON, with the grade row's own names."""
    return {
        "note": hit.title,
        "note_id": hit.note,
        "row_id": hit.row,
        "rep": hit.rep,
        "start": hit.start,
        "end": hit.end,
        "player": hit.player,
        "verdict": hit.verdict,
        "confirmed": hit.confirmed,
        "confidence": hit.confidence,
        "down": hit.down,
        "distance": hit.distance,
        "text": hit.text,
        "marks": [list(mark) for mark in hit.marks],
    }


def _take_apart(typed: str) -> _Reading:
    reading = _Reading()
    known = _filter_names()
    for name, quoted, bare, phrase, star, word in _PIECE.findall(typed):
        if name:
            wanted = ALIASES.get(name.lower(), name.lower())
            if wanted not in known:
                raise InputError(f"There is no filter {name!r}; the filters are {', '.join(sorted(known))}.")
            reading.filters[wanted] = quoted or bare
        elif phrase:
            reading.pieces.append(f'"{phrase}"{star}')
        elif word.endswith("*"):
            reading.pieces.append(word)
        else:
            reading.plain += plain_words(word)
    return reading


def _filter_names() -> set[str]:
    from reviewer.store.search import SearchQuery

    names = {f.name for f in fields(SearchQuery)} - {"words", "limit", "before", "order"}
    return names | {"sort"}


def _value(library: Library, name: str, text: str) -> Any:
    """A filter's value from what was typed."""
    from reviewer.reports.gather import find_games

    text = " ".join(text.split())
    if not text:
        raise InputError(f"The filter {name} needs a value, for example {name}:{_example(name)}.")
    if name == "confirmed":
        return _yes(text)
    if name == "sort":
        if text.casefold() not in ORDERS:
            raise InputError(f"Hits are sorted by one of {', '.join(ORDERS)}, not by {text!r}.")
        return text.casefold()
    if name == "distance":
        return read_distance(text)
    if name in ("down", "note"):
        if not (text.isascii() and text.isdigit() and len(text) < 10):
            raise InputError(f"The filter {name} takes a number, not {text!r}.")
        return int(text)
    if name == "game":
        return find_games(library, [text])[0]
    if name == "opponent" and not text.isdigit():
        return _canonical(library, "opponent_team", text)
    return _canonical(library, name, text)


def _yes(text: str) -> bool:
    if text.casefold() in ("yes", "y", "true", "1"):
        return True
    if text.casefold() in ("no", "n", "false", "0"):
        return False
    raise InputError(f"The filter confirmed takes yes or no, not {text!r}.")


def _example(name: str) -> str:
    examples = {
        "player": "74",
        "move": '"bull rush"',
        "verdict": "loss",
        "season": "2031",
        "distance": "7-10",
        "confirmed": "yes",
    }
    return examples.get(name, "…")


def _canonical(library: Library, name: str, text: str) -> str:
    """The value as it occurs; a typing error in it is forgiven."""
    from rapidfuzz import fuzz, process

    # Only what values there are: counting how often each occurs takes long in a large library.
    with library.reading() as db:
        values = [str(value) for (value,) in db.execute("SELECT value FROM tag WHERE field = ?", (name,))]
    plain = {value.casefold(): value for value in values}
    if text.casefold() in plain or not values or text.isdigit():
        return plain.get(text.casefold(), text)
    near = process.extractOne(text.casefold(), plain.keys(), scorer=fuzz.ratio, score_cutoff=75)
    return plain[str(near[0])] if near else text


def _forgiven(library: Library, word: str, lexicon: Lexicon, remarks: list[str]) -> str:
    """The word, or the known one that it must be when it finds nothing and is no term."""
    from reviewer.store.search import SearchQuery, count

    if len(word) < 3 or word.isdigit() or word in lexicon.words or lexicon.terms([word]):
        return word
    if count(library, SearchQuery(words=word), at_most=1):
        return word
    near = lexicon.nearest(word)
    if near is None:
        return word
    remarks.append(f"Nothing has {word!r}; read as {near!r}.")
    return near


Meanings = Callable[[Sequence[str]], tuple[tuple[str, str], ...]]
"""From words to the (filter, value) that they may mean."""


def _loosened(library: Library, reading: _Reading, remarks: list[str]) -> _Reading:
    """The phrases that nobody said word for word taken as single words."""
    from reviewer.store.search import SearchQuery, count

    for piece in list(reading.pieces):
        if piece.endswith("*") or count(library, SearchQuery(words=piece), at_most=1):
            continue
        reading.pieces.remove(piece)
        words = plain_words(piece)
        reading.plain += words
        if len(words) > 1:
            remarks.append(f"Nobody said {piece} word for word; its words are looked for one by one.")
    return reading


def _meanings(library: Library, lexicon: Lexicon) -> Meanings:
    """Terms, numbers of men that occur, and verdicts."""

    def meanings(words: Sequence[str]) -> tuple[tuple[str, str], ...]:
        found = lexicon.terms(words)
        if found or len(words) > 1:
            return found
        word = words[0]
        if word in VERDICTS:
            return (("verdict", VERDICTS[word]),)
        if not word.isdigit() or len(word) > 2:
            return ()
        with library.reading() as db:
            fields = db.execute(
                "SELECT field FROM tag WHERE value = ? AND field IN ('player', 'opponent') "
                "ORDER BY field DESC",
                (word,),
            ).fetchall()
        return tuple((field, word) for (field,) in fields)

    return meanings


def _by_terms(words: Sequence[str], meanings: Meanings) -> list[tuple[dict[str, Any], list[str]]]:
    """The words read as terms: filters, and the words left over; one entry for each way to read them."""
    ways: list[tuple[dict[str, Any], list[str]]] = [({}, [])]
    place = 0
    while place < len(words):
        size, terms = _longest(words[place:], meanings)
        taken = [] if terms else [words[place]]
        grown: list[tuple[dict[str, Any], list[str]]] = []
        for filters, rest in ways:
            options = [{name: value} for name, value in terms if name not in filters] or [{}]
            if terms and options == [{}]:
                grown.append((filters, [*rest, *words[place : place + size]]))
            else:
                grown += [({**filters, **option}, rest + taken) for option in options]
        ways = grown[:MOST_WAYS]
        place += size
    return [(filters, rest) for filters, rest in ways if filters]


def _longest(words: Sequence[str], meanings: Meanings) -> tuple[int, tuple[tuple[str, str], ...]]:
    """The longest term that begins here: its words and meanings; (1, ()) for none."""
    for size in range(min(LONGEST_PHRASE, len(words)), 0, -1):
        if terms := meanings(words[:size]):
            return size, terms
    return 1, ()
