"""The grade book: one SQLite file that keeps notes, readings, decisions, rosters and the search.

    from reviewer import store
    with store.Library.open() as library:
        note = store.add_note(library, store.NewNote(...), reading)
        done = store.set_fields(library, row.id, {"technique": "+"}, seen=revision)

For DEVELOPERS.md:

The grade book
- **A reading is final.** What the machine read (`reading`, `rep_reading`, `row_reading`) is written
  once; triggers refuse updates. Reading a note again adds a reading.
- **A decision is a fact with its time.** Every operation of `edit` and `structure` is one `action`
  with its `change`s (cell, old, new). Changes are never altered; undo and redo only flip the
  action's mark. A new action passes over undone ones (mark 2): they stay in the history.
- **The current state is a fold** (`fold.py`, pure): the base from the readings, under the newest
  change in force of each cell. There is no second way to compute it.
- **Derived tables** (`row_now`, `segment`, `segment_fts`; `derive.py`) are kept in step in the same
  transaction and can be built again from the rest; `check` compares them with the fold. A migration
  that changes what they hold marks them stale (`state`), and the opening builds them.
- **Revisions.** Each do, undo and redo adds one to the note's revision. A writer passes the
  revision it saw: cells that others changed since may not be written or relied on (`Conflict`,
  nothing written), other cells are merged.
- **Reps.** Live reps never share a word; a rep without live rows is talk outside reps. A rep cut
  by hand is held: later readings do not cut it anew.
- **Reading again** (`reread.py`) never drops a decision: it is kept on the matched row, or its row
  stays with its words; where the machine now says something else a `question` is kept.
- **Search.** One FTS5 query; filters are tokens (`q17`) of the tags column, so newest-first with any
  mix of words and filters is an intersection of sorted lists. Segment ids grow with note and time.
- **Transactions.** `Library.reading()` and `writing()` nest (savepoints); writers take the lock at
  once (BEGIN IMMEDIATE) and keep it short. sqlite3 errors become `LibraryError` in `library.py` only.
- **Migrations.** Steps of `schema.STEPS` never change; add one at the end. All pending steps run in
  one transaction under the write lock, after a backup copy beside the file.
"""

from reviewer.store.derive import rebuild_all
from reviewer.store.edit import (
    Question,
    above,
    add_row,
    allow_mend,
    checked,
    confirm_above,
    delete_row,
    deleted_rows,
    first_reading,
    open_questions,
    refuse_mend,
    refused_mends,
    restore_first,
    set_comment,
    set_confirmed,
    set_fields,
    settle,
)  # fmt: skip
from reviewer.store.fold import NoteState, RepState, StoredRow
from reviewer.store.history import Change, history, note_history
from reviewer.store.journal import Clash, Conflict, Done, can_undo, redo, revision_of, state_of, undo
from reviewer.store.learned import Learned, forget, learn, learned
from reviewer.store.library import Library
from reviewer.store.notes import (
    NewNote,
    Note,
    add_note,
    assign_game,
    context_of,
    current_rows,
    cursor_of,
    delete_note,
    find_note,
    mends_of,
    note,
    notes,
    readings_of,
    rename_note,
    save_cursor,
    words_of,
)  # fmt: skip
from reviewer.store.reread import add_reading
from reviewer.store.rosters import (
    Game,
    RosterSaved,
    Spot,
    Team,
    delete_game,
    find_games,
    game_of,
    games,
    roster_for,
    roster_for_game,
    save_game,
    save_roster,
    save_team,
    spots,
    teams,
)  # fmt: skip
from reviewer.store.rows import graded_rows
from reviewer.store.search import Hit, SearchQuery, count, known_values, search
from reviewer.store.structure import add_rep, merge_reps, move_words, reorder_rep, restore_row, split_rep
from reviewer.store.upkeep import backup, check
from reviewer.store.wording import reword, reworded

__all__ = [
    "Change", "Clash", "Conflict", "Done", "Game", "Hit", "Learned", "Library", "NewNote", "Note",
    "NoteState", "Question", "RepState", "RosterSaved", "SearchQuery", "Spot", "StoredRow", "Team",
    "above", "add_note", "add_reading", "add_rep", "add_row", "allow_mend", "assign_game", "backup",
    "can_undo", "check", "checked", "confirm_above", "context_of", "count", "current_rows",
    "cursor_of", "delete_game", "delete_note", "delete_row", "deleted_rows", "find_games",
    "find_note", "first_reading", "forget", "game_of", "games", "graded_rows", "history",
    "known_values", "learn", "learned", "mends_of", "merge_reps", "move_words", "note",
    "note_history", "notes", "open_questions", "readings_of", "rebuild_all", "redo", "refuse_mend",
    "refused_mends", "rename_note", "reorder_rep", "restore_first", "restore_row", "revision_of", "reword",
    "reworded", "roster_for", "roster_for_game", "save_cursor", "save_game", "save_roster", "save_team",
    "search", "set_comment", "set_confirmed", "set_fields", "settle", "split_rep", "spots",
    "state_of", "teams", "undo", "words_of",
]  # fmt: skip
