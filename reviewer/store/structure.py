"""How the talk is cut into reps, changed by hand. Every function is one undoable action.

A rep's stretches are word index ranges. What belongs together:
- Live reps of a note never share a word; words of no live rep are talk outside reps.
- A rep cut by hand is `held`: a later reading may not cut it anew.
- The times of its rows are those of its first stretch (later stretches are remarks back).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from reviewer.errors import InputError
from reviewer.records import GRADE_FIELDS, LIST_FIELDS, GradeRow, Word
from reviewer.store.codec import Stretches
from reviewer.store.derive import words_as_read
from reviewer.store.edit import checked, live_row, make_row
from reviewer.store.fold import Cell, NoteState, RepState, StoredRow
from reviewer.store.journal import Done, Edit, NotThere, editing, note_of
from reviewer.store.library import Library
from reviewer.store.notes import insert_rep


def joined(stretches: Iterable[tuple[int, int]]) -> Stretches:
    """Sorted, touching ones made one, empty ones dropped."""
    result: list[tuple[int, int]] = []
    for first, last in sorted(s for s in stretches if s[0] < s[1]):
        if result and first <= result[-1][1]:
            result[-1] = (result[-1][0], max(last, result[-1][1]))
        else:
            result.append((first, last))
    return tuple(result)


def without(stretches: Stretches, taken: Stretches) -> Stretches:
    """The words of some stretches that are not in others."""
    rest = list(stretches)
    for first, last in taken:
        rest = [
            part for a, b in rest for part in ((a, min(b, first)), (max(a, last), b)) if part[0] < part[1]
        ]
    return joined(rest)


def split_rep(
    library: Library,
    rep: int,
    at_word: int,
    *,
    rows: Sequence[Mapping[str, Any]] = (),
    keep: Mapping[int, Mapping[str, Any]] | None = None,
    seen: int | None = None,
) -> tuple[int, Done]:
    """Cut a rep in two before a word (index into the note's words); returns the new rep's id.

    The first part keeps the rep and its rows. Rows whose every evidence lies behind the cut go to
    the new rep. rows: the fields of further rows of the new rep; where it would have none, one with
    the player and position of the first row is made. keep: row id -> corrections that go with it.
    """
    with editing(library, note_of(library, "rep", rep), "split rep", seen) as edit:
        state, words = edit.before, _words(edit)
        old = _live_rep(state, rep)
        first = without(old.stretches, ((at_word, len(words)),))
        second = without(old.stretches, ((0, at_word),))
        if not first or not second:
            raise NotThere("A rep can only be split between two of its own words; choose a word inside it.")
        beside = state.rows_of(rep)
        start, end = _span(words, second)
        new = insert_rep(library.connection, edit.note, _order_after(state, old, start), None, ())
        edit.reload()
        _cut(edit, words, rep, first)
        _cut(edit, words, new, second)
        behind = [row for row in beside[1:] if _all_after(row, words[at_word].start)]
        for row in behind:
            edit.set_row(row.id, rep=new, start=start, end=end)
        _fill(edit, new, beside, rows or ([] if behind else [_like(beside[0])]), (start, end))
        for kept, values in (keep or {}).items():
            edit.set_row(kept, **checked(live_row(edit, kept).current, values))
    return new, edit.done


def _like(row: StoredRow) -> dict[str, Any]:
    return {"player": row.current.player, "position": row.current.position}


def _all_after(row: StoredRow, moment: float) -> bool:
    said = [e for each in (row.first.evidence if row.first else {}).values() for e in each]
    return bool(said) and all(e.start >= moment for e in said)


def _fill(
    edit: Edit,
    rep: int,
    beside: Sequence[StoredRow],
    rows: Sequence[Mapping[str, Any]],
    span: tuple[float, float],
) -> None:
    seq = max(row.seq for row in (*edit.before.rows, *edit.before.hidden))
    for number, values in enumerate(rows, 1):
        blank = GradeRow(rep=beside[0].current.rep + 1, start=span[0], end=span[1])
        make_row(edit, rep, seq + number, blank.model_copy(update=checked(blank, values)))


def merge_reps(library: Library, into: int, other: int, *, seen: int | None = None) -> Done:
    """Make two reps one: `into` gets the words and rows of `other`.

    Where both have a row of the same player, the row of `into` takes what it lacks: empty fields
    are filled, lists joined, and of two verdicts or marks the one spoken last stands. Such a row
    is no longer confirmed.
    """
    with editing(library, note_of(library, "rep", into), "merge reps", seen) as edit:
        state, words = edit.before, _words(edit)
        if into == other or note_of(library, "rep", other) != edit.note:
            raise InputError("Only two different reps of the same note can be merged; choose another rep.")
        kept, gone = _live_rep(state, into), _live_rep(state, other)
        _cut(edit, words, other, ())
        edit.write(Cell("rep", into, "order"), min(kept.order, gone.order))
        _cut(edit, words, into, joined((*kept.stretches, *gone.stretches)))
        twins = state.rows_of(into)
        span = {name: edit.value(Cell("row", twins[0].id, name)) for name in ("start", "end")}
        for row in state.rows_of(other):
            edit.need_row(row.id)
            twin = next((r for r in twins if r.current.player == row.current.player), None)
            if twin is None:
                edit.set_row(row.id, rep=into, **span)
            else:
                twins.remove(twin)
                _absorb(edit, twin, row, twin if kept.order > gone.order else row)
    return edit.done


def _absorb(edit: Edit, row: StoredRow, other: StoredRow, later: StoredRow) -> None:
    edit.need_row(row.id)
    edit.set_row(other.id, deleted=True)
    edit.set_row(row.id, **_union(row, other, later), confirmed=False)
    if other.comment:
        edit.set_row(row.id, comment="\n".join(c for c in (row.comment, other.comment) if c))


_LAST_WORD = ("verdict", "assignment", "technique", "finish")


def _union(row: StoredRow, other: StoredRow, later: StoredRow) -> dict[str, Any]:
    mine, theirs, last = row.current, other.current, later.current
    values: dict[str, Any] = {}
    for name in GRADE_FIELDS:
        a, b = getattr(mine, name), getattr(theirs, name)
        if name in LIST_FIELDS:
            values[name] = list(dict.fromkeys([*a, *b]))
        elif name in _LAST_WORD and b not in (None, "neutral"):
            values[name] = b if a in (None, "neutral") else getattr(last, name)
        elif name != "verdict" and a in (None, False):
            values[name] = b
    return values


def move_words(
    library: Library, first: int, last: int, *, note: int, to: int | None, seen: int | None = None
) -> Done:
    """Give words first..last (exclusive) to a rep, or (to=None) to the talk outside reps.

    A rep cannot lose all its words: merge it or delete its rows instead (InputError).
    """
    with editing(library, note, "move words", seen) as edit:
        state, words = edit.before, _words(edit)
        if not 0 <= first < last <= len(words):
            raise InputError(f"The note has words 0 to {len(words) - 1}; choose a stretch inside it.")
        _release(edit, words, ((first, last),), to)
        if to is not None:
            target = _live_rep(state, to)
            _cut(edit, words, to, joined((*target.stretches, (first, last))))
    return edit.done


def add_rep(
    library: Library, note: int, first: int, last: int, values: Mapping[str, Any], *, seen: int | None = None
) -> tuple[int, Done]:
    """Make a rep of words first..last (exclusive) with one row; returns the row's id."""
    with editing(library, note, "add rep", seen) as edit:
        words = _words(edit)
        if not 0 <= first < last <= len(words):
            raise InputError(f"The note has words 0 to {len(words) - 1}; choose a stretch inside it.")
        _release(edit, words, ((first, last),), None)
        start, end = _span(words, ((first, last),))
        new = insert_rep(library.connection, note, start, None, ())
        edit.reload()
        _cut(edit, words, new, ((first, last),))
        blank = GradeRow(rep=1, start=start, end=end)
        seq = max((row.seq for row in (*edit.before.rows, *edit.before.hidden)), default=0) + 1
        row = make_row(edit, new, seq, blank.model_copy(update=checked(blank, values)))
    return row, edit.done


def restore_row(library: Library, row: int, *, seen: int | None = None) -> Done:
    """Bring a deleted row back as it was, with those of its rep's words that no other rep has by now."""
    with editing(library, note_of(library, "grade_row", row), "restore row", seen) as edit:
        state = edit.before
        stored = next((r for r in state.hidden if r.id == row), None)
        if stored is None:
            raise NotThere(f"Row {row} is not among the deleted rows of its note; look at the note again.")
        rep = state.rep(stored.rep_id)
        assert rep is not None
        if not rep.number:
            taken = joined(s for other in state.reps if other.number for s in other.stretches)
            edit.write(Cell("rep", rep.id, "stretches"), [list(s) for s in without(rep.stretches, taken)])
        edit.set_row(row, deleted=False)
    return edit.done


def reorder_rep(library: Library, rep: int, before: int | None, *, seen: int | None = None) -> Done:
    """Put a rep before another one, or (None) at the end."""
    with editing(library, note_of(library, "rep", rep), "reorder", seen) as edit:
        state = edit.before
        _live_rep(state, rep)
        if before == rep:
            return edit.done
        if before is not None:
            _live_rep(state, before)
        line = [r for r in state.reps if r.id != rep]
        place = len(line) if before is None else next(i for i, r in enumerate(line) if r.id == before)
        low = line[place - 1].order if place else None
        high = line[place].order if place < len(line) else None
        order = _between(low, high)
        if _in_place(state, rep, place):
            return edit.done
        edit.write(Cell("rep", rep, "placed"), True)
        if order is None:
            _spread(edit, [*line[:place], next(r for r in state.reps if r.id == rep), *line[place:]])
        else:
            edit.write(Cell("rep", rep, "order"), order)
    return edit.done


def _in_place(state: NoteState, rep: int, place: int) -> bool:
    return state.reps[place].id == rep if place < len(state.reps) else False


def _spread(edit: Edit, line: Sequence[RepState]) -> None:
    """Space all orders evenly over the range they had, which is that of the talk's seconds."""
    low, high = min(rep.order for rep in line), max(rep.order for rep in line)
    step = max(1.0, high - low) / len(line)
    for number, rep in enumerate(line):
        edit.write(Cell("rep", rep.id, "order"), low + number * step)


def _between(low: float | None, high: float | None) -> float | None:
    """A number strictly between; None when there is no room."""
    if low is None or high is None:
        return (high or 0.0) - 1.0 if low is None else low + 1.0
    middle = (low + high) / 2
    return middle if low < middle < high else None


def _order_after(state: NoteState, rep: RepState, start: float) -> float:
    """An order right after a rep; its own start where that fits."""
    place = next(i for i, r in enumerate(state.reps) if r.id == rep.id)
    following = state.reps[place + 1].order if place + 1 < len(state.reps) else None
    if rep.order < start and (following is None or start < following):
        return start
    # Equal orders fall back on the id, and a new rep has the highest one.
    between = _between(rep.order, following)
    return rep.order if between is None else between


def _words(edit: Edit) -> tuple[Word, ...]:
    return words_as_read(edit.library.connection, edit.before)


def _live_rep(state: NoteState, rep: int) -> RepState:
    found = state.rep(rep)
    if found is None or not found.number:
        raise NotThere(f"Rep {rep} is no longer in the note; look at the note again.")
    return found


def _release(edit: Edit, words: Sequence[Word], taken: Stretches, to: int | None) -> None:
    """Take words away from every live rep but one."""
    for rep in edit.before.reps:
        rest = without(rep.stretches, taken)
        if rep.id == to or not rep.number or rest == rep.stretches:
            continue
        if not rest:
            raise NotThere(f"Rep {rep.number} would have no words left; merge it or delete its rows instead.")
        _cut(edit, words, rep.id, rest)


def _cut(edit: Edit, words: Sequence[Word], rep: int, stretches: Stretches) -> None:
    """Give a rep its stretches and its live rows their times."""
    edit.write(Cell("rep", rep, "stretches"), [list(s) for s in stretches])
    edit.write(Cell("rep", rep, "held"), True)
    if not stretches:
        return
    start, end = _span(words, stretches)
    for row in edit.before.rows_of(rep):
        edit.set_row(row.id, start=start, end=end)


def _span(words: Sequence[Word], stretches: Stretches) -> tuple[float, float]:
    first, last = stretches[0]
    return words[first].start, words[last - 1].end
