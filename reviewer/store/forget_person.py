"""A person taken out of a grade book: rosters, rows, words, decisions, search, and the bytes of the file.

The one place that alters what is otherwise final. What is found and removed:
- His roster lines, and the player with the last of them.
- Rows that grade him, with all that was read and decided about them. A row is his where its note's
  game has him under its number that day; notes without a game only where they are named.
- His number among the opponents of other men's rows, and in older values of rows that are not his.
- His name in every text of the file; in words also the number where it says whom his row is about.
Then the search index is built again and the file is written anew, so that no old page keeps it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Collection

from reviewer.errors import InputError, LibraryError
from reviewer.store.forget_book import Forgetting, Forgotten, Numbers, Person, Stint, free_identity
from reviewer.store.library import Library

_FINAL = ("reading", "rep_reading", "row_reading", "grade_row", "change")
_DUE = "forgetting"
"""Name in `state`: the rows are gone, the file is not yet written anew."""


def find_person(
    library: Library, name: str | None, jersey: str | None, team: str | None, season: str | None
) -> Person:
    """The one man that these say. Raises InputError when nobody or several fit; it says how to tell them."""
    with library.reading() as db:
        found = db.execute(
            "SELECT player.id, player.name, team.name, team.own, roster_spot.id, season, jersey, since, "
            "until FROM player JOIN team ON team.id = player.team_id "
            "LEFT JOIN roster_spot ON roster_spot.player_id = player.id ORDER BY player.id, season, since"
        ).fetchall()
    wanted = " ".join((name or "").split()).casefold()
    fitting = [
        record
        for record in found
        if (not wanted or record[1].casefold() == wanted)
        and (jersey is None or record[6] == jersey)
        and (team is None or record[2].casefold() == " ".join(team.split()).casefold())
        and (season is None or record[5] == season)
    ]
    said = ", ".join(filter(None, (name, jersey and f"number {jersey}", team, season)))
    if not fitting:
        raise InputError(f"there is no {said} in any roster; `reviewer roster show` lists them")
    if len({record[0] for record in fitting}) > 1:
        them = "; ".join(dict.fromkeys(f"{r[1]}, {r[2]}, number {r[6]} in {r[5]}" for r in fitting))
        raise InputError(f"{said} may be several men ({them}); add the name, --team, --season or --jersey")
    player, full, team_name = fitting[0][:3]
    # without a season all his lines go, those under other numbers too
    mine = [r for r in found if r[0] == player and r[4] is not None and season in (None, r[5])]
    stints = tuple(Stint(r[4], r[2], bool(r[3]), r[5], r[6], r[7], r[8]) for r in mine)
    stays = any(r[0] == player and r[4] is not None and r not in mine for r in found)
    return Person(player, full, team_name, stints, stays)


def forget(
    library: Library,
    person: Person,
    *,
    notes: Collection[int] = (),
    numbers: Numbers,
    dry_run: bool = False,
    before: Callable[[Forgotten], None] | None = None,
) -> Forgotten:
    """Take a person out of the grade book; `clean` has to follow. All of it or nothing.

    notes: notes without a game that are about him. numbers: tells spoken numbers. before: called before
    it is kept for good, inside the transaction. dry_run: only find out.
    """
    work = Forgetting(library, person, notes, numbers)
    try:
        with library.writing() as db:
            for table in _FINAL:
                db.execute(f"DROP TRIGGER IF EXISTS {table}_is_final")
            work.run()
            for table in _FINAL:
                db.execute(
                    f"CREATE TRIGGER {table}_is_final BEFORE UPDATE ON {table} "
                    f"BEGIN SELECT RAISE(ABORT, 'a {table} is never overwritten'); END"
                )
            db.execute("INSERT OR REPLACE INTO state VALUES (?, 'due')", (_DUE,))
            if dry_run:
                raise _Rehearsed
            if before is not None:
                before(work.done)
    except _Rehearsed:
        pass
    return work.done


class _Rehearsed(Exception):
    """Ends a transaction that was only tried."""


def secure(library: Library) -> None:
    """What is deleted through this connection is overwritten with zeros."""
    library.execute("PRAGMA secure_delete = ON")


def due(library: Library) -> bool:
    """Whether a forgetting was cut off before the file was written anew."""
    return library.execute("SELECT 1 FROM state WHERE name = ?", (_DUE,)).fetchone() is not None


def clean(library: Library) -> None:
    """Write the file anew, so that no page, index or log of it holds what was removed.

    Raises LibraryError while another window uses the library; it can then be called again.
    """
    db = library.connection
    try:
        db.execute("INSERT INTO segment_fts (segment_fts) VALUES ('rebuild')")
        db.execute("VACUUM")
        db.execute("DELETE FROM state WHERE name = ?", (_DUE,))
        busy = db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
    except sqlite3.OperationalError as error:
        _still_due(db)
        raise LibraryError(_WINDOWS.format(library.name, error)) from error
    if busy:
        _still_due(db)
        raise LibraryError(_WINDOWS.format(library.name, "another window reads it"))


_WINDOWS = (
    "He is out of {0}, but its file could not be written anew ({1}), so old pages may still hold the name; "
    "close other windows and run the same command again."
)


def _still_due(db: sqlite3.Connection) -> None:
    try:
        db.execute("INSERT OR REPLACE INTO state VALUES (?, 'due')", (_DUE,))
    except sqlite3.Error:
        return


def renew_digest(library: Library, old: str, new: str) -> None:
    """The recording of these notes was written anew: give them its new content digest."""
    columns = ("id", "player", "position", "opponent", "game_name", "game_id")
    db = library.connection
    for record in db.execute(f"SELECT {', '.join(columns)} FROM note WHERE digest = ?", (old,)).fetchall():
        note = {**dict(zip(columns, record, strict=True)), "digest": new}
        db.execute(
            "UPDATE note SET digest = ?, identity = ? WHERE id = ?",
            (new, free_identity(db, note["id"], note), note["id"]),
        )
