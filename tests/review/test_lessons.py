"""Learned from a correction: kept with its origin, used from the next reading on, unlearned again."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from reviewer import paths, store
from reviewer.errors import InputError
from reviewer.language.read import Reader
from reviewer.language.tokens import words_from_text
from reviewer.records import NoteContext, Reading, RosterEntry, Word
from reviewer.review import lessons, reps, rewording
from reviewer.review.session import Session
from reviewer.review.slots import BY_ID
from tests.review.habit import fixes_by_note


def word(session: Session, text: str) -> int:
    return next(i for i, w in enumerate(session.words) if w.text == text)


def teach(session: Session, slot: str, values: dict[str, object], first: str, count: int) -> str:
    session.set_slot(BY_ID[slot], values)
    meaning = lessons.meaning_of_fix(session)
    assert meaning is not None
    at = word(session, first)
    return lessons.teach(session, meaning, at, at + count)


def read_next(text: str, **known: object) -> store.NoteState | list[object]:
    context = NoteContext(player="71", position="RT", **known)  # type: ignore[arg-type]
    return list(Reader.load().read(words_from_text(text), context).rows)


def test_a_term_is_read_by_his_own_words_in_the_next_note(session: Session) -> None:
    said = teach(session, "techniques", {"techniques": ["pass off", "processing", "anchor"]}, "Nobody", 3)
    assert said.startswith("Learned: “nobody gets home” is anchor (techniques).")
    rows = read_next("First and ten, drop back. He sits there and nobody gets home. That's a win.")
    assert "anchor" in rows[0].techniques  # type: ignore[index, union-attr]


def test_a_lesson_is_kept_with_where_it_came_from(session: Session, library: store.Library) -> None:
    teach(session, "faults", {"faults": ["lunge"]}, "Nobody", 3)
    (kept,) = store.learned(library)
    assert (kept.kind, kept.term, kept.form) == ("form", "lunge", "nobody gets home")
    assert (kept.note, kept.row) == (session.note_id, session.row_id)
    (term,) = tomllib.loads(paths.user_vocabulary().read_text("utf-8"))["term"]
    assert term["group"] == "faults"
    assert term["from"] == "Harrow Lake, first half, 0:45"


def test_a_lesson_cut_off_before_it_was_listed_can_be_taught_again(
    session: Session, library: store.Library
) -> None:
    """A crash between the vocabulary file and the grade book: the words are in the file only."""
    teach(session, "faults", {"faults": ["lunge"]}, "Nobody", 3)
    (kept,) = store.learned(library)
    store.forget(library, kept.id)
    session.forget_vocabulary()
    assert "nobody gets home" in session.vocabulary.find("lunge", "faults").forms  # type: ignore[union-attr]
    at = word(session, "Nobody")
    meaning = lessons.Meaning("faults", "lunge", "form", "lunge")
    assert lessons.teach(session, meaning, at, at + 3).startswith("Learned: ")
    assert [(one.term, one.form) for one in store.learned(library)] == [("lunge", "nobody gets home")]
    assert paths.user_vocabulary().read_text("utf-8").count("nobody gets home") == 1


def test_a_verdict_and_a_mark_can_be_taught(session: Session) -> None:
    teach(session, "verdict", {"verdict": "loss"}, "Nobody", 3)
    teach(session, "finish", {"finish": "-"}, "Jumping", 2)
    groups = [t["group"] for t in tomllib.loads(paths.user_vocabulary().read_text("utf-8"))["term"]]
    assert groups == ["verdict", "mark.finish"]


def test_his_name_for_a_man_is_read_as_the_man(session: Session) -> None:
    said = teach(session, "opponents", {"opponents": ["94", "97"]}, "Nobody", 1)
    assert said.startswith("Learned: “nobody” is 97 Rune Calloway.")
    (term,) = tomllib.loads(paths.user_vocabulary().read_text("utf-8"))["term"]
    assert (term["id"], term["mishearings"]) == ("Calloway", ["nobody"])
    roster = (RosterEntry("97", "Rune Calloway", "NT", "opp"),)
    rows = read_next(
        "First and ten, inside zone. He reaches nobody and seals him. That's a win.", roster=roster
    )
    assert rows[0].opponents == ["97"]  # type: ignore[index, union-attr]
    # next week's roster has no such man: his name gives no number
    other = (RosterEntry("90", "Kip Raglan", "DE", "opp"),)
    rows = read_next(
        "First and ten, inside zone. He reaches nobody and seals him. That's a win.", roster=other
    )
    assert rows[0].opponents == []  # type: ignore[index, union-attr]


def test_a_refused_mend_is_left_as_heard_in_every_note(session: Session) -> None:
    from reviewer.language.taught import left_as_heard
    from reviewer.language.vocabulary import load_vocabulary

    at = word(session, "T-E")
    reps.turn_mend(session, at)
    meaning = lessons.meaning_of_heard(session, at)
    assert meaning is not None
    lessons.teach(session, meaning, meaning.first, meaning.last)
    words = [Word(text, i, i + 0.5) for i, text in enumerate(["They", "run", "East", "on,", "again"])]
    assert left_as_heard(words, load_vocabulary()) == {2, 3}


def test_a_lesson_is_unlearned_in_both_places(session: Session, library: store.Library) -> None:
    teach(session, "faults", {"faults": ["lunge"]}, "Nobody", 3)
    (kept,) = store.learned(library)
    lessons.forget_lesson(library, kept.id)
    assert store.learned(library) == []
    assert paths.user_vocabulary().read_text("utf-8") == ""
    with pytest.raises(InputError, match=f"Nothing learned has the number {kept.id}"):
        lessons.forget_lesson(library, kept.id)


def test_words_that_say_nothing_in_particular_are_not_learned(
    session: Session, library: store.Library
) -> None:
    session.set_slot(BY_ID["faults"], {"faults": ["lunge"]})
    meaning = lessons.meaning_of_fix(session)
    assert meaning is not None
    he = next(i for i, w in enumerate(session.words) if w.text == "He")
    for first, last, why in (
        (he, he + 1, "nothing in particular"),
        (he, he, "Choose the words"),
        (he, he + 30, "at most 8"),
    ):
        with pytest.raises(InputError, match=why):
            lessons.teach(session, meaning, first, last)
    assert store.learned(library) == []
    assert not paths.user_vocabulary().exists()


def test_a_file_that_cannot_be_written_leaves_nothing_half_learned(
    session: Session, library: store.Library
) -> None:
    paths.user_vocabulary().mkdir(parents=True)
    session.set_slot(BY_ID["faults"], {"faults": ["lunge"]})
    meaning = lessons.meaning_of_fix(session)
    assert meaning is not None
    at = word(session, "Nobody")
    with pytest.raises(InputError):
        lessons.teach(session, meaning, at, at + 3)
    assert store.learned(library) == []


SAID = ("puts", "his", "ninety-four", "in", "the", "barn")


def test_possessives_men_and_numbers_may_change_in_what_was_learned() -> None:
    words = [Word(text, i, i + 0.5) for i, text in enumerate(SAID)]
    assert lessons.form_of(words) == "puts <poss> <num> in <poss> barn"


def test_what_a_replaced_value_was_read_from_is_the_first_guess(session: Session) -> None:
    session.set_slot(BY_ID["games"], {"games": ["twist"]})
    meaning = lessons.meaning_of_fix(session)
    assert meaning is not None
    assert session.words[meaning.first].text == "T-E"


def test_nothing_is_offered_where_nothing_can_be_learned(session: Session) -> None:
    session.set_slot(BY_ID["situation"], {"down": 2, "distance": 5})
    assert lessons.meaning_of_fix(session) is None
    session.set_slot(BY_ID["techniques"], {"techniques": []})
    assert lessons.meaning_of_fix(session) is None
    session.confirm()
    assert lessons.meaning_of_fix(session) is None


def test_the_fixes_of_a_speaker_with_a_habit_fall_from_note_to_note(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(paths.HOME_VARIABLE, str(tmp_path))
    learned = fixes_by_note(tmp_path / "learned", learn=True)
    plain = fixes_by_note(tmp_path / "plain", learn=False)
    assert learned[0] == plain[0]
    assert learned[2] < learned[0] / 2
    assert learned[2] < plain[2] / 2


def test_words_put_right_are_read_so_in_the_next_note(session: Session, library: store.Library) -> None:
    nobody = next(i for i, word in enumerate(session.words) if word.text == "Nobody")
    rewording.put_right(
        session, nobody, nobody + 3, "He gets pancaked.", lambda words, context: Reading(words)
    )
    assert lessons.meaning_of_heard(session, nobody + 5) is None
    meaning = lessons.meaning_of_heard(session, nobody + 1)
    assert meaning is not None
    assert (meaning.heard, meaning.id) == ("Nobody gets home.", "He gets pancaked")
    said = lessons.teach(session, meaning, meaning.first, meaning.last)
    assert said.startswith("Learned: “nobody gets home” is “He gets pancaked”.")
    assert [(one.kind, one.form) for one in store.learned(library)] == [("mishearing", "nobody gets home")]
    words = words_from_text("First and ten. Nobody gets home. Good.")
    reading = Reader.load().read(words, NoteContext(player="71"))
    assert "He gets pancaked." in " ".join(word.text for word in reading.words)
