"""The derived tables: rows as they stand (`row_now`) and what is searched (`segment`).

Everything here can be thrown away and built again from the readings and the log.

A segment is the words of one live row, or a piece of the talk outside reps (row_id NULL). Its id
grows with the note and with the time inside the note, so "newest first" is the order of the ids,
and the segments of one note are one range of ids. Every value that can be filtered on is one token
("q17") in the `tags` column; `tag` says what the number stands for. The canonical terms of a row
are a column of their own beside its words, so a term finds rows whose words said it otherwise.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

from reviewer.records import GRADE_FIELDS, GradeRow, Word
from reviewer.store.codec import Stretches, dump, dump_row, load, load_words
from reviewer.store.fold import Cell, Fold, NoteState, StoredRow, spoken
from reviewer.store.journal import load_fold
from reviewer.store.library import Library

NOTE_SHIFT = 24
"""A note's segments have the ids note << 24 .. ((note + 1) << 24) - 1."""

TALK_WORDS = 60
"""Talk outside reps is cut at the end of a sentence, and after so many words at the latest."""

_TERM_FIELDS = (
    "concepts", "techniques", "faults", "moves", "games", "events", "safety", "labels", "set", "alignment",
)  # fmt: skip
_TAGS: Mapping[str, str] = {
    "technique": "techniques", "fault": "faults", "move": "moves", "line_game": "games",
    "concept": "concepts", "event": "events", "opponent": "opponents", "safety": "safety",
    "label": "labels", "set": "set", "alignment": "alignment", "player": "player",
    "position": "position", "verdict": "verdict", "down": "down", "distance": "distance", "phase": "phase",
    "side": "side", "play_result": "play_result",
}  # fmt: skip
"""Filter name -> field of the grade row."""

_LIGHT = frozenset({*GRADE_FIELDS, "confirmed", "comment"})
"""Row values whose change leaves the words and the order of the note alone."""


def segment_range(note: int) -> tuple[int, int]:
    """The first and last possible segment id of a note."""
    return note << NOTE_SHIFT, ((note + 1) << NOTE_SHIFT) - 1


def refresh(library: Library, fold: Fold, cells: Iterable[Cell]) -> None:
    """Bring the derived tables up to date with a note after these cells of it changed."""
    cells, note = list(cells), fold.facts.note
    if all(cell.subject == "row" and cell.field in _LIGHT for cell in cells):
        context = _context_tags(library.connection, note)
        for number in {cell.id for cell in cells}:
            if (row := fold.row(number)) is not None:
                record = {row.id: _now(row, fold.reading)}
                _sync(library.connection, "row_now", _NOW_COLUMNS, "row_id = ?", (row.id,), record)
                _retag(library.connection, row, context)
    else:
        _rebuild(library, fold.state())


def rebuild_note(library: Library, note: int) -> None:
    """Build everything derived of one note again."""
    _rebuild(library, load_fold(library, note).state())


def _rebuild(library: Library, state: NoteState) -> None:
    db, note = library.connection, state.note
    shown = {row.id: _now(row, state.reading) for row in state.rows}
    _sync(db, "row_now", _NOW_COLUMNS, "note_id = ?", (note,), shown)
    segments = {segment[0]: segment for segment in _segments(db, state)}
    _sync(db, "segment", _SEGMENT_COLUMNS, "id BETWEEN ? AND ?", segment_range(note), segments)


def _sync(
    db: sqlite3.Connection,
    table: str,
    columns: tuple[str, ...],
    condition: str,
    values: tuple[int, ...],
    wanted: Mapping[int, tuple[Any, ...]],
) -> None:
    """Make a table's records of a note the wanted ones, writing only those that differ."""
    names = ", ".join(f'"{name}"' for name in columns)
    there = {
        record[0]: record for record in db.execute(f"SELECT {names} FROM {table} WHERE {condition}", values)
    }
    gone = [(number,) for number, record in there.items() if wanted.get(number) != record]
    new = [record for number, record in wanted.items() if there.get(number) != record]
    db.executemany(f"DELETE FROM {table} WHERE {columns[0]} = ?", gone)
    db.executemany(f"INSERT INTO {table} ({names}) VALUES ({', '.join('?' * len(columns))})", new)


_SEGMENT_COLUMNS = ("id", "note_id", "row_id", "start", "end", "words", "terms", "tags")


def _segments(db: sqlite3.Connection, state: NoteState) -> Iterator[tuple[Any, ...]]:
    """The records of a note's segments."""
    context = _context_tags(db, state.note)
    free, tokens = _Ids(state.note), _Tokens(db)
    for row, start, end, words in _pieces(state, words_as_read(db, state)):
        tags = context if row is None else [*context, *_row_tags(row)]
        terms = "" if row is None else _terms(row)
        number = row.id if row is not None else None
        yield free.take(start), state.note, number, start, end, words, terms, tokens.of(tags)


def drop_segments(library: Library, note: int) -> None:
    """Take a note out of the search."""
    library.execute("DELETE FROM segment WHERE id BETWEEN ? AND ?", segment_range(note))


def rebuild_if_stale(library: Library, progress: Callable[[int, int], None] | None = None) -> None:
    """Build the derived tables when a migration emptied or outdated them."""
    (state,) = library.execute("SELECT value FROM state WHERE name = 'derived'").fetchone()
    if state != "fresh":
        rebuild_all(library, progress)


def rebuild_all(library: Library, progress: Callable[[int, int], None] | None = None) -> None:
    """Build the derived tables of every note again. progress: called with notes done and total."""
    with library.reading() as db:
        notes = [note for (note,) in db.execute("SELECT id FROM note ORDER BY id")]
    for done, note in enumerate(notes, 1):
        with library.writing():
            rebuild_note(library, note)
        if progress is not None:
            progress(done, len(notes))
    with library.writing() as db:
        db.execute("UPDATE state SET value = 'fresh' WHERE name = 'derived'")


def words_as_read(db: sqlite3.Connection, state: NoteState) -> tuple[Word, ...]:
    """The words of the reading in force, refused mends as heard."""
    words, mends = db.execute("SELECT words, mends FROM reading WHERE id = ?", (state.reading,)).fetchone()
    spans = [(m["first"], m["last"], m["heard"], m["read"]) for m in load(mends)] if state.refused else []
    return spoken(load_words(words), spans, state.refused)


def join(words: Sequence[Word], stretches: Stretches) -> str:
    """The words of some stretches as one line."""
    return " ".join(
        text for first, last in stretches for word in words[first:last] if (text := word.text.strip())
    )


class _Ids:
    """Segment ids of one note: sixteen for each tenth of a second, the next free one after that."""

    def __init__(self, note: int) -> None:
        self._first, self._last = segment_range(note)
        self._used: set[int] = set()

    def take(self, start: float) -> int:
        number = min(self._first + int(max(0.0, start) * 10) * 16, self._last - 65536)
        while number in self._used:
            number += 1
        self._used.add(number)
        return number


_Piece = tuple[StoredRow | None, float, float, str]


def _pieces(state: NoteState, words: Sequence[Word]) -> Iterator[_Piece]:
    stretches = {rep.id: rep.stretches for rep in state.reps}
    inside: set[int] = set()
    for row in state.rows:
        mine = stretches[row.rep_id]
        inside.update(index for first, last in mine for index in range(first, last))
        yield row, row.start, row.end, join(words, mine)
    yield from _talk(words, inside)


def _talk(words: Sequence[Word], inside: set[int]) -> Iterator[_Piece]:
    first: int | None = None
    for index in range(len(words) + 1):
        outside = index < len(words) and index not in inside
        if first is not None and (not outside or _ends(words, first, index)):
            if text := join(words, ((first, index),)):
                yield None, words[first].start, words[index - 1].end, text
            first = None
        if outside and first is None:
            first = index


def _ends(words: Sequence[Word], first: int, index: int) -> bool:
    spoken_so_far = index - first
    stop = words[index - 1].text.rstrip("\"')").endswith((".", "?", "!"))
    return spoken_so_far >= TALK_WORDS or (stop and spoken_so_far >= TALK_WORDS // 3)


_NOW_COLUMNS = (
    "row_id", "note_id", "reading_id", "rep_id", "rep", "seq", "start", "end", "player", "position",
    "verdict", "confirmed", "confidence", "corrected", "comment", "grade",
)  # fmt: skip


def _now(row: StoredRow, reading: int) -> tuple[Any, ...]:
    """The record of a row as it stands."""
    grade = row.current
    return (
        row.id, row.note, reading, row.rep_id, grade.rep, row.seq, grade.start, grade.end, grade.player,
        grade.position, grade.verdict, int(row.confirmed), grade.confidence,
        dump(sorted(row.corrected)), row.comment, dump_row(grade),
    )  # fmt: skip


def _retag(db: sqlite3.Connection, row: StoredRow, context: Sequence[tuple[str, str]]) -> None:
    db.execute(
        "UPDATE segment SET terms = ?, tags = ? WHERE row_id = ?",
        (_terms(row), _Tokens(db).of([*context, *_row_tags(row)]), row.id),
    )


def _context_tags(db: sqlite3.Connection, note: int) -> list[tuple[str, str]]:
    """What holds of every segment of the note."""
    season, game, opponent = db.execute(
        "SELECT game.season, game.id, coalesce(note.opponent, team.name) FROM note "
        "LEFT JOIN game ON game.id = note.game_id LEFT JOIN team ON team.id = game.opponent_id "
        "WHERE note.id = ?",
        (note,),
    ).fetchone()
    known = (("season", season), ("game", game), ("opponent_team", opponent))
    return [(field, str(value)) for field, value in known if value is not None]


def _row_tags(row: StoredRow) -> list[tuple[str, str]]:
    tags = [(name, text) for name, field in _TAGS.items() for text in _values(row.current, field)]
    tags.append(("confirmed", "yes" if row.confirmed else "no"))
    return tags


def _values(grade: GradeRow, field: str) -> list[str]:
    value: Any = getattr(grade, field)
    if value is None:
        return []
    return [str(item) for item in value] if isinstance(value, list) else [str(value)]


def _terms(row: StoredRow) -> str:
    grade = row.current
    terms = [term for field in _TERM_FIELDS for term in _values(grade, field)]
    if row.comment:
        terms.append(row.comment)
    # a token between the terms, so that a phrase never runs from one into the next
    return " q0 ".join(terms)


class _Tokens:
    """Filter values as tokens of the tags column; remembers what it looked up."""

    def __init__(self, db: sqlite3.Connection) -> None:
        self._db = db
        self._known: dict[tuple[str, str], int] = {}

    def of(self, tags: Iterable[tuple[str, str]]) -> str:
        """The tokens of some (field, value) pairs, each once."""
        return " ".join(f"q{number}" for number in sorted({self._number(tag) for tag in tags}))

    def _number(self, tag: tuple[str, str]) -> int:
        if tag not in self._known:
            query = "SELECT id FROM tag WHERE field = ? AND value = ?"
            found = self._db.execute(query, tag).fetchone()
            if found is None:
                self._db.execute("INSERT INTO tag (field, value) VALUES (?, ?)", tag)
                found = self._db.execute(query, tag).fetchone()
            self._known[tag] = found[0]
        return self._known[tag]
