"""Words put right by the coach: what becomes of them, of the rows, of undo and of later readings."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewer import store
from reviewer.errors import InputError
from reviewer.records import Word
from reviewer.store import Library, NewNote, reworded
from reviewer.store.merge import merge
from tests.screens.evening import add_evening, context, reading

TEXT = st.lists(st.text("ab,", min_size=1, max_size=3), min_size=1, max_size=6)


def words(*texts: str) -> tuple[Word, ...]:
    return tuple(Word(text, place, place + 0.5, 0.7) for place, text in enumerate(texts))


def told(found: tuple[Word, ...]) -> list[tuple[str, str | None]]:
    return [(word.text, word.heard) for word in found]


def test_only_the_words_that_differ_are_changed_and_what_was_heard_stays_beside() -> None:
    found = reworded(words("they", "run", "a", "tea", "stunt"), 1, 5, "run a T-E stunt")
    assert told(found) == [("they", None), ("run", None), ("a", None), ("T-E", "tea"), ("stunt", None)]


def test_fewer_words_than_were_heard() -> None:
    found = reworded(words("he", "is", "lunch", "ing", "now"), 1, 4, "is lunging")
    assert told(found)[2:] == [("lunging", "lunch ing"), ("", ""), ("now", None)]


def test_more_words_than_were_heard() -> None:
    found = reworded(words("he", "Eastons", "now"), 1, 2, "sees a T-E stunt")
    assert told(found) == [("he", None), ("sees a T-E stunt", "Eastons"), ("now", None)]


def test_a_word_that_was_not_heard_goes_with_the_one_before() -> None:
    assert told(reworded(words("he", "overset", "there"), 0, 3, "he never overset there")) == [
        ("he never", "he"), ("overset", None), ("there", None),
    ]  # fmt: skip


def test_the_words_as_heard_again_are_no_correction() -> None:
    once = reworded(words("tea", "stunt"), 0, 2, "T-E stunts")
    assert told(reworded(once, 0, 2, "tea stunt")) == [("tea", None), ("stunt", None)]


@given(TEXT, TEXT, st.integers(0, 5), st.integers(1, 6))
def test_nothing_typed_is_lost_and_nothing_else_changes(
    old: list[str], new: list[str], first: int, size: int
) -> None:
    last = min(len(old), first + size)
    first = min(first, last - 1)
    before = words(*old)
    found = reworded(before, first, last, " ".join(new))
    assert len(found) == len(before)
    assert " ".join(w.text for w in found[first:last] if w.text).split() == new
    assert (found[:first], found[last:]) == (before[:first], before[last:])
    assert [(w.start, w.end) for w in found] == [(w.start, w.end) for w in before]


@pytest.fixture
def note(library: Library) -> int:
    return add_evening(library)


def place(library: Library, note: int, text: str) -> int:
    return next(i for i, word in enumerate(store.words_of(library, note)) if word.text == text)


def heard(library: Library, note: int, at: int) -> tuple[str, str | None]:
    word = store.words_of(library, note)[at]
    return word.text, word.heard


def test_the_words_and_the_rows_change_in_one_step_of_undo(library: Library, note: int) -> None:
    at = place(library, note, "Nobody")
    before = store.current_rows(library, note)
    row = before[2]
    assert row.machine is not None
    fresh = row.machine.model_copy(update={"verdict": "neutral", "faults": ["lunge"]})
    store.set_fields(library, row.id, {"faults": ["overset"]})
    done = store.reword(library, note, at, at + 1, "Somebody", {row.id: fresh})
    assert done.kind == "reword"
    assert heard(library, note, at) == ("Somebody", "Nobody")
    now = store.current_rows(library, note)
    # what the coach decided stands over what is read now
    assert (now[2].current.verdict, now[2].current.faults) == ("neutral", ["overset"])
    assert "verdict" not in now[2].corrected
    assert now[2].first == row.first
    assert [r.current for r in now if r.id != row.id] == [r.current for r in before if r.id != row.id]
    assert [hit.row for hit in store.search(library, store.SearchQuery(words="somebody"))] == [row.id]
    store.undo(library, note)
    assert heard(library, note, at) == ("Nobody", None)
    assert store.current_rows(library, note)[2].current.verdict == row.current.verdict
    store.redo(library, note)
    assert heard(library, note, at) == ("Somebody", "Nobody")
    assert not store.check(library)


def test_an_undone_correction_does_not_come_back_with_the_next_one(library: Library, note: int) -> None:
    at, other = place(library, note, "Nobody"), place(library, note, "First")
    row = store.current_rows(library, note)[2]
    assert row.machine is not None
    store.reword(library, note, at, at + 1, "All", {row.id: row.machine.model_copy(update={"set": "jump"})})
    store.undo(library, note)
    store.reword(library, note, other, other + 1, "Fourth", {})
    assert heard(library, note, at) == ("Nobody", None)
    assert store.current_rows(library, note)[2].current.set == row.current.set
    store.undo(library, note)
    # the same words again are the same reading
    kept = len(store.readings_of(library, note))
    store.reword(library, note, other, other + 1, "Fourth", {})
    assert len(store.readings_of(library, note)) == kept
    assert heard(library, note, other) == ("Fourth", "First")


def test_a_stretch_read_otherwise_than_heard_gives_way(library: Library, note: int) -> None:
    mend, _ = next((m, r) for m, r in store.mends_of(library, note) if m.heard == "East on,")
    store.refuse_mend(library, note, mend.heard, mend.read)
    store.reword(library, note, mend.first, mend.last, "E-T stunt,", {})
    assert heard(library, note, mend.first) == ("E-T", "East on,")
    assert mend.heard not in [m.heard for m, _ in store.mends_of(library, note)]
    store.undo(library, note)
    assert mend.heard in [m.heard for m, _ in store.mends_of(library, note)]


def new_note() -> NewNote:
    return NewNote("evening", "text", 200.0, context(), "Harrow Lake, first half")


def test_the_same_recording_read_again_leaves_the_words_put_right(library: Library) -> None:
    note = store.add_note(library, new_note(), reading())
    at = place(library, note, "Nobody")
    store.reword(library, note, at, at + 1, "Somebody", {})
    assert store.add_note(library, new_note(), reading()) == note
    assert heard(library, note, at) == ("Somebody", "Nobody")


def test_a_later_reading_takes_the_words_over(library: Library) -> None:
    note = store.add_note(library, new_note(), reading())
    at = place(library, note, "Nobody")
    store.reword(library, note, at, at + 1, "Somebody", {})
    later = reading()
    other = [replace(word, text="Not-a-body") if i == at else word for i, word in enumerate(later.words)]
    store.add_reading(library, note, replace(later, words=other))
    assert heard(library, note, at) == ("Somebody", "Not-a-body")
    store.add_reading(library, note, replace(later, words=other))
    assert len(store.readings_of(library, note)) == 3


def test_no_words_are_no_correction(library: Library, note: int) -> None:
    with pytest.raises(InputError, match="at least one word"):
        store.reword(library, note, 0, 1, "  ", {})
    with pytest.raises(InputError, match="not in the note"):
        store.reword(library, note, 5, 99_999, "x", {})
    assert len(store.readings_of(library, note)) == 1


def test_two_windows_that_change_the_words_are_told(library: Library, note: int) -> None:
    seen = store.revision_of(library, note)
    store.reword(library, note, 0, 1, "Once", {})
    with pytest.raises(store.Conflict):
        store.reword(library, note, 2, 3, "Twice", {}, seen=seen)
    assert [word.heard for word in store.words_of(library, note)[2:3]] == [None]


def test_words_put_right_come_along_when_another_library_is_merged(library: Library, note: int) -> None:
    at = place(library, note, "Nobody")
    with Library.memory() as other:
        theirs = add_evening(other)
        row = store.current_rows(other, theirs)[2]
        assert row.machine is not None
        fresh = row.machine.model_copy(update={"faults": ["lunge"]})
        store.reword(other, theirs, at, at + 1, "Somebody", {row.id: fresh})
        merge(library, other)
    assert heard(library, note, at) == ("Somebody", "Nobody")
    assert store.current_rows(library, note)[2].current.faults == ["lunge"]
    assert not store.check(library)
