"""The doubtful field of the doubtful row comes first; what was inferred is never shown as said."""

from __future__ import annotations

from reviewer import store
from reviewer.review import doubt
from reviewer.review.session import Session
from reviewer.review.slots import BY_ID


def test_the_most_doubtful_row_opens_first(session: Session) -> None:
    assert session.row is not None
    assert session.row.current.confidence == min(row.current.confidence for row in session.rows)


def test_the_cursor_stands_on_its_least_sure_field(session: Session) -> None:
    row = session.row
    assert row is not None
    surest = {slot.id: doubt.sureness(row, slot) for slot in BY_ID.values()}
    assert surest[session.slot_id] == min(surest.values())


def test_rows_of_a_rep_follow_each_other(session: Session) -> None:
    order = [row.current.rep for row in doubt.queue(session.rows)]
    assert order[0] == 3
    assert order.count(6) == 2
    assert abs(order.index(6) - (len(order) - 1 - order[::-1].index(6))) == 1


def test_a_confirmed_row_is_in_no_queue(session: Session) -> None:
    session.confirm()
    assert 3 not in [row.current.rep for row in doubt.queue(session.rows)]
    assert doubt.next_to_look(session.rows, None) == session.row_id


def test_what_no_words_carry_is_inferred_until_decided(session: Session) -> None:
    row = session.row
    assert row is not None
    assert doubt.inferred(row, BY_ID["position"])
    assert not doubt.inferred(row, BY_ID["verdict"])
    session.set_slot(BY_ID["position"], {"position": "LT"})
    assert session.row is not None
    assert not doubt.inferred(session.row, BY_ID["position"])
    assert doubt.sureness(session.row, BY_ID["position"]) == 1.0


def test_a_neutral_verdict_needs_no_words(session: Session, library: store.Library) -> None:
    row = session.rows[0]
    blank = row.current.model_copy(update={"verdict": "neutral", "evidence": {}})
    assert not doubt.inferred(store.StoredRow(**{**_fields(row), "current": blank}), BY_ID["verdict"])


def _fields(row: store.StoredRow) -> dict[str, object]:
    return {name: getattr(row, name) for name in row.__dataclass_fields__}


def test_unsure_bounds_are_told(session: Session) -> None:
    assert [row.current.rep for row in session.rows if doubt.bounds_doubtful(row)] == [7]
