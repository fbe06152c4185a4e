"""Two coaches' grade books joined, and the clashes that are left settled.

`merge` adds what the other grade book knows and this one does not: nothing here is overwritten, and
doing it again changes nothing. Both then hold the same facts, whichever was merged into which; where
two coaches decided the same value differently each keeps his own as the current one until somebody
settles it (`clashes`, `settle_clash`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, cast

from reviewer.errors import InputError
from reviewer.records import NoteContext
from reviewer.store.codec import load
from reviewer.store.derive import words_as_read
from reviewer.store.fold import Cell
from reviewer.store.journal import Done, Edit, editing, state_of
from reviewer.store.library import Library
from reviewer.store.merge_book import Book
from reviewer.store.merge_note import REPS, ROW, graft
from reviewer.store.notes import free_slug, identity_of
from reviewer.store.structure import joined, without

SETTLE = "settle clash"
"""The kind of action that settles a clash."""

Prefer = Literal["mine", "theirs"]


@dataclass
class Merged:
    """What a merge did, or would do. added: what came, by name. left: sentences on what was not taken.

    clashes: decisions that newly clash. lessons: their numbers to mine, of those that came. sources:
    content digest -> notes (ids here) whose recording the other library may hold. new_notes: ids here.
    """

    added: dict[str, int] = field(default_factory=dict)
    left: list[str] = field(default_factory=list)
    clashes: int = 0
    lessons: dict[int, int] = field(default_factory=dict)
    sources: dict[str, list[int]] = field(default_factory=dict)
    new_notes: set[int] = field(default_factory=set)

    @property
    def nothing_new(self) -> bool:
        """True when the other book knows nothing that this one does not."""
        return not any(self.added.values()) and not self.clashes


@dataclass(frozen=True)
class Clash:
    """A value that two coaches decided differently; mine is current until it is settled.

    row: its id, None for what is of the whole note; rep, player: of that row, None where it does not
    stand. field: a grade field, "confirmed", "comment", a mend's wording; "row": theirs has a row that
    does not stand here; "reps": theirs is cut into reps in another way (the values are counts).
    """

    id: int
    note: int
    title: str
    row: int | None
    rep: int | None
    player: str | None
    field: str
    mine: Any
    theirs: Any
    mine_who: str
    theirs_who: str
    theirs_at: str


class _Rehearsed(Exception):
    """Ends a transaction that was only tried."""


def merge(
    library: Library,
    other: Library,
    *,
    dry_run: bool = False,
    whose: Mapping[str, str] | None = None,
    before: Callable[[Merged], None] | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Merged:
    """Add what `other` knows to `library`, all of it or nothing.

    dry_run: only find out. whose: other names for those who decided there (two coaches whose machines
    call both "coach"). before: called when everything is in place, before it is kept for good; what it
    raises undoes the merge. progress: called with notes done and total. Raises InputError when both are
    one file.
    """
    if library.path is not None and library.path == other.path:
        raise InputError("A library cannot be merged into itself; name the other coach's.")
    done = Merged()
    try:
        with library.writing(), other.reading():
            _merge(library, other, done, whose or {}, progress)
            if dry_run:
                raise _Rehearsed
            if before is not None:
                before(done)
    except _Rehearsed:
        pass
    return done


def _merge(
    library: Library,
    other: Library,
    done: Merged,
    whose: Mapping[str, str],
    progress: Callable[[int, int], None] | None,
) -> None:
    book = Book(library, other)
    book.bring()
    records = other.execute(f"SELECT id, {', '.join(_NOTE)} FROM note ORDER BY id").fetchall()
    notes: dict[int, int] = {}
    rows: dict[int, int] = {}
    for count, (there, *values) in enumerate(records, 1):
        record = dict(zip(_NOTE, values, strict=True))
        here, new = _place(library, record, book.games)
        ids, grafted = graft(library, other, here, there, new=new, whose=whose)
        book.bring_of_note(ids, there)
        if new:
            done.new_notes.add(here)
            _settle_in(library, here, record, ids.rows)
        elif library.execute("SELECT title FROM note WHERE id = ?", (here,)).fetchone() != (record["title"],):
            done.left.append(f"The note {record['title']} has another title here; it stays.")
        notes[there], done.clashes = here, done.clashes + grafted.clashes
        rows.update(ids.rows)
        book.added.update(
            {
                "notes": int(new), "readings": grafted.readings, "rows": grafted.rows,
                "decisions": grafted.decisions, "reps": grafted.reps, "undone": grafted.marks,
            }
        )  # fmt: skip
        if grafted.held:
            done.left.append(
                f"{record['title']}: {grafted.held} rows that only their reading has are kept, not shown."
            )
        done.sources.setdefault(record["digest"], []).append(here)
        if progress is not None:
            progress(count, len(records))
    book.bring_lessons(notes, rows)
    book.bring_searches()
    done.added = {name: count for name, count in book.added.items() if count}
    done.left += book.left
    done.lessons = book.lessons


_NOTE = (
    "slug", "title", "kind", "source", "digest", "duration_s", "created", "player", "position", "opponent",
    "game_name", "level", "game_id", "cursor_row",
)  # fmt: skip


def _place(library: Library, record: Mapping[str, Any], games: Mapping[int, int]) -> tuple[int, bool]:
    """The note here that is the same one, else a new empty one."""
    game = games.get(record["game_id"])
    context = NoteContext(record["player"], record["position"], record["opponent"], record["game_name"])
    identity = identity_of(record["digest"], context, game)
    found = library.execute("SELECT id FROM note WHERE identity = ?", (identity,)).fetchone()
    if found is not None:
        return int(found[0]), False
    values = {
        **record, "slug": free_slug(library.connection, record["title"]), "identity": identity,
        "game_id": game, "cursor_row": None,
    }  # fmt: skip
    marks = ", ".join("?" * len(values))
    number = library.execute(
        f"INSERT INTO note ({', '.join(values)}) VALUES ({marks})", tuple(values.values())
    ).lastrowid
    assert number is not None
    return number, True


def _settle_in(library: Library, note: int, record: Mapping[str, Any], rows: Mapping[int, int]) -> None:
    if record["cursor_row"] in rows:
        library.execute("UPDATE note SET cursor_row = ? WHERE id = ?", (rows[record["cursor_row"]], note))


_OPEN = """
    SELECT clash.id, clash.note_id, title, clash.row_id, row_now.rep, row_now.player, clash.subject,
           clash.subject_id, clash.field, clash.mine, clash.theirs, coalesce(one.who, ''),
           coalesce(other.who, ''), coalesce(other.at, '')
    FROM clash JOIN note ON note.id = clash.note_id LEFT JOIN row_now ON row_now.row_id = clash.row_id
    LEFT JOIN action AS one ON one.id = mine_action LEFT JOIN action AS other ON other.id = theirs_action
    LEFT JOIN action AS taken ON taken.id = taken_by
    WHERE mine_kept = 0 AND (taken.id IS NULL OR taken.undone <> 0)
      AND (mine_action IS NULL OR (one.undone = 0 AND other.undone = 0 AND NOT EXISTS (
          SELECT 1 FROM change_log AS later
          WHERE later.subject = clash.subject AND later.subject_id = clash.subject_id
            AND later.field = clash.field AND later.undone = 0
            AND later.action_id > max(mine_action, theirs_action))))
      AND (clash.field <> 'row' OR (other.undone = 0 AND row_now.row_id IS NULL))
    ORDER BY clash.note_id, clash.id
"""


def clashes(library: Library, note: int | None = None) -> list[Clash]:
    """The clashes that nobody settled yet, by note. A later decision on the value settles it too."""
    with library.reading() as db:
        found = db.execute(_OPEN).fetchall()
    return [_clash(record) for record in found if note is None or record[1] == note]


def _clash(record: tuple[Any, ...]) -> Clash:
    number, note, title, row, rep, player, subject, _, name, mine, theirs, who, their_who, at = record
    if subject == "mend":
        name = " → ".join(load(name))
    return Clash(number, note, title, row, rep, player, name, load(mine), load(theirs), who, their_who, at)


def settle_clash(library: Library, number: int, take: Prefer, *, seen: int | None = None) -> Done:
    """Settle a clash: mine stays, or theirs is taken. One action, which can be undone.

    Raises InputError when there is no such open clash, or the note was cut into reps anew since.
    """
    with library.writing():
        clash = next((one for one in clashes(library) if one.id == number), None)
        if clash is None:
            raise InputError(f"There is no open clash {number}; `reviewer merge` lists those that are open.")
        with editing(library, clash.note, SETTLE, seen) as edit:
            if take == "theirs":
                _take(edit, clash, library)
            elif clash.field not in (REPS, ROW):
                cell = _cell(library, number)
                edit.decide(cell, edit.value(cell))
        if take == "mine" and clash.field in (REPS, ROW):
            library.execute("UPDATE clash SET mine_kept = 1 WHERE id = ?", (number,))
        elif clash.field == REPS:
            _refuse_shared_words(library, clash.note)
            library.execute("UPDATE clash SET taken_by = ? WHERE id = ?", (edit.done.action, number))
    return edit.done


def settle_all(library: Library, take: Prefer) -> int:
    """Settle every open clash the same way; returns how many there were."""
    with library.writing():
        found = clashes(library)
        # how a note is cut comes first: what is decided about rows then stands on it
        for one in sorted(found, key=lambda clash: clash.field != REPS):
            if any(still.id == one.id for still in clashes(library, one.note)):
                settle_clash(library, one.id, take)
    return len(found)


def _cell(library: Library, number: int) -> Cell:
    query = "SELECT subject, subject_id, field FROM clash WHERE id = ?"
    return Cell(*library.execute(query, (number,)).fetchone())


def _take(edit: Edit, clash: Clash, library: Library) -> None:
    (cells,) = library.execute("SELECT cells FROM clash WHERE id = ?", (clash.id,)).fetchone()
    for cell, value in load(cells):
        edit.decide(Cell(*cell), value)
    if clash.field == ROW:
        _give_words(edit, cast(int, clash.row))


def _give_words(edit: Edit, row: int) -> None:
    """A row that comes to stand needs its rep's words: those of its time that no other rep has."""
    state = edit.before
    rep = edit.value(Cell("row", row, "rep"))
    there = state.rep(rep)
    if there is not None and there.number:
        return
    words = words_as_read(edit.library.connection, state)
    start, end = (edit.value(Cell("row", row, name)) for name in ("start", "end"))
    wanted = joined((n, n + 1) for n, w in enumerate(words) if start <= (w.start + w.end) / 2 <= end)
    taken = joined(s for other in state.reps if other.number for s in other.stretches)
    edit.write(Cell("rep", rep, "stretches"), [list(s) for s in without(wanted, taken)])


def _refuse_shared_words(library: Library, note: int) -> None:
    from reviewer.store.upkeep import shared_words

    if shared_words(state_of(library, note)):
        raise InputError(
            "The note was cut into reps anew since it was merged, so theirs do not fit any more; keep mine."
        )
