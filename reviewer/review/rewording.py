"""Words that were misheard, typed as they were said; the rows of their rep are read again from them.

The machine reads the rep by itself twice, with the words before and after. What differs between the two
is what the new words say; all else stays as it was read in the whole note. Fields that the coach decided
and rows that he confirmed stay as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reviewer import store
from reviewer.errors import InputError
from reviewer.records import GRADE_FIELDS, GradeRow, Word
from reviewer.review import slots
from reviewer.review.plain import plain
from reviewer.review.reps import Read, mend_at, turn_mend
from reviewer.review.session import Session
from reviewer.store import RepState, StoredRow, reworded


def whole(session: Session, first: int, last: int) -> tuple[int, int]:
    """Words first..last (exclusive) widened so that no stretch read otherwise than heard is cut in two."""
    for mend, _ in session.mends:
        if mend.first < last and first < mend.last:
            first, last = min(first, mend.first), max(last, mend.last)
    words = session.words
    while first and words[first].heard == "":
        first -= 1
    while last < len(words) and words[last].heard == "":
        last += 1
    return first, last


def as_read(session: Session, first: int, last: int) -> str:
    """The text of words first..last (exclusive), to be changed."""
    return " ".join(text for word in session.words[first:last] if (text := word.text.strip()))


def as_heard(session: Session, first: int, last: int) -> str:
    """What was heard for words first..last (exclusive)."""
    pieces = (w.text.strip() if w.heard is None else w.heard for w in session.words[first:last])
    return " ".join(filter(None, pieces))


def put_right(session: Session, first: int, last: int, text: str, read: Read, seen: int | None = None) -> str:
    """Put `text` in the place of words first..last (exclusive) and read their rep again.

    seen: the revision that was in view when the words were chosen, None for the one in view now.
    Raises InputError for a text without words; nothing is changed then.
    """
    if not text.split():
        raise InputError("Type what was said, at least one word; d leaves words out of the rep.")
    before = as_read(session, first, last)
    if text.split() == before.split():
        return "The words stay as they are."
    changed = reworded(session.words, first, last, text)
    again: dict[int, GradeRow] = {}
    news: list[str] = []
    was = session.row
    for rep in _touched(session, first, last):
        found, said = _read_again(session, rep, changed, read)
        again |= found
        news += said
    session.do(
        lambda now: store.reword(session.library, session.note_id, first, last, text, again, seen=now), seen
    )
    return f"“{plain(before)}” → “{plain(' '.join(text.split()))}”. {_news(was, session.row, news)}".strip()


def _touched(session: Session, first: int, last: int) -> list[RepState]:
    """The live reps that these words belong to."""
    return [
        rep
        for rep in session.state.reps
        if rep.number and any(a < last and first < b for a, b in rep.stretches)
    ]


def _read_again(
    session: Session, rep: RepState, changed: Sequence[Word], read: Read
) -> tuple[dict[int, GradeRow], list[str]]:
    """The machine's rows of a rep with the changed words, by row id; and men named who have no row."""
    context = store.context_of(session.library, session.note_id)
    was, now = (
        _first_rep(read([words[i] for a, b in rep.stretches for i in range(a, b)], context).rows)
        for words in (session.words, changed)
    )
    rows = [row for row in session.state.rows_of(rep.id) if row.machine is not None]
    pairs = _paired(rows, now)
    found: dict[int, GradeRow] = {}
    for row, new in pairs:
        old = next((one for one in was if one.player == new.player), None)
        old = old or (was[0] if len(was) == len(now) == 1 else None)
        fresh = _merged(row, old, new)
        if fresh is not None:
            found[row.id] = fresh
    # the men with rows may have been given their numbers by the coach
    known = {row.current.player for row in session.state.rows_of(rep.id)} | {None}
    known |= {one.player for one in was} | {new.player for _, new in pairs}
    return found, [str(one.player) for one in now if one.player not in known]


def _first_rep(rows: Sequence[GradeRow]) -> list[GradeRow]:
    return [row for row in rows if row.rep == rows[0].rep]


def _paired(rows: Sequence[StoredRow], now: Sequence[GradeRow]) -> list[tuple[StoredRow, GradeRow]]:
    """Each row with what is read of its man; a row and a man that are left alone belong together."""
    pairs = []
    left, free = [], list(now)
    for row in rows:
        known = (row.machine.player if row.machine else None, row.current.player)
        same = next((one for one in free if one.player in known), None)
        if same is None:
            left.append(row)
        else:
            free.remove(same)
            pairs.append((row, same))
    if len(left) == len(free) == 1:
        pairs.append((left[0], free[0]))
    return pairs


def _merged(row: StoredRow, old: GradeRow | None, new: GradeRow) -> GradeRow | None:
    """What the machine reads of a row now; None for a row that stays as the coach confirmed it."""
    read = row.machine
    if read is None or row.confirmed:
        return None
    # a man who was not read before has no reading to compare with: what is said of him now is new
    base = old or read.model_copy(update={n: v for n, v in _values(new) if not v})
    names = [name for name, value in _values(new) if getattr(base, name) != value]
    evidence, sure = dict(read.evidence), dict(read.field_confidence)
    for name in GRADE_FIELDS:
        taken = name in names
        if name in new.evidence and (taken or getattr(new, name) == getattr(read, name)):
            evidence[name] = new.evidence[name]
        elif taken:
            evidence.pop(name, None)
        if taken and name in new.field_confidence:
            sure[name] = new.field_confidence[name]
    values: dict[str, Any] = {name: getattr(new, name) for name in names}
    confidence = new.confidence if names else read.confidence
    return read.model_copy(
        update={**values, "evidence": evidence, "field_confidence": sure, "confidence": confidence}
    )


def _values(row: GradeRow) -> list[tuple[str, Any]]:
    return [(name, getattr(row, name)) for name in GRADE_FIELDS]


def turn(session: Session, word: int, read: Read) -> str:
    """Leave the words as heard, or read them so again: a mend of the machine, or words put right here."""
    if mend_at(session, word) is None and session.words and session.words[word].heard is not None:
        first, last = whole(session, word, word + 1)
        return put_right(session, first, last, as_heard(session, first, last), read)
    return turn_mend(session, word)


def _news(was: StoredRow | None, row: StoredRow | None, men: Sequence[str]) -> str:
    """What the row in hand says otherwise now, in a few words."""
    parts = []
    if was is not None and row is not None:
        parts.append("The row stays as you confirmed it." if row.confirmed else _changes(was, row))
    if men:
        parts.append(f"{' and '.join(map(plain, men))} named now: R, then a, gives him a row.")
    return " ".join(parts)


def _changes(before: StoredRow, now: StoredRow) -> str:
    said = []
    for slot in slots.SLOTS:
        old, new = slots.words_for(slot, before.current), slots.words_for(slot, now.current)
        if old != new:
            said.append(f"{slot.label}: {old or 'nothing'} → {new or 'nothing'}")
    return "; ".join(said) if said else "Nothing else changed."
