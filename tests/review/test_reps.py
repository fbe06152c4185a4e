"""Reps split, merged, added, removed, reordered; words moved; rows for a second man."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from reviewer.errors import InputError
from reviewer.records import GradeRow, NoteContext, Reading, Word
from reviewer.review import reps
from reviewer.review.session import Session
from reviewer.review.slots import BY_ID


def on_rep(session: Session, number: int) -> None:
    session.go(next(row.id for row in session.rows if row.current.rep == number))


def words_in(session: Session, number: int) -> str:
    rep = next(rep for rep in session.state.reps if rep.number == number)
    return " ".join(session.words[i].text for a, b in rep.stretches for i in range(a, b))


def word(session: Session, text: str) -> int:
    return next(i for i, w in enumerate(session.words) if w.text == text)


def said(words: Sequence[Word], context: NoteContext) -> Reading:
    """A stand-in reader: the verdict is a win where "Good" is among the words."""
    verdict = "win" if any(w.text == "Good" for w in words) else "loss"
    row = GradeRow(rep=1, start=words[0].start, end=words[-1].end, player=context.player, verdict=verdict)
    return Reading(words, rows=[row])


def test_a_split_gives_each_half_its_own_reading(session: Session) -> None:
    assert reps.split(session, word(session, "Nobody"), said) == "Split in two; look over both."
    assert session.row is not None
    assert session.row.current.rep == 4
    assert session.row.current.verdict == "win"
    assert words_in(session, 4).startswith("Nobody gets home.")
    first = next(row for row in session.rows if row.current.rep == 3)
    assert first.current.verdict == "loss"
    assert len(session.rows) == 11


def test_without_a_reading_each_half_keeps_what_was_said_in_it(session: Session) -> None:
    third = session.state.reps[2].stretches[0][0]
    he = next(i for i, w in enumerate(session.words) if i > third and w.text == "He")
    reps.split(session, he)
    assert session.row is not None
    second = session.row.current
    first = next(row for row in session.rows if row.current.rep == 3).current
    assert (first.games, first.techniques, first.verdict) == (["T-E stunt"], [], "neutral")
    assert (second.games, second.techniques) == ([], ["pass off", "processing"])
    assert second.verdict == "win"


def test_what_the_coach_decided_outlives_a_split(session: Session) -> None:
    session.set_verdict("neutral")
    reps.split(session, word(session, "Nobody"), said)
    assert next(row for row in session.rows if row.current.rep == 3).current.verdict == "neutral"


def test_a_split_needs_a_word_inside_the_rep(session: Session) -> None:
    for at in (0, word(session, "Third")):
        with pytest.raises(InputError, match="Put the cursor on the word that begins the new rep"):
            reps.split(session, at)


def test_a_split_is_one_undo(session: Session) -> None:
    before = words_in(session, 3)
    reps.split(session, word(session, "Nobody"), said)
    session.undo()
    assert words_in(session, 3) == before
    assert len(session.rows) == 10


def test_merge_joins_words_and_rows(session: Session) -> None:
    both = f"{words_in(session, 3)} {words_in(session, 4)}"
    assert reps.merge(session, 1) == "Reps 3 and 4 are one."
    assert words_in(session, 3) == both
    assert len(session.rows) == 9
    assert session.row is not None
    assert session.row.current.rep == 3


def test_merge_with_the_rep_before_lands_in_it(session: Session) -> None:
    assert reps.merge(session, -1) == "Reps 2 and 3 are one."
    assert session.row is not None
    assert session.row.current.rep == 2


def test_at_the_ends_there_is_nothing_to_merge_with(session: Session) -> None:
    on_rep(session, 1)
    with pytest.raises(InputError, match="no rep before this one"):
        reps.merge(session, -1)
    on_rep(session, 9)
    with pytest.raises(InputError, match="no rep after this one"):
        reps.merge(session, 1)


def test_words_go_to_the_neighbour(session: Session) -> None:
    first, last = word(session, "Nobody"), session.state.reps[2].stretches[0][1]
    reps.give_words(session, first, last, 1)
    assert words_in(session, 4).startswith("Nobody gets home.")
    assert "Nobody" not in words_in(session, 3)


def test_words_of_other_reps_are_not_given_away_by_mistake(session: Session) -> None:
    with pytest.raises(InputError, match="not of this rep"):
        reps.give_words(session, 0, 2, 1)


def test_words_are_left_out_and_taken_back(session: Session) -> None:
    at = word(session, "Third")
    reps.drop_words(session, at, at + 3)
    assert words_in(session, 3).startswith("They run")
    reps.take_words(session, at, at + 3)
    assert words_in(session, 3).startswith("Third and four.")


def test_a_rep_is_made_of_words_that_were_of_none(session: Session) -> None:
    assert reps.add_rep(session, 0, 6, said) == "Rep 1 added; look it over."
    assert session.row is not None
    assert session.row.by_hand
    assert words_in(session, 1) == " ".join(w.text for w in session.words[:6])


def test_a_second_man_gets_a_row_with_what_the_play_was(session: Session) -> None:
    assert reps.second_player(session, "64") == "Row for 64 added; give him his verdict."
    assert session.row is not None
    row = session.row.current
    assert (row.rep, row.player, row.position, row.down, row.distance) == (3, "64", "RG", 3, 4)
    assert row.verdict == "neutral"
    with pytest.raises(InputError, match="64 has a row in this rep already"):
        reps.second_player(session, "64")


def test_a_removed_row_comes_back(session: Session) -> None:
    gone = session.row_id
    assert gone is not None
    session.set_slot(BY_ID["faults"], {"faults": ["lunge"]})
    assert reps.remove_row(session) == "Row 3 removed; u brings it back."
    assert session.row_id != gone
    assert len(session.rows) == 9
    reps.restore_row(session, gone)
    assert session.row_id == gone
    assert session.row is not None
    assert session.row.current.faults == ["lunge"]


def test_reps_are_put_earlier_and_later(session: Session) -> None:
    row = session.row_id
    assert reps.reorder(session, -1) == "It is rep 2 now."
    assert reps.reorder(session, 1) == "It is rep 3 now."
    assert reps.reorder(session, 1) == "It is rep 4 now."
    assert session.row_id == row


def test_a_mend_is_refused_and_allowed_again(session: Session) -> None:
    at = word(session, "T-E")
    assert reps.mend_at(session, at) == ("East on,", "T-E stunt,", False)
    assert reps.turn_mend(session, at) == "Left as heard: “East on,”."
    assert session.words[at].text == "East on,"
    assert reps.turn_mend(session, at) == "Read as “T-E stunt,” again."
    with pytest.raises(InputError, match="Nothing was read otherwise than heard here"):
        reps.turn_mend(session, 0)
