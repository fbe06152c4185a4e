"""One note of theirs brought into a library: as a new note, or into the same note here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from reviewer.store.codec import dump, load
from reviewer.store.derive import rebuild_note
from reviewer.store.fold import Cell, NoteState
from reviewer.store.journal import state_of
from reviewer.store.library import Library
from reviewer.store.merge_log import STRUCTURE, Pair, cuts, marks, ordered, parted
from reviewer.store.merge_side import Act, Event, Ids, Key, Side, matched, side_of

REPS = "reps"
"""The field of a clash over how the talk was cut into reps."""

ROW = "row"
"""The field of a clash over whether a row that one of them decided on stands at all."""


@dataclass
class Grafted:
    """What came into a note. held: rows of their readings that are kept but not shown.

    marks: actions here that were undone, or brought back, there.
    """

    readings: int = 0
    reps: int = 0
    rows: int = 0
    marks: int = 0
    decisions: int = 0
    clashes: int = 0
    held: int = 0


@dataclass(frozen=True)
class NewClash:
    """A clash to be kept: a cell, both values, both actions, and what to write to take theirs."""

    cell: Cell
    row: int | None
    mine: Any
    theirs: Any
    mine_act: Key | None
    theirs_act: Key | None
    cells: tuple[tuple[Cell, Any], ...]


def graft(
    library: Library, other: Library, here: int, there: int, *, new: bool, whose: Mapping[str, str]
) -> tuple[Ids, Grafted]:
    """Bring their note `there` into mine `here`. new: mine was made for it and is still empty.

    whose: other names for those who decided there. Call inside one `library.writing()`.
    """
    mine, theirs = side_of(library, here), side_of(other, there)
    ids = Ids(here) if new else matched(mine, theirs)
    work = _Graft(library, other, mine, theirs, ids, new, whose)
    work.run()
    return ids, work.done


class _Graft:
    def __init__(
        self,
        library: Library,
        other: Library,
        mine: Side,
        theirs: Side,
        ids: Ids,
        new: bool,
        whose: Mapping[str, str],
    ) -> None:
        self.library, self.db = library, library.connection
        self.other = other
        self.mine, self.theirs, self.ids, self.new = mine, theirs, ids, new
        self.whose = whose
        self.done = Grafted()
        self.number: dict[Key, int] = {}
        self.before: NoteState | None = None if new else mine.state
        self.values = {} if new else _decided(mine)

    def run(self) -> None:
        self._bring_readings()
        self._bring_reps_and_rows()
        self._questions_before_cells()
        acts = [self._as_mine(act) for act in self.theirs.acts]
        known = {act.key for act in self.mine.acts}
        fresh = [act for act in acts if act.key not in known]
        mine_only = {act.key for act in self.mine.acts} - {act.key for act in acts}
        self.clashing = self._known_clashes()
        held = self._held(fresh, mine_only)
        if not self._write_log(acts, held):
            held = {act.key for act in fresh if _cuts(act)}
            self._write_log(acts, held, still=True)
        self._bring_questions()
        self.done.decisions = len(fresh)
        if not self.new:
            self._keep_clashes(acts, fresh, held)
        if self.done != Grafted() or self.new:
            rebuild_note(self.library, self.mine.note)

    # what was read

    def _bring_readings(self) -> None:
        for number, record in self.theirs.readings.items():
            if number in self.ids.readings:
                continue
            self.ids.readings[number] = self._insert(
                "INSERT INTO reading (note_id, digest, model, settings, created, words, mends, remarks) "
                "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                (self.mine.note, *record),
            )
            self.done.readings += 1

    def _bring_reps_and_rows(self) -> None:
        for number, position in self.theirs.reps.items():
            if number not in self.ids.reps:
                self.ids.reps[number] = self._insert(
                    "INSERT INTO rep (note_id, position) VALUES (?, ?)", (self.mine.note, position)
                )
                self.done.reps += 1
        for number, (rep, seq, shown, made) in self.theirs.rows.items():
            if number not in self.ids.rows:
                values = (self.mine.note, self.ids.reps[rep], seq, shown if self.new else 0, made)
                self.ids.rows[number] = self._insert(
                    "INSERT INTO grade_row (note_id, rep_id, seq, shown, made) VALUES (?, ?, ?, ?, ?)", values
                )
                self.done.rows += 1
        for table, owner, column, records, numbers in (
            ("rep_reading", "rep_id", "stretches", self.theirs.cuts, self.ids.reps),
            ("row_reading", "row_id", "grade", self.theirs.grades, self.ids.rows),
        ):
            for number, said in records.items():
                for reading, text in said:
                    key = (numbers[number], self.ids.readings[reading])
                    query = f"SELECT 1 FROM {table} WHERE {owner} = ? AND reading_id = ?"
                    if self.db.execute(query, key).fetchone() is None:
                        self.db.execute(
                            f"INSERT INTO {table} ({owner}, reading_id, {column}) VALUES (?, ?, ?)",
                            (*key, text),
                        )

    def _insert(self, sql: str, values: tuple[Any, ...]) -> int:
        number = self.db.execute(sql, values).lastrowid
        assert number is not None
        return number

    # what was decided

    def _as_mine(self, act: Act) -> Act:
        changes = tuple(
            (self.ids.cell(cell), self.ids.value(cell, old) or old, self.ids.value(cell, new))
            for cell, old, new in act.changes
        )
        return replace(act, changes=changes, who=self.whose.get(act.who, act.who))

    def _known_clashes(self) -> frozenset[Pair]:
        """Pairs that either library holds as a clash: their writers did not know of each other."""
        found: set[Pair] = set()
        for side in (self.mine, self.theirs):
            keys = {act.id: act.key for act in side.acts}
            for one, two in side.library.execute(
                "SELECT mine_action, theirs_action FROM clash WHERE note_id = ?", (side.note,)
            ):
                if one in keys and two in keys:
                    found.add(frozenset((keys[one], keys[two])))
        return frozenset(found)

    def _held(self, fresh: list[Act], mine_only: set[Key]) -> set[Key]:
        """Of theirs, what cut the note anew where I did too, or on other words: kept, not in force."""
        if self.new:
            return set()
        theirs_cut = {act.key for act in fresh if _cuts(act)}
        mine_cut = any(_cuts(act) for act in self.mine.acts if act.key in mine_only)
        assert self.before is not None
        first = self.ids.readings[min(self.theirs.readings)]
        return theirs_cut if mine_cut or first != min(self.mine.readings) else set()

    def _write_log(self, acts: list[Act], held: set[Key], still: bool = False) -> bool:
        """Write the joined log. False, and nothing written, when what it gives cannot stand.

        still: what they undid or brought back of mine is left as it is, so that it stands.
        """
        self.db.execute("SAVEPOINT log")
        line = ordered(self.mine.acts, acts, self.clashing)
        ours, others = _events_of(self.mine), {} if still else _events_of(self.theirs)
        if self.new:
            found = {act.key: act.undone for act in line}
        else:
            found = marks(line, self.mine.acts, (ours, others), held)
        here = {act.key: act for act in self.mine.acts}
        self.done.marks = sum(found[act.key] != act.undone for act in self.mine.acts)
        self._put(line, here, found)
        self._bring_events()
        if not (self.new or held or still or self._stands({a.key for a in acts})):
            self.db.execute("ROLLBACK TO log")
            self.db.execute("RELEASE log")
            return False
        self.db.execute("RELEASE log")
        return True

    def _put(self, line: list[Act], here: Mapping[Key, Act], found: Mapping[Key, int]) -> None:
        """Give every action from the first new one on a number of its own, in order."""
        self.number = {}
        moved = False
        for act in line:
            old = here.get(act.key)
            moved = moved or old is None
            if not moved and old is not None:
                self.number[act.key] = old.id
                self.db.execute(
                    "UPDATE action SET undone = ? WHERE id = ? AND undone <> ?",
                    (found[act.key], old.id, found[act.key]),
                )
                continue
            number = self._insert(
                "INSERT INTO action (note_id, kind, at, who, undone) VALUES (?, ?, ?, ?, ?)",
                (self.mine.note, act.kind, act.at, act.who, found[act.key]),
            )
            self.db.executemany(
                "INSERT INTO change (action_id, subject, subject_id, field, old, new) "
                "VALUES (?, ?, ?, ?, ?, ?)",
                [(number, *cell, before, after) for cell, before, after in act.changes],
            )
            self.number[act.key] = number
            if old is not None:
                self._move(old.id, number)

    def _move(self, old: int, number: int) -> None:
        for table, column in (
            ("event", "action_id"), ("question", "action_id"), ("clash", "mine_action"),
            ("clash", "theirs_action"), ("clash", "taken_by"),
        ):  # fmt: skip
            self.db.execute(f"UPDATE {table} SET {column} = ? WHERE {column} = ?", (number, old))
        self.db.execute("DELETE FROM action WHERE id = ?", (old,))

    def _bring_events(self) -> None:
        keys = {act.id: act.key for act in self.theirs.acts}
        mine = {act.id: act.key for act in self.mine.acts}
        known = {(mine[e.action], e.what, e.at) for e in self.mine.events}
        revision = len(self.mine.events)
        for event in self.theirs.events:
            if (keys[event.action], event.what, event.at) in known:
                continue
            revision += 1
            who = self.whose.get(event.who, event.who)
            self.db.execute(
                "INSERT INTO event (note_id, revision, action_id, what, at, who) VALUES (?, ?, ?, ?, ?, ?)",
                (self.mine.note, revision, self.number[keys[event.action]], event.what, event.at, who),
            )
        self.db.execute("UPDATE note SET revision = ? WHERE id = ?", (revision, self.mine.note))

    def _stands(self, there: set[Key]) -> bool:
        """No two live reps share a word, and no row that only I decided on is gone."""
        from reviewer.store.upkeep import shared_words

        state = state_of(self.library, self.mine.note)
        assert self.before is not None
        touched = {
            cell.id
            for act in self.mine.acts
            if act.key not in there and act.undone == 0
            for cell in act.cells
            if cell.subject == "row" and not cuts(cell)
        }
        gone = {row.id for row in self.before.rows} - {row.id for row in state.rows}
        return not shared_words(state) and not gone & touched

    # questions that new readings left open

    def _questions_before_cells(self) -> None:
        """Give their questions numbers: decisions name them. Known ones are found by what they ask."""
        self.asked: list[tuple[int, int, int, str, str, str]] = []
        mine = {
            (row, name, kept, read): number
            for number, row, name, kept, read in self.db.execute(
                "SELECT id, row_id, field, kept, read FROM question WHERE note_id = ?", (self.mine.note,)
            )
        }
        (free,) = self.db.execute(
            "SELECT coalesce((SELECT seq FROM sqlite_sequence WHERE name = 'question'), 0)"
        ).fetchone()
        for number, action, row, name, kept, read in self.other.execute(
            "SELECT id, action_id, row_id, field, kept, read FROM question WHERE note_id = ? ORDER BY id",
            (self.theirs.note,),
        ):
            key = (self.ids.rows[row], name, kept, read)
            if key not in mine:
                free += 1
                mine[key] = free
                self.asked.append((free, action, key[0], name, kept, read))
            self.ids.questions[number] = mine[key]

    def _bring_questions(self) -> None:
        keys = {act.id: act.key for act in self.theirs.acts}
        for number, action, row, name, kept, read in self.asked:
            self.db.execute(
                "INSERT INTO question (id, note_id, action_id, row_id, field, kept, read) "
                "VALUES (?, ?, ?, ?, ?, ?, ?)",
                (number, self.mine.note, self.number[keys[action]], row, name, kept, read),
            )

    # where both decided differently

    def _keep_clashes(self, acts: list[Act], fresh: list[Act], held: set[Key]) -> None:
        now = state_of(self.library, self.mine.note)
        theirs = self.theirs.state
        found = [*self._over_values(acts), *self._over_rows(fresh, held, now, theirs)]
        if held:
            found.append(self._over_reps(held, theirs))
        elsewhere = {row.id for row in theirs.rows if now.row(self.ids.rows[row.id]) is None}
        self.done.held = len(elsewhere) if self.done.rows else 0
        for clash in found:
            self.done.clashes += self._keep(clash)

    def _over_values(self, acts: list[Act]) -> list[NewClash]:
        values = _decided(self.theirs)
        back = {self.ids.cell(cell): value for cell, value in values.items()}
        found = []
        for one in parted(self.mine.acts, acts, self.clashing):
            if cuts(one.cell) or one.cell.subject == "question":
                continue
            mine, theirs = self.values[one.cell], back[one.cell]
            if dump(mine) == dump(theirs):
                continue
            row = one.cell.id if one.cell.subject == "row" else None
            taken = ((one.cell, theirs),)
            found.append(NewClash(one.cell, row, mine, theirs, one.mine.key, one.theirs.key, taken))
        return found

    def _over_rows(
        self, fresh: list[Act], held: set[Key], now: NoteState, theirs: NoteState
    ) -> list[NewClash]:
        """Rows that they decided on and that do not stand here."""
        found = []
        for row in theirs.rows:
            number = self.ids.rows[row.id]
            touched = [
                act
                for act in fresh
                if act.undone == 0
                and any(cell.subject == "row" and cell.id == number and not cuts(cell) for cell in act.cells)
            ]
            if now.row(number) is not None or not touched or held:
                continue
            cells = tuple((Cell("row", number, name), name == "shown") for name in ("shown", "deleted"))
            cell = Cell("row", number, ROW)
            found.append(NewClash(cell, number, False, True, None, touched[-1].key, cells))
        return found

    def _over_reps(self, held: set[Key], theirs: NoteState) -> NewClash:
        """Everything to write so that the note is cut as theirs is."""
        fold_cells = _structure_of(self.theirs, theirs)
        cells: list[tuple[Cell, Any]] = []
        for cell, value in fold_cells:
            mapped = self.ids.value(cell, dump(value))
            assert mapped is not None
            cells.append((self.ids.cell(cell), load(mapped)))
        mapped_acts = [act for act in map(self._as_mine, self.theirs.acts) if act.key in held]
        for act in mapped_acts:
            if act.undone == 0:
                cells += [
                    (cell, load(new)) for cell, _, new in act.changes if not cuts(cell) and new is not None
                ]
        theirs_rows = set(self.ids.rows.values())
        cells += [
            (Cell("row", number, "deleted"), True) for number in self.mine.rows if number not in theirs_rows
        ]
        cell = Cell("note", self.mine.note, REPS)
        assert self.before is not None
        mine = sum(1 for rep in self.before.reps if rep.number)
        count = sum(1 for rep in theirs.reps if rep.number)
        last = [act.key for act in mapped_acts][-1]
        return NewClash(cell, None, mine, count, None, last, tuple(cells))

    def _keep(self, clash: NewClash) -> bool:
        """Keep it, unless it is kept already."""
        mine = self.number[clash.mine_act] if clash.mine_act is not None else None
        theirs = self.number[clash.theirs_act] if clash.theirs_act is not None else None
        known = self.db.execute(
            "SELECT 1 FROM clash WHERE subject = ? AND subject_id = ? AND field = ? AND theirs_action IS ? "
            "AND mine_action IS ?",
            (*clash.cell, theirs, mine),
        ).fetchone()
        if known:
            return False
        self.db.execute(
            "INSERT INTO clash (note_id, row_id, subject, subject_id, field, mine, theirs, mine_action, "
            "theirs_action, cells) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                self.mine.note, clash.row, *clash.cell, dump(clash.mine), dump(clash.theirs), mine, theirs,
                dump([[list(cell), value] for cell, value in clash.cells]),
            ),
        )  # fmt: skip
        return True


def _cuts(act: Act) -> bool:
    return any(cuts(cell) for cell in act.cells)


def _events_of(side: Side) -> dict[Key, list[Event]]:
    keys = {act.id: act.key for act in side.acts}
    found: dict[Key, list[Event]] = {}
    for event in side.events:
        found.setdefault(keys[event.action], []).append(event)
    return found


def _decided(side: Side) -> dict[Cell, Any]:
    """Every cell that a decision in force gave its value, with the value as it stands."""
    from reviewer.store.journal import load_fold

    fold = load_fold(side.library, side.note)
    return {cell: fold.value(cell) for act in side.acts if act.undone == 0 for cell in act.cells}


def _structure_of(side: Side, state: NoteState) -> list[tuple[Cell, Any]]:
    from reviewer.store.journal import load_fold

    fold = load_fold(side.library, side.note)
    cells = [Cell("note", side.note, "reading")]
    cells += [Cell("rep", rep.id, name) for rep in state.reps for name in ("stretches", "order", "held")]
    cells += [Cell("row", number, name) for number in side.rows for name in sorted(STRUCTURE)]
    return [(cell, fold.value(cell)) for cell in cells]
