"""Full-text search over what was said, and over the terms it was read as.

One FTS5 query answers everything: typed words run over the words and terms columns, filters are
tokens of the tags column (see `derive`), so that SQLite intersects sorted lists and never has to
look at rows. Whatever is typed, every word reaches FTS5 inside quotes: there is no syntax to get wrong.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

from reviewer.store.codec import storable
from reviewer.store.derive import segment_range
from reviewer.store.library import Library

BEST_AT_MOST = 2000
"""Ordering by fit has to score every hit; with more hits than this the newest come first instead."""

_OPEN, _CLOSE = "\x02", "\x03"
_SNIPPET_WORDS = 24
_PIECE = re.compile(r'"([^"]*)"?(\*?)|([^\s"]+)')


Order = Literal["newest", "oldest", "best", "confidence", "down"]


@dataclass(frozen=True)
class SearchQuery:
    """What to look for; everything given must hold. Terms are canonical names, case does not count.

    words: typed text; "two words" in quotes is a phrase, hand* matches a beginning.
    line_game: a stunt or twist; game: id of a game; opponent: jersey of a man he worked on;
    opponent_team: the other team. distance: least and most yards to gain. order: newest or oldest note
    first; the best fit first (only while there are at most BEST_AT_MOST hits); the least sure row first;
    or by down and distance, those unknown last. before: the last id of the page before, for the next
    page, newest first.
    """

    words: str = ""
    technique: str | None = None
    fault: str | None = None
    set: str | None = None
    move: str | None = None
    line_game: str | None = None
    concept: str | None = None
    alignment: str | None = None
    event: str | None = None
    opponent: str | None = None
    opponent_team: str | None = None
    player: str | None = None
    position: str | None = None
    verdict: str | None = None
    down: int | None = None
    distance: tuple[int, int] | None = None
    phase: str | None = None
    side: str | None = None
    play_result: str | None = None
    safety: str | None = None
    label: str | None = None
    confirmed: bool | None = None
    note: int | None = None
    season: str | None = None
    game: int | None = None
    limit: int = 50
    order: Order = "newest"
    before: int | None = None


@dataclass(frozen=True)
class Hit:
    """A place where it was said. `row` None: talk outside reps (then no player and no verdict).

    start, end: seconds in the note. text: the words around the match, marks: where in `text` the
    matched words stand, as (first, last) character positions, last exclusive; none where only a
    term or a filter matched. id: for `SearchQuery.before`. confidence, down, distance: the row's.
    """

    id: int
    note: int
    title: str
    row: int | None
    rep: int | None
    start: float
    end: float
    player: str | None
    verdict: str | None
    confirmed: bool
    text: str
    marks: tuple[tuple[int, int], ...]
    confidence: float | None = None
    down: int | None = None
    distance: int | None = None


_TAG_FIELDS = (
    "technique", "fault", "set", "move", "line_game", "concept", "alignment", "event", "opponent",
    "opponent_team", "player", "position", "verdict", "down", "phase", "side", "play_result", "safety",
    "label", "season", "game",
)  # fmt: skip


def search(library: Library, query: SearchQuery) -> list[Hit]:
    """The places that answer a query, newest first. Any text can be typed; nothing found is []."""
    with library.reading():
        match = _match(library, query)
        if match is None or query.limit <= 0:
            return []
        return [_hit(record) for record in _fetch(library, query, match)]


def count(library: Library, query: SearchQuery, at_most: int = 10_000) -> int:
    """How many places answer a query, counted up to `at_most`."""
    with library.reading():
        match = _match(library, query)
        if match is None:
            return 0
        source, condition, values = _source(query, match)
        sql = f"SELECT count(*) FROM (SELECT 1 FROM {source} WHERE {condition} LIMIT ?)"
        return int(library.execute(sql, (*values, at_most)).fetchone()[0])


def known_values(library: Library, field: str) -> list[tuple[str, int]]:
    """The values of a filter that occur, with how many segments carry each, most frequent first.

    field: a name of SearchQuery but words, note, limit, order and before.
    """
    with library.reading() as db:
        db.execute(
            "CREATE VIRTUAL TABLE IF NOT EXISTS temp.segment_terms USING fts5vocab(main, segment_fts, 'row')"
        )
        return [
            (value, docs)
            for value, docs in db.execute(
                "SELECT value, doc FROM tag JOIN temp.segment_terms ON term = 'q' || tag.id WHERE field = ? "
                "ORDER BY doc DESC, value",
                (field,),
            )
        ]


def _match(library: Library, query: SearchQuery) -> str | None:
    """The FTS5 expression; "" for everything; None when nothing can match."""
    parts = list(_typed(query.words))
    if query.words.strip() and not parts:
        return None
    wanted = [(name, str(value)) for name in _TAG_FIELDS if (value := getattr(query, name)) is not None]
    if query.confirmed is not None:
        wanted.append(("confirmed", "yes" if query.confirmed else "no"))
    if query.distance is not None:
        near = library.execute(
            "SELECT id FROM tag WHERE field = 'distance' AND CAST(value AS INTEGER) BETWEEN ? AND ?",
            query.distance,
        ).fetchall()
        if not near:
            return None
        parts.append("(" + " OR ".join(f'tags : "q{number}"' for (number,) in near) + ")")
    for name, value in wanted:
        found = library.execute(
            "SELECT id FROM tag WHERE field = ? AND value = ?", (name, storable(value))
        ).fetchone()
        if found is None:
            return None
        parts.append(f'tags : "q{found[0]}"')
    return " AND ".join(parts)


def _typed(text: str) -> Iterator[str]:
    """The typed words as FTS5 expressions that must all hold."""
    text = storable(text.replace("\x00", " "))
    for phrase, star, word in _PIECE.findall(text):
        begins = star == "*" or word.endswith("*")
        said = phrase or word
        if not any(char.isalnum() for char in said):
            continue
        quoted = '"' + said.replace('"', " ") + '"'
        forms = [quoted] if not begins else [quoted + "*", *(f'"{stem}"' for stem in _half_typed(word))]
        yield "{words terms} : (" + " OR ".join(forms) + ")"


def _half_typed(word: str) -> list[str]:
    """What the stem may be of a word that is being typed: the index holds "seal", not "sealing"."""
    found = re.fullmatch(r"([a-z]{3,})(?:i|in)\*+", word.lower())
    if not found:
        return []
    stem = found[1]
    return [stem, stem[:-1]] if stem[-1] == stem[-2] else [stem]


def _source(query: SearchQuery, match: str) -> tuple[str, str, list[Any]]:
    """Table, condition and values; both tables know the segment's id as rowid."""
    conditions: list[str] = []
    values: list[Any] = []
    if match:
        conditions.append("segment_fts MATCH ?")
        values.append(match)
    if query.note is not None:
        conditions.append("rowid BETWEEN ? AND ?")
        values += list(segment_range(max(0, min(query.note, 1 << 32))))
    if query.before is not None:
        conditions.append("rowid < ?")
        values.append(max(-1, min(query.before, 1 << 62)))
    return ("segment_fts" if match else "segment"), " AND ".join(conditions) or "1", values


_BY_VALUE = {
    "confidence": "row_now.row_id IS NULL, confidence, page.id DESC",
    "down": "row_now.row_id IS NULL, grade ->> 'down' IS NULL, grade ->> 'down', "
    "grade ->> 'distance' IS NULL, grade ->> 'distance', page.id DESC",
}
"""Orders that need every hit's row."""


def _fetch(library: Library, query: SearchQuery, match: str) -> list[tuple[Any, ...]]:
    source, condition, values = _source(query, match)
    best = query.order == "best" and match and count(library, query, BEST_AT_MOST + 1) <= BEST_AT_MOST
    place = "rank" if best else "rowid" if query.order == "oldest" else "-rowid"
    order = "rowid DESC" if place == "-rowid" else place
    ids: list[int] = []
    if query.order in _BY_VALUE:
        # first which, then their words: marking the words of every hit would take longest
        ids = _first_by_value(library, query, match)
        condition += f" AND rowid IN ({', '.join(map(str, ids))})"
    marked = f"snippet(segment_fts, 0, '{_OPEN}', '{_CLOSE}', '…', {_SNIPPET_WORDS})" if match else "NULL"
    page = f"""
        SELECT rowid AS id, {marked} AS marked, {place} AS place
        FROM {source} WHERE {condition} ORDER BY {order} LIMIT ?
    """
    found = library.execute(
        f"""
        SELECT segment.id, segment.note_id, title, segment.row_id, rep, segment.start, segment."end",
               row_now.player, row_now.verdict, coalesce(row_now.confirmed, 0), coalesce(marked, words),
               row_now.confidence, row_now.grade ->> 'down', row_now.grade ->> 'distance'
        FROM ({page}) AS page
        JOIN segment ON segment.id = page.id
        JOIN note ON note.id = segment.note_id
        LEFT JOIN row_now ON row_now.row_id = segment.row_id
        ORDER BY page.place
        """,
        (*values, min(query.limit, 1 << 31)),
    ).fetchall()
    return sorted(found, key=lambda record: ids.index(record[0])) if ids else found


def _first_by_value(library: Library, query: SearchQuery, match: str) -> list[int]:
    """The segments that come first by a value of their row; talk outside reps comes last."""
    source, condition, values = _source(query, match)
    found = library.execute(
        f"""
        SELECT page.id FROM (SELECT rowid AS id FROM {source} WHERE {condition}) AS page
        JOIN segment ON segment.id = page.id LEFT JOIN row_now ON row_now.row_id = segment.row_id
        ORDER BY {_BY_VALUE[query.order]} LIMIT ?
        """,
        (*values, min(query.limit, 1 << 31)),
    )
    return [number for (number,) in found]


def _hit(record: tuple[Any, ...]) -> Hit:
    text, marks = _unmarked(record[10])
    return Hit(*(*record[:9], bool(record[9]), text, marks, *record[11:]))


def _unmarked(marked: str) -> tuple[str, tuple[tuple[int, int], ...]]:
    """Snippet text without its marks, and where they stood."""
    plain, marks, start = "", [], 0
    for piece in re.split(f"([{_OPEN}{_CLOSE}])", marked):
        if piece == _OPEN:
            start = len(plain)
        elif piece == _CLOSE:
            marks.append((start, len(plain)))
        else:
            plain += piece
    return plain, tuple(marks)
