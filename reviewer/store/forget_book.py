"""A person's rows, words, decisions and name removed from a grade book's tables (see `forget_person.py`)."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from reviewer.records import NoteContext
from reviewer.store.codec import dump, dump_row, load, load_row
from reviewer.store.derive import rebuild_note
from reviewer.store.fold import StoredRow
from reviewer.store.forget_text import Name, blanked, named, out_of_stored
from reviewer.store.journal import state_of
from reviewer.store.library import Library
from reviewer.store.notes import free_slug, identity_of

PAD_S = 0.15
"""Silence around a spoken name."""

Numbers = Callable[[Sequence[str]], Sequence[tuple[int, int, str]]]
"""The numbers that words say: (first, last) word, last exclusive, and the number as worn."""


@dataclass(frozen=True)
class Stint:
    """One of his roster lines. until: the first day that the number is not his any more."""

    id: int
    team: str
    own: bool
    season: str
    jersey: str
    since: str | None
    until: str | None


@dataclass(frozen=True)
class Person:
    """Who is to be forgotten. stints: those of his roster lines that go. stays: he keeps others."""

    player: int
    name: str
    team: str
    stints: tuple[Stint, ...]
    stays: bool


@dataclass
class Forgotten:
    """What was, or would be, removed. counts: by name. spans: note id -> stretches of its recording, in
    seconds, where he is graded or named. left: sentences on what stays and why. bare: his last name
    alone is his and nobody else's."""

    counts: dict[str, int] = field(default_factory=dict)
    spans: dict[int, list[tuple[float, float]]] = field(default_factory=dict)
    left: list[str] = field(default_factory=list)
    bare: bool = True

    def add(self, what: str, count: int = 1) -> None:
        """Count something."""
        if count:
            self.counts[what] = self.counts.get(what, 0) + count


@dataclass(frozen=True)
class _Scope:
    """A note in which he can occur: under which numbers, on which side, and whom to leave alone."""

    note: int
    jerseys: frozenset[str]
    own: bool
    name: Name
    everywhere: bool


class Forgetting:
    """One person's removal, inside one transaction. Fills `done`."""

    def __init__(self, library: Library, person: Person, notes: Collection[int], numbers: Numbers) -> None:
        self.library, self.db = library, library.connection
        self.person, self.named_notes, self.numbers = person, frozenset(notes), numbers
        self.done = Forgotten()

    def run(self) -> None:
        others = [
            name
            for (name,) in self.db.execute("SELECT name FROM player WHERE id <> ?", (self.person.player,))
        ]
        mine = self.person.name.casefold()
        self.namesake = self.person.stays or any(other.casefold() == mine for other in others)
        last = mine.split()[-1]
        self.shares_last = self.namesake or any(other.casefold().split()[-1] == last for other in others)
        self.done.bare = not self.shares_last
        firsts = {part for other in others for part in other.casefold().split()}
        self.first = mine.split()[0] not in firsts
        for scope in list(self._scopes()):
            self._in_note(scope)
        self._roster()
        if self.namesake:
            self.done.left.append(
                f"Another {self.person.name} stays, so the name stays where it is not surely this one's."
            )
        else:
            if self.shares_last:
                self.done.left.append(
                    f"Others have the last name too: {self.person.name.split()[-1]} alone stays where it may "
                    "be theirs."
                )
            self._everywhere(Name(self.person.name, bare=not self.shares_last))

    # where

    def _scopes(self) -> Iterator[_Scope]:
        query = (
            "SELECT note.id, game.season, game.date, own.name, opp.name FROM note "
            "LEFT JOIN game ON game.id = note.game_id LEFT JOIN team AS own ON own.id = game.team_id "
            "LEFT JOIN team AS opp ON opp.id = game.opponent_id ORDER BY note.id"
        )
        loose = 0
        for note, season, day, own, opponent in self.db.execute(query).fetchall():
            teams = {own: True, opponent: False}
            stints = [
                stint
                for stint in self.person.stints
                if stint.season == season and stint.team in teams and _wears(stint, day)
            ]
            if note in self.named_notes:
                jerseys = frozenset(s.jersey for s in self.person.stints)
                side = any(s.own for s in self.person.stints)
                yield self._scope(note, jerseys, side)
            elif stints:
                yield self._scope(note, frozenset(s.jersey for s in stints), teams[stints[0].team])
            elif season is None:
                loose += self._has_number(note)
        if loose:
            self.done.left.append(
                f"Notes that belong to no game and have his number: {loose}. Who that is cannot be told; "
                "name those that are about him with --note."
            )

    def _scope(self, note: int, jerseys: frozenset[str], own: bool) -> _Scope:
        return _Scope(note, jerseys, own, Name(self.person.name, True, self.first), not self.shares_last)

    def _has_number(self, note: int) -> bool:
        numbers = {stint.jersey for stint in self.person.stints}
        return any(row.current.player in numbers for row in state_of(self.library, note).rows)

    # one note

    def _in_note(self, scope: _Scope) -> None:
        state = state_of(self.library, scope.note)
        stretches = {rep.id: rep.stretches for rep in state.reps}
        his = [r for r in (*state.rows, *state.hidden) if scope.own and r.current.player in scope.jerseys]
        spans = [(row.start, row.end) for row in his]
        inside = {n for row in his for a, b in stretches.get(row.rep_id, ()) for n in range(a, b)}
        if scope.own:
            other = [spot for row in his for spot in _said(row, but="player")]
        else:
            kept = [r for r in (*state.rows, *state.hidden) if set(r.current.opponents) & scope.jerseys]
            inside = {n for row in kept for a, b in stretches.get(row.rep_id, ()) for n in range(a, b)}
            other = [spot for row in kept for spot in _said(row, but="opponents")]
        spans += self._out_of_words(scope, inside, other)
        self._remove_rows([row.id for row in his])
        self._out_of_rows(scope)
        self._out_of_note(scope)
        self._out_of_log(scope)
        if spans:
            self.done.spans[scope.note] = joined_spans(spans)
        rebuild_note(self.library, scope.note)

    def _out_of_words(
        self, scope: _Scope, inside: Collection[int], other: Sequence[tuple[float, float]]
    ) -> list[tuple[float, float]]:
        """The name, and inside his reps his number where it says nothing else; where they were said."""
        spans: list[tuple[float, float]] = []
        for number, words, mends in self.db.execute(
            "SELECT id, words, mends FROM reading WHERE note_id = ?", (scope.note,)
        ).fetchall():
            there = load(words)
            gone = set(named(scope.name, there, None if scope.everywhere else inside))
            for first, last, said in self.numbers([str(word[0]) for word in there]):
                middle = (there[first][1] + there[last - 1][2]) / 2
                elsewhere = any(start <= middle <= end for start, end in other)
                if said in scope.jerseys and not elsewhere and set(range(first, last)) <= set(inside):
                    gone |= set(range(first, last))
            spans += [(max(0.0, there[n][1] - PAD_S), there[n][2] + PAD_S) for n in gone]
            tidy = [m for m in load(mends) if not gone & set(range(m["first"], m["last"]))]
            if gone:
                self.db.execute(
                    "UPDATE reading SET words = ?, mends = ? WHERE id = ?",
                    (dump(blanked(there, gone)), dump(tidy), number),
                )
            self.done.add("words", len(gone))
        return spans

    def _remove_rows(self, rows: Sequence[int]) -> None:
        for row in rows:
            self.db.execute(
                "DELETE FROM change WHERE subject = 'question' AND subject_id IN "
                "(SELECT id FROM question WHERE row_id = ?)",
                (row,),
            )
            gone = self.db.execute("DELETE FROM change WHERE subject = 'row' AND subject_id = ?", (row,))
            self.done.add("decisions", gone.rowcount)
            self.db.execute("DELETE FROM segment WHERE row_id = ?", (row,))
            self.db.execute("UPDATE note SET cursor_row = NULL WHERE cursor_row = ?", (row,))
            self.db.execute("DELETE FROM grade_row WHERE id = ?", (row,))
        self.done.add("rows", len(rows))

    def _out_of_rows(self, scope: _Scope) -> None:
        """His number in what was read or made of rows that stay."""
        for table, column, key in (
            ("row_reading", "grade", "row_id, reading_id"),
            ("grade_row", "made", "id"),
        ):
            which = "id" if table == "grade_row" else "row_id"
            query = (
                f"SELECT {key}, {column} FROM {table} WHERE {column} IS NOT NULL AND {which} IN "
                "(SELECT id FROM grade_row WHERE note_id = ?)"
            )
            for *ids, text in self.db.execute(query, (scope.note,)).fetchall():
                cleaned = out_of_stored(self._name(scope), self._without_number(scope, text))
                if cleaned != text:
                    where = " AND ".join(f"{part} = ?" for part in key.split(", "))
                    self.db.execute(f"UPDATE {table} SET {column} = ? WHERE {where}", (cleaned, *ids))
                    self.done.add("other rows")

    def _without_number(self, scope: _Scope, text: str) -> str:
        grade = load_row(text)
        changed = False
        if scope.own and grade.player in scope.jerseys:
            grade.player, changed = None, True
            grade.evidence.pop("player", None)
        elif not scope.own and set(grade.opponents) & scope.jerseys:
            grade.opponents = [j for j in grade.opponents if j not in scope.jerseys]
            said = grade.evidence.get("opponents", [])
            kept = [e for e in said if not scope.jerseys & {n for *_, n in self.numbers(e.read.split())}]
            grade.evidence = {**grade.evidence, "opponents": kept}
            changed = True
        return dump_row(grade) if changed else text

    def _name(self, scope: _Scope) -> Name:
        return scope.name if scope.everywhere else Name(self.person.name, bare=False)

    def _out_of_note(self, scope: _Scope) -> None:
        columns = (
            "slug", "title", "source", "digest", "player", "position", "opponent", "game_name", "game_id",
        )  # fmt: skip
        record = self.db.execute(
            f"SELECT {', '.join(columns)} FROM note WHERE id = ?", (scope.note,)
        ).fetchone()
        note = dict(zip(columns, record, strict=True))
        was = dict(note)
        name = self._name(scope)
        if scope.own and note["player"] in scope.jerseys:
            note["player"] = note["position"] = None
        for column in ("title", "opponent", "game_name"):
            note[column] = name.out_of(note[column]) if note[column] else note[column]
        if name.found_in(note["slug"].replace("-", " ")):
            note["slug"] = free_slug(self.db, note["title"])
        # a path with the name in it is lost here; the recording itself is renamed where it is the library's
        if note["source"] and name.found_in(note["source"].replace("-", " ")):
            note["source"] = None
        if note == was:
            return
        values = [note[c] for c in ("slug", "title", "source", "player", "position", "opponent", "game_name")]
        self.db.execute(
            "UPDATE note SET slug = ?, title = ?, source = ?, player = ?, position = ?, opponent = ?, "
            "game_name = ?, identity = ? WHERE id = ?",
            (*values, free_identity(self.db, scope.note, note), scope.note),
        )
        self.done.add("notes")

    def _out_of_log(self, scope: _Scope) -> None:
        field = "player" if scope.own else "opponents"
        for number, name, old, new in self.db.execute(
            "SELECT id, field, old, new FROM change_log WHERE note_id = ?", (scope.note,)
        ).fetchall():
            values = [old, new]
            if name == field:
                values = [self._value_without(scope, text) for text in values]
            values = [text and out_of_stored(self._name(scope), text) for text in values]
            cell = out_of_stored(self._name(scope), name)
            if [cell, *values] != [name, old, new]:
                self.db.execute(
                    "UPDATE change SET field = ?, old = ?, new = ? WHERE id = ?", (cell, *values, number)
                )
                self.done.add("older values")

    def _value_without(self, scope: _Scope, text: str | None) -> str | None:
        value = None if text is None else load(text)
        if isinstance(value, list):
            return dump([item for item in value if item not in scope.jerseys])
        return dump(None) if value in scope.jerseys else text

    # everywhere

    def _roster(self) -> None:
        spots = [(stint.id,) for stint in self.person.stints]
        self.db.executemany("DELETE FROM roster_spot WHERE id = ?", spots)
        self.done.add("roster lines", len(spots))
        if not self.person.stays:
            self.db.execute("DELETE FROM player WHERE id = ?", (self.person.player,))

    def _everywhere(self, name: Name) -> None:
        """The name in every text of the file."""
        for search in ("learned", "saved_search"):
            for number, *texts in self.db.execute(f"SELECT rowid, * FROM {search}").fetchall():
                if any(isinstance(text, str) and name.found_in(text) for text in texts):
                    self.db.execute(f"DELETE FROM {search} WHERE rowid = ?", (number,))
                    self.done.add("saved searches" if search == "saved_search" else "lessons")
        touched = set(self._words_everywhere(name))
        for table, column in _texts(self.db):
            keys = _keys(self.db, table)
            for *ids, text in self.db.execute(
                f"SELECT {', '.join(keys)}, {column} FROM {table} WHERE {column} IS NOT NULL"
            ).fetchall():
                cleaned = out_of_stored(name, str(text))
                if cleaned == text or not isinstance(text, str):
                    continue
                where = " AND ".join(f"{key} = ?" for key in keys)
                if (table, column) == ("note", "slug"):
                    cleaned = free_slug(self.db, cleaned)
                self.db.execute(f"UPDATE {table} SET {column} = ? WHERE {where}", (cleaned, *ids))
                self.done.add("other texts")
        for note in sorted(touched):
            rebuild_note(self.library, note)

    def _words_everywhere(self, name: Name) -> Iterator[int]:
        """Words of notes that no roster ties to him; the notes."""
        for number, note, words in self.db.execute("SELECT id, note_id, words FROM reading").fetchall():
            there = load(words)
            if gone := named(name, there):
                text = dump(blanked(there, gone))
                self.db.execute("UPDATE reading SET words = ? WHERE id = ?", (text, number))
                self.done.add("words", len(gone))
                spans = [(max(0.0, there[n][1] - PAD_S), there[n][2] + PAD_S) for n in gone]
                self.done.spans[note] = joined_spans([*self.done.spans.get(note, []), *spans])
            yield note


def _wears(stint: Stint, day: str | None) -> bool:
    """Whether the number is his on that day; without a day, at the season's end."""
    if day is None:
        return stint.until is None
    return (stint.since or day) <= day and (stint.until is None or day < stint.until)


def _said(row: StoredRow, *, but: str) -> list[tuple[float, float]]:
    """Where everything of a row was said but one field."""
    grades = [grade for grade in (row.current, row.machine, row.first) if grade is not None]
    # a verdict's words are a whole sentence: only short evidence tells what a number in it is
    return [
        (e.start, e.end)
        for grade in grades
        for name in ("down", "distance", "opponents", "player", "alignment")
        if name != but
        for e in grade.evidence.get(name, ())
    ]


def joined_spans(spans: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Sorted, overlapping ones made one."""
    result: list[tuple[float, float]] = []
    for start, end in sorted(spans):
        if result and start <= result[-1][1]:
            result[-1] = (result[-1][0], max(end, result[-1][1]))
        else:
            result.append((start, end))
    return result


def free_identity(db: sqlite3.Connection, number: int, note: Mapping[str, Any]) -> str:
    """The identity of a note as it now is; one of its own where another note has that."""
    context = NoteContext(note["player"], note["position"], note["opponent"], note["game_name"])
    identity = identity_of(note["digest"], context, note["game_id"])
    taken = db.execute("SELECT 1 FROM note WHERE identity = ? AND id <> ?", (identity, number)).fetchone()
    return f"{identity}-{number}" if taken else identity


def _texts(db: sqlite3.Connection) -> list[tuple[str, str]]:
    """Every column that can hold text, but those of the search index, which is built again."""
    tables = [
        name
        for (name,) in db.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' "
            "AND name NOT LIKE 'segment_fts%'"
        )
    ]
    return [
        (table, f'"{column}"')
        for table in tables
        for _, column, kind, *_ in db.execute(f"PRAGMA table_info({table})").fetchall()
        if kind == "TEXT" and (table, column) not in _FIXED
    ]


_FIXED = {
    ("note", "kind"),
    ("note", "digest"),
    ("note", "identity"),
    ("reading", "digest"),
    ("reading", "words"),
}


def _keys(db: sqlite3.Connection, table: str) -> list[str]:
    """What names a record of a table."""
    info = db.execute(f"PRAGMA table_info({table})").fetchall()
    keys = [column for _, column, _, _, _, place in info if place]
    return keys or ["rowid"]
