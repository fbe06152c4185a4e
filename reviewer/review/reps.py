"""How the talk is cut into reps, put right: split, merge, words moved, reps and rows added or removed.

Every function takes the session whose row in hand it is about, does one undoable thing and returns a
sentence on it. Words are indices into the note's words.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from reviewer import store
from reviewer.errors import InputError
from reviewer.records import GRADE_FIELDS, GradeRow, NoteContext, Reading, Word
from reviewer.review import lineup
from reviewer.review.plain import count, plain
from reviewer.review.session import Session
from reviewer.review.slots import BY_FIELD, empty_values
from reviewer.store import Done, RepState, StoredRow

Read = Callable[[Sequence[Word], NoteContext], Reading]
"""Reads words into rows: `Reader.read` of the language layer, or a stand-in."""

OF_THE_PLAY = ("down", "distance", "goal_to_go", "phase", "concepts", "play_result")
"""Fields that every man's row of a rep shares."""


def rep_of(session: Session) -> tuple[RepState, StoredRow]:
    """The rep and row in hand. Raises InputError when there is none."""
    row = session.row
    rep = session.state.rep(row.rep_id) if row else None
    if row is None or rep is None:
        raise InputError("There is no rep here; choose words and add one.")
    return rep, row


def neighbour(session: Session, by: int) -> RepState:
    """The live rep before (-1) or after (1) the one in hand. Raises InputError at the end."""
    rep, _ = rep_of(session)
    live = [one for one in session.state.reps if one.number]
    place = [one.id for one in live].index(rep.id) + by
    if not 0 <= place < len(live):
        raise InputError(f"There is no rep {'after' if by > 0 else 'before'} this one.")
    return live[place]


def split(session: Session, word: int, read: Read | None = None) -> str:
    """Cut the rep in two before a word; each half is read anew where a reader is given.

    What the coach decided stays with the first half. Lands on the new rep.
    """
    rep, _ = rep_of(session)
    first = [i for a, b in rep.stretches for i in range(a, b) if i < word]
    second = [i for a, b in rep.stretches for i in range(a, b) if i >= word]
    if not first or not second:
        raise InputError("Put the cursor on the word that begins the new rep, inside this one.")
    anew, behind = _read(session, first, read), _read(session, second, read)
    keep = _anew(session, rep, anew) if anew else _emptied(session, rep, session.words[word].start)
    rows = [_values(row) for row in behind] or [_said_after(session, session.words[word].start)]
    new = 0

    def action(seen: int) -> Done:
        nonlocal new
        new, done = store.split_rep(session.library, rep.id, word, rows=rows, keep=keep, seen=seen)
        return done

    session.do(action)
    _land_on(session, new)
    return "Split in two; look over both."


def _read(session: Session, indices: Sequence[int], read: Read | None) -> list[GradeRow]:
    """The rows that some of the note's words give by themselves; those of the first rep found."""
    if read is None:
        return []
    context = store.context_of(session.library, session.note_id)
    rows = list(read([session.words[i] for i in indices], context).rows)
    return [row for row in rows if row.rep == rows[0].rep]


def _anew(session: Session, rep: RepState, rows: Sequence[GradeRow]) -> dict[int, dict[str, Any]]:
    """For each row of a rep that was read anew, the fields that changed and the coach did not decide."""
    found: dict[int, dict[str, Any]] = {}
    for row in session.state.rows_of(rep.id):
        again = next((one for one in rows if one.player == row.current.player), None)
        if again is None or row.confirmed:
            continue
        found[row.id] = {
            name: getattr(again, name)
            for name in GRADE_FIELDS
            if name not in row.corrected and getattr(again, name) != getattr(row.current, name)
        }
    return found


def _behind(row: StoredRow, moment: float) -> list[str]:
    """The fields of a row whose every word was said from a moment (in seconds) on, undecided ones only."""
    said = row.current.evidence
    return [
        name
        for name in GRADE_FIELDS
        if name not in ("player", "position")
        and name not in row.corrected
        and said.get(name)
        and all(e.start >= moment for e in said[name])
    ]


def _emptied(session: Session, rep: RepState, moment: float) -> dict[int, dict[str, Any]]:
    """For each unconfirmed row of a rep, the fields that a cut takes away from it, emptied."""
    return {
        row.id: {
            n: v
            for name in _behind(row, moment)
            for n, v in empty_values(BY_FIELD[name]).items()
            if n == name
        }
        for row in session.state.rows_of(rep.id)
        if not row.confirmed
    }


def _said_after(session: Session, moment: float) -> dict[str, Any]:
    """A row for what was said of the man in hand from a moment on."""
    _, row = rep_of(session)
    names = ("player", "position", *_behind(row, moment))
    return {name: getattr(row.current, name) for name in names}


def _values(row: GradeRow) -> dict[str, Any]:
    return {name: getattr(row, name) for name in GRADE_FIELDS}


def _land_on(session: Session, rep: int) -> None:
    rows = session.state.rows_of(rep)
    if rows:
        session.go(rows[0].id)


def merge(session: Session, by: int) -> str:
    """Make one rep of the one in hand and its neighbour."""
    rep, row = rep_of(session)
    other = neighbour(session, by)
    into, gone = (rep, other) if by > 0 else (other, rep)
    session.do(lambda seen: store.merge_reps(session.library, into.id, gone.id, seen=seen))
    if session.state.row(row.id):
        session.go(row.id)
    else:
        _land_on(session, into.id)
    return f"Reps {min(rep.number, other.number)} and {max(rep.number, other.number)} are one."


def give_words(session: Session, first: int, last: int, by: int) -> str:
    """Give words first..last (exclusive) of the rep in hand to its neighbour."""
    rep, _ = rep_of(session)
    mine = {i for a, b in rep.stretches for i in range(a, b)}
    if not mine & set(range(first, last)):
        raise InputError("These words are not of this rep; choose words of it.")
    other = neighbour(session, by)
    _move(session, first, last, other.id)
    return f"{count(last - first, 'word')} given to rep {other.number}."


def take_words(session: Session, first: int, last: int) -> str:
    """Bring words first..last (exclusive), of no rep or of another one, into the rep in hand."""
    rep, _ = rep_of(session)
    _move(session, first, last, rep.id)
    return f"{count(last - first, 'word')} taken into rep {rep.number}."


def drop_words(session: Session, first: int, last: int) -> str:
    """Give words first..last (exclusive) to the talk outside reps."""
    rep_of(session)
    _move(session, first, last, None)
    return f"{count(last - first, 'word')} left out of the reps."


def _move(session: Session, first: int, last: int, to: int | None) -> None:
    note = session.note_id
    session.do(lambda seen: store.move_words(session.library, first, last, note=note, to=to, seen=seen))


def add_rep(session: Session, first: int, last: int, read: Read | None = None) -> str:
    """Make a rep of words first..last (exclusive), read anew where a reader is given."""
    found = _read(session, range(first, last), read)
    like = session.row.current if session.row else session.note
    blank = {"player": like.player, "position": like.position}
    values = _values(found[0]) if found else blank
    row = 0

    def action(seen: int) -> Done:
        nonlocal row
        row, done = store.add_rep(session.library, session.note_id, first, last, values, seen=seen)
        return done

    session.do(action)
    session.go(row)
    return f"Rep {session.row.current.rep if session.row else ''} added; look it over."


def second_player(session: Session, jersey: str) -> str:
    """Add a row for another man to the rep in hand, with what the play was."""
    rep, row = rep_of(session)
    if any(one.current.player == jersey for one in session.state.rows_of(rep.id)):
        raise InputError(f"Number {plain(jersey)} has a row in this rep already.")
    values: Mapping[str, Any] = {
        "player": jersey,
        "position": lineup.position_of(session.roster, jersey),
        **{name: getattr(row.current, name) for name in OF_THE_PLAY},
    }
    new = 0

    def action(seen: int) -> Done:
        nonlocal new
        new, done = store.add_row(session.library, rep.id, values, seen=seen)
        return done

    session.do(action)
    session.go(new)
    return f"Row for {plain(jersey)} added; give him his verdict."


def remove_row(session: Session) -> str:
    """Take the row in hand out of the note; its words stay."""
    _, row = rep_of(session)
    number = session.number(row.id)
    session.do(lambda seen: store.delete_row(session.library, row.id, seen=seen))
    return f"Row {number} removed; u brings it back."


def restore_row(session: Session, row: int) -> str:
    """Bring a removed row back."""
    session.do(lambda seen: store.restore_row(session.library, row, seen=seen))
    session.go(row)
    return f"Row {session.number(row)} is back."


def reorder(session: Session, by: int) -> str:
    """Put the rep in hand one place earlier (-1) or later (1)."""
    rep, row = rep_of(session)
    neighbour(session, by)
    live = [one for one in session.state.reps if one.number]
    place = [one.id for one in live].index(rep.id)
    after = place + 2 if by > 0 else place - 1
    before = live[after].id if after < len(live) else None
    session.do(lambda seen: store.reorder_rep(session.library, rep.id, before, seen=seen))
    session.go(row.id)
    return f"It is rep {session.row.current.rep if session.row else ''} now."


def mend_at(session: Session, word: int) -> tuple[str, str, bool] | None:
    """The mend that a word belongs to: heard, read, whether it was refused. None for no mend."""
    for mend, refused in session.mends:
        if mend.first <= word < mend.last:
            return mend.heard, mend.read, refused
    return None


def turn_mend(session: Session, word: int) -> str:
    """Refuse the mend that a word belongs to, or let it stand again."""
    found = mend_at(session, word)
    if found is None:
        raise InputError("Nothing was read otherwise than heard here.")
    heard, read, refused = found
    change = store.allow_mend if refused else store.refuse_mend
    session.do(lambda seen: change(session.library, session.note_id, heard, read, seen=seen))
    return f"Read as “{plain(read)}” again." if refused else f"Left as heard: “{plain(heard)}”."
