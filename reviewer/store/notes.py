"""Notes: what was said, from which recording, about whom; and where the review stands."""

from __future__ import annotations

import hashlib
import re
import sqlite3
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal

from reviewer.errors import InputError
from reviewer.records import GradeRow, Mend, NoteContext, Reading, Rep, Word
from reviewer.store.codec import (
    Stretches,
    dump,
    dump_mends,
    dump_row,
    dump_words,
    load,
    load_mends,
    load_row,
    reading_digest,
    stamp,
    storable,
)  # fmt: skip
from reviewer.store.derive import drop_segments, rebuild_note, words_as_read
from reviewer.store.fold import StoredRow
from reviewer.store.journal import load_fold, revision_of
from reviewer.store.library import Library
from reviewer.store.rows import graded_rows

NoteKind = Literal["audio", "captions", "text"]


@dataclass(frozen=True)
class NewNote:
    """What is known of a note when it is stored.

    digest: of the content (SHA-256 of the file or text). source: the path as the user gave it.
    created: when it was recorded; None for now. model, settings: what the reading was made with.
    """

    digest: str
    kind: NoteKind
    duration_s: float
    context: NoteContext = field(default_factory=NoteContext)
    title: str | None = None
    source: str | None = None
    game_id: int | None = None
    created: datetime | None = None
    model: str = ""
    settings: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Note:
    """A stored note. created: UTC text. rows, confirmed: how many live rows, how many confirmed.

    reading, model, settings: of the reading in force. `rows` of `context()` has no roster.
    """

    id: int
    slug: str
    title: str
    kind: NoteKind
    source: str | None
    digest: str
    duration_s: float
    created: str
    player: str | None
    position: str | None
    opponent: str | None
    game_name: str | None
    level: str | None
    game_id: int | None
    revision: int
    reading: int
    model: str
    settings: Mapping[str, Any]
    rows: int
    confirmed: int


def add_note(library: Library, new: NewNote, reading: Reading) -> int:
    """Store a note and its reading; returns the note's id.

    The same content in the same context is the same note: storing it again changes nothing when
    the reading is the same one, else the reading is added (`add_reading`) and corrections are kept.
    """
    from reviewer.store.reread import add_reading

    with library.writing() as db:
        if (known := find_note(library, new.digest, new.context, new.game_id)) is not None:
            add_reading(library, known, reading, model=new.model, settings=new.settings)
            return known
        note = _insert_note(library, new)
        number = insert_reading(library, note, reading, new.model, new.settings)
        _insert_rows(db, note, number, reading)
        rebuild_note(library, note)
        return note


def find_note(library: Library, digest: str, context: NoteContext, game_id: int | None = None) -> int | None:
    """The note with this content and context, None when there is none."""
    with library.reading() as db:
        found = db.execute(
            "SELECT id FROM note WHERE identity = ?", (identity_of(digest, context, game_id),)
        ).fetchone()
    return found[0] if found else None


def same_content(library: Library, digest: str) -> dict[int, str]:
    """Id and name of every note of this content, newest first: one for each player and game."""
    with library.reading() as db:
        return dict(db.execute("SELECT id, slug FROM note WHERE digest = ? ORDER BY id DESC", (digest,)))


def identity_of(digest: str, context: NoteContext, game_id: int | None) -> str:
    """What makes a note the same one: its content and what was known of it."""
    parts = [digest, context.player, context.position, context.opponent, context.game, game_id]
    return hashlib.sha256(dump(parts).encode()).hexdigest()


def _insert_note(library: Library, new: NewNote) -> int:
    db, context = library.connection, new.context
    source = storable(new.source) if new.source is not None else None
    title = storable(new.title or "").strip() or _stem(source) or "note"
    created = stamp(new.created) if new.created else library.now()
    number = db.execute(
        "INSERT INTO note (slug, title, kind, source, digest, identity, duration_s, created, player, "
        "position, opponent, game_name, level, game_id) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            free_slug(db, title), title, new.kind, source, new.digest,
            identity_of(new.digest, context, new.game_id), new.duration_s, created, context.player,
            context.position, context.opponent, context.game, context.level, new.game_id,
        ),
    ).lastrowid  # fmt: skip
    assert number is not None
    return number


def _stem(source: str | None) -> str:
    return re.split(r"[\\/]", source)[-1].rsplit(".", 1)[0] if source else ""


def free_slug(db: sqlite3.Connection, title: str) -> str:
    """A name for the command line, made of the title, that no other note has."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60] or "note"
    # A slug that is a number would be taken for a note's id on the command line.
    stem = f"note-{stem}" if stem.isdigit() else stem
    slug, count = stem, 1
    while db.execute("SELECT 1 FROM note WHERE slug = ?", (slug,)).fetchone():
        count += 1
        slug = f"{stem}-{count}"
    return slug


def insert_reading(
    library: Library, note: int, reading: Reading, model: str, settings: Mapping[str, Any]
) -> int:
    """Keep a reading's words and mends; returns its id. Its rows are stored apart."""
    number = library.execute(
        "INSERT INTO reading (note_id, digest, model, settings, created, words, mends, remarks) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (
            note, reading_digest(reading, model, settings), model, dump(dict(settings)), library.now(),
            dump_words(reading.words), dump_mends(reading.mends), dump(dict(reading.remarks)),
        ),
    ).lastrowid  # fmt: skip
    assert number is not None
    return number


def reps_of(reading: Reading) -> list[Rep]:
    """The reps that have rows; where a row's rep is not among the reading's reps, one is made of its time."""
    known = {rep.index: rep for rep in reading.reps}
    wanted: dict[int, Rep] = {}
    for row in reading.rows:
        if row.rep not in wanted:
            wanted[row.rep] = known.get(row.rep) or _rep_by_time(row, reading.words)
    return [wanted[index] for index in sorted(wanted)]


def _rep_by_time(row: GradeRow, words: Sequence[Word]) -> Rep:
    inside = [i for i, word in enumerate(words) if row.start <= (word.start + word.end) / 2 <= row.end]
    stretches = ((inside[0], inside[-1] + 1),) if inside else ()
    return Rep(row.rep, row.start, row.end, stretches)


def insert_rep(
    db: sqlite3.Connection, note: int, order: float, reading: int | None, stretches: Stretches
) -> int:
    """Insert a rep; returns its id."""
    number = db.execute("INSERT INTO rep (note_id, position) VALUES (?, ?)", (note, order)).lastrowid
    assert number is not None
    if reading is not None:
        insert_rep_reading(db, number, reading, stretches)
    return number


def insert_rep_reading(db: sqlite3.Connection, rep: int, reading: int, stretches: Stretches) -> None:
    """Keep how a reading cut a rep."""
    db.execute(
        "INSERT INTO rep_reading (rep_id, reading_id, stretches) VALUES (?, ?, ?)",
        (rep, reading, dump(stretches)),
    )


def insert_row(
    db: sqlite3.Connection, note: int, rep: int, seq: int, grade: GradeRow, reading: int | None, shown: bool
) -> int:
    """Insert a row, as read in a reading or (None) as made by hand; returns its id."""
    made = None if reading is not None else dump_row(grade)
    number = db.execute(
        "INSERT INTO grade_row (note_id, rep_id, seq, shown, made) VALUES (?, ?, ?, ?, ?)",
        (note, rep, seq, int(shown), made),
    ).lastrowid
    assert number is not None
    if reading is not None:
        insert_row_reading(db, number, reading, grade)
    return number


def insert_row_reading(db: sqlite3.Connection, row: int, reading: int, grade: GradeRow) -> None:
    """Keep what a reading says of a row."""
    db.execute(
        "INSERT INTO row_reading (row_id, reading_id, grade) VALUES (?, ?, ?)",
        (row, reading, dump_row(grade)),
    )


def _insert_rows(db: sqlite3.Connection, note: int, number: int, reading: Reading) -> None:
    reps = {rep.index: insert_rep(db, note, rep.start, number, rep.stretches) for rep in reps_of(reading)}
    for seq, row in enumerate(reading.rows):
        insert_row(db, note, reps[row.rep], seq, row, number, shown=True)


_NOTE_COLUMNS = """
    SELECT note.id, slug, title, kind, source, note.digest, duration_s, note.created, player, position,
           opponent, game_name, level, game_id, revision,
           coalesce((SELECT json_extract(new, '$') FROM change_log WHERE note_id = note.id AND undone = 0
                     AND subject = 'note' AND field = 'reading' ORDER BY id DESC LIMIT 1),
                    (SELECT min(id) FROM reading WHERE note_id = note.id)) AS reading_id,
           (SELECT count(*) FROM row_now WHERE note_id = note.id),
           (SELECT coalesce(sum(confirmed), 0) FROM row_now WHERE note_id = note.id)
    FROM note
"""


def note(library: Library, which: int | str) -> Note:
    """The note of that id or slug. Raises InputError when there is none."""
    with library.reading():
        found = _notes(library, "WHERE note.id = ? OR slug = ?", (_number(which), storable(str(which))))
    if not found:
        raise InputError(f"There is no note {which} in the grade book; list the notes to see their names.")
    return found[0]


def _number(which: int | str) -> int:
    return int(which) if str(which).isdecimal() and len(str(which)) < 19 else -1


def notes(
    library: Library, *, game: int | None = None, season: str | None = None, limit: int | None = None
) -> list[Note]:
    """Notes, newest first; of one game (id) or season where given."""
    conditions = ["1"]
    values: list[Any] = []
    if game is not None:
        conditions.append("game_id = ?")
        values.append(game)
    if season is not None:
        conditions.append("game_id IN (SELECT id FROM game WHERE season = ?)")
        values.append(season)
    where = f"WHERE {' AND '.join(conditions)} ORDER BY note.id DESC LIMIT ?"
    with library.reading():
        return _notes(library, where, (*values, -1 if limit is None else limit))


def _notes(library: Library, where: str, values: tuple[Any, ...]) -> list[Note]:
    records = library.execute(_NOTE_COLUMNS + where, values).fetchall()
    read = {record[15] for record in records}
    made = {
        number: (model, load(settings))
        for number in read
        for model, settings in library.execute("SELECT model, settings FROM reading WHERE id = ?", (number,))
    }
    return [Note(*(*record[:16], *made[record[15]], *record[16:])) for record in records]


def context_of(library: Library, number: int) -> NoteContext:
    """What was known of the note when it was read, with the rosters of its game as they are now."""
    from reviewer.store.rosters import roster_for_game

    found = note(library, number)
    roster = roster_for_game(library, found.game_id) if found.game_id is not None else ()
    level: Any = found.level
    return NoteContext(found.player, found.position, found.opponent, found.game_name, roster, level)


def rename_note(library: Library, number: int, title: str) -> None:
    """Give a note another title (its slug stays)."""
    if not title.strip():
        raise InputError("A note needs a title; type at least one letter.")
    with library.writing() as db:
        revision_of(library, number)
        db.execute("UPDATE note SET title = ? WHERE id = ?", (title.strip(), number))


def assign_game(library: Library, number: int, game: int | None) -> None:
    """Say which game (id) a note is about; None takes it away. The note stays the same note."""
    with library.writing() as db:
        found = note(library, number)
        if game is not None and db.execute("SELECT 1 FROM game WHERE id = ?", (game,)).fetchone() is None:
            raise InputError(
                f"There is no game {game} in the grade book; list the games to see their numbers."
            )
        context = NoteContext(found.player, found.position, found.opponent, found.game_name)
        try:
            db.execute(
                "UPDATE note SET game_id = ?, identity = ? WHERE id = ?",
                (game, identity_of(found.digest, context, game), number),
            )
        except sqlite3.IntegrityError as error:
            raise InputError(
                f"Another note of that game has the same content as {found.title!r}; delete one of them."
            ) from error
        rebuild_note(library, number)


def delete_note(library: Library, number: int) -> None:
    """Remove a note with all its rows and their history. This cannot be undone."""
    with library.writing() as db:
        revision_of(library, number)
        drop_segments(library, number)
        db.execute("DELETE FROM note WHERE id = ?", (number,))


def current_rows(library: Library, number: int) -> list[StoredRow]:
    """The note's rows as they stand, in order (rep, then as spoken)."""
    with library.reading():
        revision_of(library, number)
        return graded_rows(library, note=number)


def words_of(library: Library, number: int) -> tuple[Word, ...]:
    """The words of the reading in force; refused mends stand as heard (see `fold.spoken`)."""
    with library.reading() as db:
        revision_of(library, number)
        return words_as_read(db, load_fold(library, number).state())


def mends_of(library: Library, number: int) -> list[tuple[Mend, bool]]:
    """The mends of the reading in force, each with whether the coach refused its wording."""
    from reviewer.store.fold import mend_key

    with library.reading() as db:
        revision_of(library, number)
        state = load_fold(library, number).state()
        (mends,) = db.execute("SELECT mends FROM reading WHERE id = ?", (state.reading,)).fetchone()
    return [
        (mend, tuple(load(mend_key(mend.heard, mend.read))) in state.refused) for mend in load_mends(mends)
    ]


def readings_of(library: Library, number: int) -> list[tuple[int, str, str, Mapping[str, Any]]]:
    """Every reading of a note, oldest first: id, when, model, settings."""
    with library.reading() as db:
        query = "SELECT id, created, model, settings FROM reading WHERE note_id = ? ORDER BY id"
        return [(i, at, model, load(settings)) for i, at, model, settings in db.execute(query, (number,))]


def save_cursor(library: Library, number: int, row: int) -> None:
    """Remember the row that the review of a note stands on."""
    with library.writing() as db:
        revision_of(library, number)
        db.execute("UPDATE note SET cursor_row = ? WHERE id = ?", (row, number))


def cursor_of(library: Library, number: int) -> int | None:
    """The row to come back to: the remembered one, else the live one nearest to it in time.

    Without a remembered row: the first one that is not confirmed, else the first. None without rows.
    """
    with library.reading() as db:
        rows = current_rows(library, number)
        (remembered,) = db.execute("SELECT cursor_row FROM note WHERE id = ?", (number,)).fetchone()
        if not rows or any(row.id == remembered for row in rows):
            return remembered if rows else None
        grade = db.execute(
            "SELECT coalesce(made, (SELECT grade FROM row_reading WHERE row_id = id LIMIT 1)) "
            "FROM grade_row WHERE id = ?",
            (remembered,),
        ).fetchone()
    if grade is not None:
        start = load_row(grade[0]).start
        return min(rows, key=lambda row: abs(row.start - start)).id
    return next((row.id for row in rows if not row.confirmed), rows[0].id)
