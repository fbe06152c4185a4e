"""The grade book's tables, as ordered migration steps.

Old steps never change: a later need is a new step at the end. Each step runs in one
transaction together with its record (sqlite-utils' `_sqlite_migrations` table). `row_now`,
`segment` and the tables under it are derived: they can be dropped and built again from the rest.
A step after which they have to be built again says so:
`UPDATE state SET value = 'stale' WHERE name = 'derived'`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sqlite_utils import Database, Migrations

APPLICATION_ID = 0x52564752
"""Marks an SQLite file as a Reviewer grade book (PRAGMA application_id)."""

MIGRATION_SET = "gradebook"

_BOOK = (
    """
    CREATE TABLE note (
        id          INTEGER PRIMARY KEY AUTOINCREMENT,
        slug        TEXT NOT NULL UNIQUE,
        title       TEXT NOT NULL,
        kind        TEXT NOT NULL CHECK (kind IN ('audio', 'captions', 'text')),
        source      TEXT,
        digest      TEXT NOT NULL,
        identity    TEXT NOT NULL UNIQUE,
        duration_s  REAL NOT NULL CHECK (duration_s >= 0),
        created     TEXT NOT NULL,
        player      TEXT,
        position    TEXT,
        opponent    TEXT,
        game_name   TEXT,
        level       TEXT,
        revision    INTEGER NOT NULL DEFAULT 0,
        cursor_row  INTEGER
    ) STRICT
    """,
    """
    CREATE TABLE reading (
        id       INTEGER PRIMARY KEY AUTOINCREMENT,
        note_id  INTEGER NOT NULL REFERENCES note(id) ON DELETE CASCADE,
        digest   TEXT NOT NULL,
        model    TEXT NOT NULL,
        settings TEXT NOT NULL,
        created  TEXT NOT NULL,
        words    TEXT NOT NULL,
        mends    TEXT NOT NULL,
        remarks  TEXT NOT NULL
    ) STRICT
    """,
    "CREATE INDEX reading_note ON reading (note_id)",
    """
    CREATE TABLE rep (
        id       INTEGER PRIMARY KEY AUTOINCREMENT,
        note_id  INTEGER NOT NULL REFERENCES note(id) ON DELETE CASCADE,
        position REAL NOT NULL
    ) STRICT
    """,
    "CREATE INDEX rep_note ON rep (note_id)",
    """
    CREATE TABLE rep_reading (
        rep_id     INTEGER NOT NULL REFERENCES rep(id) ON DELETE CASCADE,
        reading_id INTEGER NOT NULL REFERENCES reading(id) ON DELETE CASCADE,
        stretches  TEXT NOT NULL,
        PRIMARY KEY (rep_id, reading_id)
    ) STRICT, WITHOUT ROWID
    """,
    """
    CREATE TABLE grade_row (
        id       INTEGER PRIMARY KEY AUTOINCREMENT,
        note_id  INTEGER NOT NULL REFERENCES note(id) ON DELETE CASCADE,
        rep_id   INTEGER NOT NULL REFERENCES rep(id) ON DELETE CASCADE,
        seq      INTEGER NOT NULL,
        shown    INTEGER NOT NULL CHECK (shown IN (0, 1)),
        made     TEXT
    ) STRICT
    """,
    "CREATE INDEX grade_row_note ON grade_row (note_id)",
    """
    CREATE TABLE row_reading (
        row_id     INTEGER NOT NULL REFERENCES grade_row(id) ON DELETE CASCADE,
        reading_id INTEGER NOT NULL REFERENCES reading(id) ON DELETE CASCADE,
        grade      TEXT NOT NULL,
        PRIMARY KEY (row_id, reading_id)
    ) STRICT, WITHOUT ROWID
    """,
    """
    CREATE TABLE action (
        id      INTEGER PRIMARY KEY AUTOINCREMENT,
        note_id INTEGER NOT NULL REFERENCES note(id) ON DELETE CASCADE,
        kind    TEXT NOT NULL,
        at      TEXT NOT NULL,
        who     TEXT NOT NULL,
        undone  INTEGER NOT NULL DEFAULT 0 CHECK (undone IN (0, 1, 2))
    ) STRICT
    """,
    "CREATE INDEX action_note ON action (note_id, undone, id)",
    """
    CREATE TABLE change (
        id         INTEGER PRIMARY KEY AUTOINCREMENT,
        action_id  INTEGER NOT NULL REFERENCES action(id) ON DELETE CASCADE,
        subject    TEXT NOT NULL CHECK (subject IN ('row', 'rep', 'note', 'mend', 'question')),
        subject_id INTEGER NOT NULL,
        field      TEXT NOT NULL,
        old        TEXT NOT NULL,
        new        TEXT
    ) STRICT
    """,
    "CREATE INDEX change_action ON change (action_id)",
    "CREATE INDEX change_subject ON change (subject, subject_id)",
    """
    CREATE TABLE event (
        note_id   INTEGER NOT NULL REFERENCES note(id) ON DELETE CASCADE,
        revision  INTEGER NOT NULL,
        action_id INTEGER NOT NULL REFERENCES action(id) ON DELETE CASCADE,
        what      TEXT NOT NULL CHECK (what IN ('do', 'undo', 'redo')),
        at        TEXT NOT NULL,
        who       TEXT NOT NULL,
        PRIMARY KEY (note_id, revision)
    ) STRICT, WITHOUT ROWID
    """,
    """
    CREATE TABLE question (
        id        INTEGER PRIMARY KEY AUTOINCREMENT,
        note_id   INTEGER NOT NULL REFERENCES note(id) ON DELETE CASCADE,
        action_id INTEGER NOT NULL REFERENCES action(id) ON DELETE CASCADE,
        row_id    INTEGER NOT NULL REFERENCES grade_row(id) ON DELETE CASCADE,
        field     TEXT NOT NULL,
        kept      TEXT NOT NULL,
        read      TEXT NOT NULL
    ) STRICT
    """,
    "CREATE INDEX question_note ON question (note_id)",
    """
    CREATE VIEW change_log AS
    SELECT change.id, action.id AS action_id, action.note_id, action.kind, action.at, action.who,
           action.undone, change.subject, change.subject_id, change.field, change.old, change.new
    FROM change JOIN action ON action.id = change.action_id
    """,
    *(
        f"""
        CREATE TRIGGER {table}_is_final BEFORE UPDATE ON {table}
        BEGIN SELECT RAISE(ABORT, 'a {table} is never overwritten'); END
        """
        for table in ("reading", "rep_reading", "row_reading", "grade_row", "change")
    ),
)

_TEAMS = (
    """
    CREATE TABLE team (
        id   INTEGER PRIMARY KEY,
        name TEXT NOT NULL UNIQUE COLLATE NOCASE,
        own  INTEGER NOT NULL DEFAULT 0 CHECK (own IN (0, 1))
    ) STRICT
    """,
    """
    CREATE TABLE player (
        id      INTEGER PRIMARY KEY,
        team_id INTEGER NOT NULL REFERENCES team(id) ON DELETE CASCADE,
        name    TEXT NOT NULL COLLATE NOCASE,
        UNIQUE (team_id, name)
    ) STRICT
    """,
    """
    CREATE TABLE roster_spot (
        id        INTEGER PRIMARY KEY,
        team_id   INTEGER NOT NULL REFERENCES team(id) ON DELETE CASCADE,
        player_id INTEGER NOT NULL REFERENCES player(id) ON DELETE CASCADE,
        season    TEXT NOT NULL,
        jersey    TEXT NOT NULL,
        position  TEXT NOT NULL,
        since     TEXT,
        until     TEXT
    ) STRICT
    """,
    "CREATE INDEX roster_spot_team ON roster_spot (team_id, season)",
    """
    CREATE TABLE game (
        id       INTEGER PRIMARY KEY AUTOINCREMENT,
        title    TEXT NOT NULL,
        season   TEXT NOT NULL,
        date     TEXT,
        team_id  INTEGER REFERENCES team(id) ON DELETE SET NULL,
        opponent_id INTEGER REFERENCES team(id) ON DELETE SET NULL,
        place    TEXT CHECK (place IN ('home', 'away', 'neutral')),
        level    TEXT
    ) STRICT
    """,
    "ALTER TABLE note ADD COLUMN game_id INTEGER REFERENCES game(id) ON DELETE SET NULL",
    "CREATE INDEX note_game ON note (game_id)",
    """
    CREATE TABLE learned (
        id      INTEGER PRIMARY KEY AUTOINCREMENT,
        kind    TEXT NOT NULL CHECK (kind IN ('form', 'mishearing', 'habit')),
        term    TEXT NOT NULL,
        form    TEXT NOT NULL COLLATE NOCASE,
        at      TEXT NOT NULL,
        note_id INTEGER REFERENCES note(id) ON DELETE SET NULL,
        row_id  INTEGER REFERENCES grade_row(id) ON DELETE SET NULL,
        UNIQUE (kind, term, form)
    ) STRICT
    """,
)

_SEARCH = (
    """
    CREATE TABLE row_now (
        row_id    INTEGER PRIMARY KEY REFERENCES grade_row(id) ON DELETE CASCADE,
        note_id   INTEGER NOT NULL REFERENCES note(id) ON DELETE CASCADE,
        reading_id INTEGER NOT NULL,
        rep_id    INTEGER NOT NULL,
        rep       INTEGER NOT NULL,
        seq       INTEGER NOT NULL,
        start     REAL NOT NULL,
        "end"     REAL NOT NULL,
        player    TEXT,
        position  TEXT,
        verdict   TEXT NOT NULL,
        confirmed INTEGER NOT NULL,
        confidence REAL NOT NULL,
        corrected TEXT NOT NULL,
        comment   TEXT NOT NULL,
        grade     TEXT NOT NULL
    ) STRICT
    """,
    "CREATE INDEX row_now_note ON row_now (note_id, rep, seq)",
    "CREATE INDEX row_now_player ON row_now (player, note_id)",
    """
    CREATE TABLE segment (
        id      INTEGER PRIMARY KEY,
        note_id INTEGER NOT NULL,
        row_id  INTEGER UNIQUE,
        start   REAL NOT NULL,
        "end"   REAL NOT NULL,
        words   TEXT NOT NULL,
        terms   TEXT NOT NULL,
        tags    TEXT NOT NULL
    ) STRICT
    """,
    """
    CREATE VIRTUAL TABLE segment_fts USING fts5(
        words, terms, tags, content='segment', content_rowid='id',
        prefix='2 3', tokenize='porter unicode61 remove_diacritics 2'
    )
    """,
    """
    CREATE TRIGGER segment_added AFTER INSERT ON segment BEGIN
        INSERT INTO segment_fts (rowid, words, terms, tags) VALUES (new.id, new.words, new.terms, new.tags);
    END
    """,
    """
    CREATE TRIGGER segment_gone AFTER DELETE ON segment BEGIN
        INSERT INTO segment_fts (segment_fts, rowid, words, terms, tags)
        VALUES ('delete', old.id, old.words, old.terms, old.tags);
    END
    """,
    """
    CREATE TRIGGER segment_changed AFTER UPDATE ON segment BEGIN
        INSERT INTO segment_fts (segment_fts, rowid, words, terms, tags)
        VALUES ('delete', old.id, old.words, old.terms, old.tags);
        INSERT INTO segment_fts (rowid, words, terms, tags) VALUES (new.id, new.words, new.terms, new.tags);
    END
    """,
    """
    CREATE TABLE tag (
        id    INTEGER PRIMARY KEY,
        field TEXT NOT NULL,
        value TEXT NOT NULL COLLATE NOCASE,
        UNIQUE (field, value)
    ) STRICT
    """,
    "CREATE TABLE state (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT",
    # The derived tables start empty, whatever the older library held.
    "INSERT INTO state VALUES ('derived', 'stale')",
)

_PLAYS = (
    """
    CREATE TABLE play (
        game_id INTEGER NOT NULL REFERENCES game(id) ON DELETE CASCADE,
        place   INTEGER NOT NULL,
        data    TEXT NOT NULL,
        PRIMARY KEY (game_id, place)
    ) STRICT, WITHOUT ROWID
    """,
    """
    CREATE TABLE rep_play (
        rep_id       INTEGER PRIMARY KEY REFERENCES rep(id) ON DELETE CASCADE,
        game_id      INTEGER NOT NULL,
        place        INTEGER NOT NULL,
        probability  REAL NOT NULL CHECK (probability BETWEEN 0 AND 1),
        out_of_order INTEGER NOT NULL DEFAULT 0 CHECK (out_of_order IN (0, 1)),
        FOREIGN KEY (game_id, place) REFERENCES play(game_id, place) ON DELETE CASCADE
    ) STRICT
    """,
    "CREATE INDEX rep_play_play ON rep_play (game_id, place)",
    """
    CREATE TABLE film (
        note_id INTEGER PRIMARY KEY REFERENCES note(id) ON DELETE CASCADE,
        path    TEXT NOT NULL,
        rate    TEXT NOT NULL,
        start   TEXT NOT NULL,
        marks   TEXT NOT NULL
    ) STRICT
    """,
    """
    CREATE TABLE saved_search (
        name  TEXT PRIMARY KEY COLLATE NOCASE,
        typed TEXT NOT NULL,
        at    TEXT NOT NULL
    ) STRICT
    """,
)

_MERGE = (
    """
    CREATE TABLE clash (
        id            INTEGER PRIMARY KEY AUTOINCREMENT,
        note_id       INTEGER NOT NULL REFERENCES note(id) ON DELETE CASCADE,
        row_id        INTEGER REFERENCES grade_row(id) ON DELETE CASCADE,
        subject       TEXT NOT NULL,
        subject_id    INTEGER NOT NULL,
        field         TEXT NOT NULL,
        mine          TEXT NOT NULL,
        theirs        TEXT NOT NULL,
        mine_action   INTEGER REFERENCES action(id) ON DELETE SET NULL,
        theirs_action INTEGER REFERENCES action(id) ON DELETE SET NULL,
        cells         TEXT NOT NULL,
        mine_kept     INTEGER NOT NULL DEFAULT 0 CHECK (mine_kept IN (0, 1)),
        taken_by      INTEGER REFERENCES action(id) ON DELETE SET NULL
    ) STRICT
    """,
    "CREATE INDEX clash_note ON clash (note_id)",
    "CREATE INDEX clash_mine ON clash (mine_action)",
    "CREATE INDEX clash_theirs ON clash (theirs_action)",
    "CREATE INDEX clash_taken ON clash (taken_by)",
    "CREATE INDEX clash_row ON clash (row_id)",
)

# The distance joined the values that can be filtered on.
_DISTANCE = ("UPDATE state SET value = 'stale' WHERE name = 'derived'",)

STEPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("0001_book", _BOOK),
    ("0002_teams", _TEAMS),
    ("0003_search", _SEARCH),
    ("0004_plays", _PLAYS),
    ("0005_merge", _MERGE),
    ("0006_distance", _DISTANCE),
)
"""Every step ever made, oldest first: (name, statements)."""


def _step(statements: tuple[str, ...]) -> Callable[[Database], None]:
    def run(db: Database) -> None:
        for statement in statements:
            # sqlite3's executescript would commit the migration's transaction
            db.conn.execute(statement)

    return run


def migrations() -> Migrations:
    """The steps as an sqlite-utils migration set."""
    from sqlite_utils import Migrations

    book = Migrations(MIGRATION_SET)
    for name, statements in STEPS:
        book(name=name)(_step(statements))
    return book
