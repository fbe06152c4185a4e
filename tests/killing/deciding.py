"""Reviewing: a long evening of decisions of every sort, each told once its call has returned."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from reviewer import paths, store
from reviewer.review import lessons
from reviewer.review.lessons import Meaning
from reviewer.review.session import Session
from reviewer.review.slots import BY_ID
from tests.killing import book
from tests.killing.child import Tell
from tests.killing.rig import Kind
from tests.screens.evening import add_evening
from tests.store.scene import picture

DECISIONS = 52


def prepare(place: Path, tell: Tell) -> None:
    with store.Library.open() as library:
        add_evening(library)


def work(place: Path, tell: Tell) -> None:
    with store.Library.open() as library:
        session = Session(library, 1)
        for number in range(taken(library), DECISIONS):
            decide(session, number)
            tell(number + 1)
        # where the cursor stands is kept at leaving only: the same place, however often it was killed
        session.reload()
        session.go(session.rows[0].id)
        session.leave()


def work_that_commits_late(place: Path, tell: Tell) -> None:
    """A program that breaks the promise: it says that decisions are kept before it commits them."""
    with store.Library.open() as library, library.writing():
        session = Session(library, 1)
        for number in range(taken(library), DECISIONS):
            decide(session, number)
            tell(number + 1)


def taken(library: store.Library) -> int:
    """How many decisions the grade book holds: each is one event of the note or one lesson."""
    return store.revision_of(library, 1) + len(store.learned(library))


def decide(session: Session, number: int) -> None:
    """The decision of that number; what it is depends on nothing but the ones before."""
    session.reload()
    rows = session.rows
    session.go(rows[7 * number % len(rows)].id)
    _SORTS[number % len(_SORTS)](session, number)


def _confirm(session: Session, number: int) -> None:
    row = session.row
    assert row is not None
    if row.confirmed:
        session.unconfirm()
    else:
        session.confirm()


def _split(session: Session, number: int) -> None:
    def longest(rep: store.RepState) -> int:
        return sum(last - first for first, last in rep.stretches) if rep.number else 0

    rep = max(session.state.reps, key=longest)
    first, last = rep.stretches[0]
    session.do(lambda seen: store.split_rep(session.library, rep.id, (first + last) // 2, seen=seen)[1])


def _merge(session: Session, number: int) -> None:
    one, two = [rep.id for rep in session.state.reps if rep.number][:2]
    session.do(lambda seen: store.merge_reps(session.library, one, two, seen=seen))


def _add_row(session: Session, number: int) -> None:
    row = session.row
    assert row is not None
    session.do(lambda seen: store.add_row(session.library, row.rep_id, {"player": "68"}, seen=seen)[1])


def _delete(session: Session, number: int) -> None:
    row = session.row_id
    assert row is not None
    session.do(lambda seen: store.delete_row(session.library, row, seen=seen))


def _teach(session: Session, number: int) -> None:
    first = 3 * number
    lessons.teach(session, Meaning("techniques", "anchor", "form", "anchor"), first, first + 3)


_SORTS: tuple[Callable[[Session, int], object], ...] = (
    lambda session, number: session.cycle(BY_ID["finish"]),
    lambda session, number: session.comment(f"remark {number}"),
    lambda session, number: session.cycle(BY_ID["verdict"]),
    _confirm,
    lambda session, number: session.set_slot(BY_ID["opponents"], {"opponents": [str(20 + number)]}),
    lambda session, number: session.undo(),
    lambda session, number: session.redo(),
    _split,
    _teach,
    _add_row,
    _merge,
    _delete,
    lambda session, number: session.undo(),
)


def foresee(place: Path, tell: Tell) -> list[str]:
    """What the note shows after no decision, after one, after two …, as digests."""
    with store.Library.open() as library:
        session = Session(library, 1)
        seen = [_shown(library)]
        for number in range(DECISIONS):
            decide(session, number)
            assert taken(library) == number + 1, f"decision {number} is not one step"
            seen.append(_shown(library))
    assert len(set(seen)) > DECISIONS // 2
    return seen


def _shown(library: store.Library) -> str:
    taught = [(lesson.kind, lesson.term, lesson.form) for lesson in store.learned(library)]
    return hashlib.sha256(repr((picture(library, 1), taught)).encode()).hexdigest()


def look(place: Path, tell: Tell, told: list[int], foreseen: list[str]) -> list[str]:
    lost = book.faults()
    with store.Library.open() as library:
        kept, shown = taken(library), _shown(library)
        lessons_kept = {lesson.id for lesson in store.learned(library)}
    if kept < max(told, default=0):
        lost.append(f"{max(told) - kept} of {max(told)} decisions that were told to be kept are gone")
    if shown != foreseen[kept]:
        lost.append(f"the note does not show what its first {kept} decisions make of it")
    taught = paths.user_vocabulary().read_text("utf-8") if paths.user_vocabulary().exists() else ""
    tomllib.loads(taught)
    # the file is written first
    in_file = [number for number in lessons_kept if f"# learned {number}:" in taught]
    if len(lessons_kept) > len(in_file):
        lost.append(f"lessons {sorted(lessons_kept - set(in_file))} are not in the vocabulary")
    return lost


def result(place: Path, tell: Tell) -> Any:
    with store.Library.open() as library:
        shown = _shown(library)
    lines = paths.user_vocabulary().read_text("utf-8").splitlines()
    return {
        "shown": shown,
        "taught": [line for line in lines if not line.startswith("#")],
        **book.contents(),
    }


REVIEWING = Kind("reviewing", prepare, work, look, result, foresee)
