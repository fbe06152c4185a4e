"""Rescued records fitted together: stand-ins for what is lost and leaned on, the log counted anew."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

from reviewer.records import GradeRow
from reviewer.store.codec import dump_row, load, load_row

LOST = "lost"
"""The model of a reading whose words are lost."""


def fit(db: sqlite3.Connection) -> dict[str, int]:
    """Make rescued tables a sound grade book; returns what was lost for certain, by table."""
    lost: dict[str, int] = {}
    for work in (_readings, _rows, _reps, _notes, _grades, _log, _loose, _events):
        for name, count in work(db).items():
            if count:
                lost[name] = lost.get(name, 0) + count
    return lost


def _readings(db: sqlite3.Connection) -> dict[str, int]:
    """A reading that rows name but whose words are gone: an empty one, so that the rows keep their grades."""
    gone = _missing(
        db,
        "SELECT reading_id FROM row_reading UNION SELECT reading_id FROM rep_reading",
        "reading",
    )
    for number in gone:
        note = db.execute(
            "SELECT note_id FROM grade_row JOIN row_reading ON row_id = id WHERE reading_id = ? UNION "
            "SELECT note_id FROM rep JOIN rep_reading ON rep_id = id WHERE reading_id = ?",
            (number, number),
        ).fetchone()
        if note is not None:
            _empty_reading(db, note[0], number)
        db.execute("DELETE FROM rep_reading WHERE reading_id = ?", (number,))
        if note is None:
            db.execute("DELETE FROM row_reading WHERE reading_id = ?", (number,))
    return {"reading": len(gone)}


def _empty_reading(db: sqlite3.Connection, note: int, number: int | None = None) -> None:
    db.execute(
        "INSERT INTO reading (id, note_id, digest, model, settings, created, words, mends, remarks) "
        "VALUES (?, ?, ?, ?, '{}', '', '[]', '[]', '{}')",
        (number, note, f"{LOST}-{note}-{number}", LOST),
    )


def _rows(db: sqlite3.Connection) -> dict[str, int]:
    """A row of which only what was read is left: it stands again, in a rep of its own."""
    gone = _missing(db, "SELECT row_id FROM row_reading", "grade_row")
    for number in gone:
        note, grade = db.execute(
            "SELECT note_id, grade FROM row_reading LEFT JOIN reading ON reading.id = reading_id "
            "WHERE row_id = ? ORDER BY reading_id",
            (number,),
        ).fetchone()
        if note is None:
            db.execute("DELETE FROM row_reading WHERE row_id = ?", (number,))
            continue
        start = load_row(grade).start
        rep = db.execute("INSERT INTO rep (note_id, position) VALUES (?, ?)", (note, start)).lastrowid
        db.execute(
            "INSERT INTO grade_row (id, note_id, rep_id, seq, shown) VALUES (?, ?, ?, ?, 1)",
            (number, note, rep, number),
        )
    return {"grade_row": len(gone)}


def _reps(db: sqlite3.Connection) -> dict[str, int]:
    gone = _missing(db, "SELECT rep_id FROM grade_row UNION SELECT rep_id FROM rep_reading", "rep")
    for number in gone:
        note = db.execute(
            "SELECT note_id FROM grade_row WHERE rep_id = ? UNION SELECT note_id FROM rep_reading "
            "JOIN reading ON reading.id = reading_id WHERE rep_id = ?",
            (number, number),
        ).fetchone()
        if note is None:
            db.execute("DELETE FROM rep_reading WHERE rep_id = ?", (number,))
        else:
            start = _start(db, number)
            db.execute("INSERT INTO rep (id, note_id, position) VALUES (?, ?, ?)", (number, note[0], start))
    return {"rep": len(gone)}


def _start(db: sqlite3.Connection, rep: int) -> float:
    query = (
        "SELECT coalesce(made, (SELECT grade FROM row_reading WHERE row_id = grade_row.id LIMIT 1)) "
        "FROM grade_row WHERE rep_id = ?"
    )
    starts = [load_row(text).start for (text,) in db.execute(query, (rep,)) if text]
    return min(starts, default=0.0)


def _notes(db: sqlite3.Connection) -> dict[str, int]:
    """A note of which the words or rows are left gets a head again; a note without words an empty reading."""
    gone = _missing(
        db,
        "SELECT note_id FROM reading UNION SELECT note_id FROM rep UNION SELECT note_id FROM grade_row "
        "UNION SELECT note_id FROM action",
        "note",
    )
    for number in gone:
        end = 0.0
        for (words,) in db.execute("SELECT words FROM reading WHERE note_id = ?", (number,)):
            end = max([end, *(word[2] for word in load(words))])
        name = f"rescued-{number}"
        db.execute(
            "INSERT INTO note (id, slug, title, kind, digest, identity, duration_s, created) "
            "VALUES (?, ?, ?, 'text', ?, ?, ?, '')",
            (number, name, f"Rescued note {number}", name, name, end),
        )
    empty = db.execute("SELECT id FROM note WHERE id NOT IN (SELECT note_id FROM reading)").fetchall()
    for (number,) in empty:
        _empty_reading(db, number)
    return {"note": len(gone), "reading": len(empty)}


def _grades(db: sqlite3.Connection) -> dict[str, int]:
    """A row of which what was read is gone: it stands blank and unconfirmed, under what was decided."""
    gone = db.execute(
        "SELECT grade_row.id, rep_id, note_id FROM grade_row LEFT JOIN row_reading ON row_id = grade_row.id "
        "WHERE made IS NULL AND row_id IS NULL"
    ).fetchall()
    for number, rep, note in gone:
        (reading,) = db.execute("SELECT min(id) FROM reading WHERE note_id = ?", (note,)).fetchone()
        start, end = _span(db, rep, reading)
        grade = dump_row(GradeRow(rep=1, start=start, end=end))
        db.execute("INSERT INTO row_reading VALUES (?, ?, ?)", (number, reading, grade))
        db.execute(
            "DELETE FROM change WHERE subject = 'row' AND subject_id = ? AND field = 'confirmed'", (number,)
        )
    return {"row_reading": len(gone)}


def _span(db: sqlite3.Connection, rep: int, reading: int) -> tuple[float, float]:
    """The time of a rep's words, of its place in the talk where they are gone."""
    found = db.execute(
        "SELECT stretches, words FROM rep_reading JOIN reading ON reading.id = reading_id "
        "WHERE rep_id = ? AND reading_id = ?",
        (rep, reading),
    ).fetchone()
    if found is not None and (stretches := load(found[0])):
        words, (first, last) = load(found[1]), stretches[0]
        if last <= len(words):
            return words[first][1], words[last - 1][2]
    (position,) = db.execute("SELECT position FROM rep WHERE id = ?", (rep,)).fetchone()
    return position, position


def _log(db: sqlite3.Connection) -> dict[str, int]:
    """A decision whose action is gone stays in force, with nobody's name and no time."""
    gone = _missing(db, "SELECT action_id FROM change", "action")
    for number in gone:
        note = db.execute(
            "SELECT coalesce((SELECT note_id FROM grade_row WHERE id = subject_id AND subject = 'row'), "
            "(SELECT note_id FROM rep WHERE id = subject_id AND subject = 'rep'), "
            "(SELECT id FROM note WHERE id = subject_id AND subject IN ('note', 'mend'))) AS note "
            "FROM change WHERE action_id = ? AND note IS NOT NULL",
            (number,),
        ).fetchone()
        if note is None:
            db.execute("DELETE FROM change WHERE action_id = ?", (number,))
        else:
            db.execute(
                "INSERT INTO action (id, note_id, kind, at, who) VALUES (?, ?, 'rescued', '', '')",
                (number, note[0]),
            )
    lost = len(gone)
    # a decision on a reading that is gone cannot hold
    dropped = db.execute(
        "DELETE FROM change WHERE subject = 'note' AND field = 'reading' AND new IS NOT NULL "
        "AND CAST(new AS INTEGER) NOT IN (SELECT id FROM reading)"
    ).rowcount
    for subject, table in (("row", "grade_row"), ("rep", "rep"), ("question", "question")):
        dropped += db.execute(
            f"DELETE FROM change WHERE subject = ? AND subject_id NOT IN (SELECT id FROM {table})", (subject,)
        ).rowcount
    return {"action": lost, "change": dropped}


_NEEDS = (
    ("player", "team_id", "team"), ("roster_spot", "team_id", "team"), ("roster_spot", "player_id", "player"),
    ("question", "note_id", "note"), ("question", "action_id", "action"), ("question", "row_id", "grade_row"),
    ("clash", "note_id", "note"), ("event", "note_id", "note"), ("event", "action_id", "action"),
    ("play", "game_id", "game"), ("rep_play", "rep_id", "rep"), ("film", "note_id", "note"),
    ("reading", "note_id", "note"),
)  # fmt: skip
_MAY_POINT = (
    ("note", "game_id", "game"), ("game", "team_id", "team"), ("game", "opponent_id", "team"),
    ("learned", "note_id", "note"), ("learned", "row_id", "grade_row"), ("clash", "row_id", "grade_row"),
    ("clash", "mine_action", "action"), ("clash", "theirs_action", "action"), ("clash", "taken_by", "action"),
)  # fmt: skip


def _loose(db: sqlite3.Connection) -> dict[str, int]:
    """What leans on something that is gone and has no stand-in."""
    lost: dict[str, int] = {}
    for table, column, parent in _NEEDS:
        count = len(_missing(db, f"SELECT {column} FROM {table}", parent))
        db.execute(f"DELETE FROM {table} WHERE {column} NOT IN (SELECT id FROM {parent})")
        lost[parent] = max(lost.get(parent, 0), count)
    for table, column, parent in _MAY_POINT:
        count = len(_missing(db, f"SELECT {column} FROM {table} WHERE {column} IS NOT NULL", parent))
        db.execute(f"UPDATE {table} SET {column} = NULL WHERE {column} NOT IN (SELECT id FROM {parent})")
        lost[parent] = max(lost.get(parent, 0), count)
    db.execute(
        "DELETE FROM rep_play WHERE NOT EXISTS (SELECT 1 FROM play WHERE play.game_id = rep_play.game_id "
        "AND play.place = rep_play.place)"
    )
    return lost


def _events(db: sqlite3.Connection) -> dict[str, int]:
    """A note's revision counts its events: where some are gone they are told anew from the actions."""
    lost = 0
    for note, revision in db.execute("SELECT id, revision FROM note").fetchall():
        there = db.execute(
            "SELECT action_id, revision FROM event WHERE note_id = ? ORDER BY revision", (note,)
        ).fetchall()
        actions = db.execute(
            "SELECT id, undone, at, who FROM action WHERE note_id = ? ORDER BY id", (note,)
        ).fetchall()
        whole = [number for _, number in there] == list(range(1, revision + 1))
        if not whole or {a for a, _ in there} != {a for a, *_ in actions}:
            lost += max(0, revision - len(there))
            _retell(db, note, actions)
        _pass_over(db, note, actions)
    return {"event": lost}


def _retell(db: sqlite3.Connection, note: int, actions: Iterable[tuple[int, int, str, str]]) -> None:
    db.execute("DELETE FROM event WHERE note_id = ?", (note,))
    revision = 0
    for number, undone, at, who in actions:
        for what in ("do", "undo") if undone else ("do",):
            revision += 1
            db.execute(
                "INSERT INTO event (note_id, revision, action_id, what, at, who) VALUES (?, ?, ?, ?, ?, ?)",
                (note, revision, number, what, at, who),
            )
    db.execute("UPDATE note SET revision = ? WHERE id = ?", (revision, note))


def _pass_over(db: sqlite3.Connection, note: int, actions: Iterable[tuple[int, int, str, str]]) -> None:
    """Of one note, what can be redone is newer than what is in force."""
    newest = max((number for number, undone, *_ in actions if undone == 0), default=0)
    db.execute("UPDATE action SET undone = 2 WHERE note_id = ? AND undone = 1 AND id < ?", (note, newest))


def _missing(db: sqlite3.Connection, named: str, table: str) -> list[int]:
    """Ids that are named and not there."""
    query = f"SELECT * FROM ({named}) EXCEPT SELECT id FROM {table} ORDER BY 1"
    return [number for (number,) in db.execute(query) if number is not None]
