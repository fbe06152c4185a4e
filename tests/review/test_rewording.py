"""Words typed as they were said: the row is read again, what the coach decided stays."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from reviewer import store
from reviewer.errors import InputError
from reviewer.records import Evidence, GradeRow, NoteContext, Reading, Word
from reviewer.review import rewording
from reviewer.review.session import Session
from reviewer.review.slots import BY_ID

GAMES = {"T-E": "T-E stunt", "E-T": "E-T stunt", "twist": "twist"}


def reader(words: Sequence[Word], context: NoteContext) -> Reading:
    """A stand-in: the game is the one named, a win where "Nobody" is said, and each "also NN" is a man."""
    games, evidence = [], {}
    for word in words:
        for text, game in GAMES.items():
            if text in word.text:
                games.append(game)
                evidence["games"] = [
                    Evidence(start=word.start, end=word.end, heard=word.heard or "", read=text)
                ]
    texts = [word.text for word in words]
    verdict = "win" if "Nobody" in texts else "loss"
    row = GradeRow(
        rep=1, start=words[0].start, end=words[-1].end, player=context.player, games=games,
        verdict=verdict, evidence=evidence, confidence=0.5, field_confidence={"games": 0.6, "verdict": 0.4},
    )  # fmt: skip
    men = [texts[i + 1] for i, text in enumerate(texts[:-1]) if text == "also"]
    return Reading(words, rows=[row, *(row.model_copy(update={"player": man}) for man in men)])


def at(session: Session, text: str) -> int:
    return next(i for i, word in enumerate(session.words) if word.text == text)


def stunt(session: Session) -> tuple[int, int]:
    return rewording.whole(session, at(session, "stunt,"), at(session, "stunt,") + 1)


def test_a_mend_is_taken_whole(session: Session) -> None:
    first, last = stunt(session)
    assert rewording.as_read(session, first, last) == "T-E stunt,"
    assert rewording.as_heard(session, first, last) == "East on,"


def test_the_row_says_what_the_new_words_say_and_no_more(session: Session) -> None:
    before = session.row
    assert before is not None
    assert before.current.games == ["T-E stunt"]
    said = rewording.put_right(session, *stunt(session), "twist,", reader)
    assert said == "“T-E stunt,” → “twist,”. games: T-E stunt → twist"
    row = session.row
    assert row is not None
    assert row.current.games == ["twist"]
    # read anew, not decided: the machine says how sure it is, from which words, and what was heard
    assert "games" not in row.corrected
    assert row.current.field_confidence["games"] == 0.6
    (evidence,) = row.current.evidence["games"]
    assert (evidence.heard, evidence.read) == ("East on,", "twist")
    # both readings of the rep alone call it a loss or win alike: the verdict of the whole note stays
    assert row.current.verdict == before.current.verdict
    assert row.current.techniques == before.current.techniques
    assert row.first == before.first


def test_a_decided_field_and_a_confirmed_row_stay(session: Session) -> None:
    session.set_slot(BY_ID["games"], {"games": ["stunt"]})
    rewording.put_right(session, *stunt(session), "twist,", reader)
    assert session.row is not None
    assert session.row.current.games == ["stunt"]
    session.undo()
    session.undo()
    assert session.row.current.games == ["T-E stunt"]
    row = session.row.id
    session.confirm()
    session.go(row)
    said = rewording.put_right(session, *stunt(session), "twist,", reader)
    assert said.endswith("The row stays as you confirmed it.")
    assert session.row.current.games == ["T-E stunt"]
    assert session.row.confirmed
    assert "twist," in [word.text for word in session.words]


def test_undo_brings_the_words_and_the_row_back(session: Session) -> None:
    rewording.put_right(session, *stunt(session), "twist,", reader)
    assert session.undo() == "Taken back: words put right."
    assert session.row is not None
    assert session.row.current.games == ["T-E stunt"]
    assert session.words[stunt(session)[0]].text == "T-E"
    session.redo()
    assert session.row.current.games == ["twist"]


def test_as_heard_again(session: Session) -> None:
    nobody = at(session, "Nobody")
    rewording.put_right(session, nobody, nobody + 1, "Somebody", reader)
    assert session.row is not None
    assert session.row.current.verdict == "loss"
    assert rewording.turn(session, nobody, reader).startswith("“Somebody” → “Nobody”.")
    assert session.words[nobody].heard is None
    assert session.row.current.verdict == "win"
    # a mend of the machine is refused as before
    assert rewording.turn(session, at(session, "stunt,"), reader) == "Left as heard: “East on,”."


def test_a_man_who_is_named_now_is_told_of_and_not_invented(session: Session) -> None:
    nobody = at(session, "Nobody")
    said = rewording.put_right(session, nobody, nobody + 1, "Nobody also 65", reader)
    # the stand-in sees the three words as one, as they share one place
    assert len(session.rows) == 10
    assert "65" not in [row.current.player for row in session.rows if row.by_hand]
    assert said.startswith("“Nobody” → “Nobody also 65”.")
    second = rewording.put_right(session, nobody + 1, nobody + 3, "also 65", reader)
    assert "65 named now: R, then a, gives him a row." in second


def test_the_same_words_change_nothing_and_none_are_refused(session: Session) -> None:
    before = session.revision
    assert (
        rewording.put_right(session, *stunt(session), " T-E  stunt, ", reader)
        == "The words stay as they are."
    )
    with pytest.raises(InputError, match="at least one word"):
        rewording.put_right(session, *stunt(session), " ", reader)
    assert session.revision == before


def test_words_of_no_rep_are_put_right_too(session: Session) -> None:
    inside = {i for rep in session.state.reps for a, b in rep.stretches for i in range(a, b)}
    free = next(i for i in range(len(session.words)) if i not in inside)
    old = session.words[free].text
    said = rewording.put_right(session, free, free + 1, "Righto", reader)
    assert said == f"“{old}” → “Righto”. Nothing else changed."
    assert session.words[free].heard == old


def test_what_another_window_changed_is_not_written_over(session: Session, library: store.Library) -> None:
    seen = session.revision
    other = Session(library, session.note_id)
    rewording.put_right(other, *stunt(other), "twist,", reader)
    with pytest.raises(store.Conflict):
        rewording.put_right(session, *stunt(session), "E-T stunt,", reader, seen)
    assert "twist," in [word.text for word in session.words]
