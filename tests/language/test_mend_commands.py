"""Spoken commands: heard as such, never taken from talk by mistake."""

from __future__ import annotations

from pathlib import Path

import pytest

from reviewer.language.analysis import analyse
from reviewer.language.read import Reader
from reviewer.language.tokens import words_from_text
from tests.annotated import load_part
from tests.plain_talk import plain_words
from tests.talk import CONTEXT


@pytest.fixture(scope="module")
def reader() -> Reader:
    return Reader.load(Path("none of one's own"))


def commands(reader: Reader, text: str) -> list[str]:
    found = analyse(words_from_text(text), CONTEXT, reader.tagger)
    return [span.id for span in found.spans if span.group == "command"]


@pytest.mark.parametrize("command", ["new rep", "same rep", "scratch that", "mark it"])
def test_each_command_is_heard_in_the_midst_of_talk(reader: Reader, command: str) -> None:
    text = f"He reaches him and seals the edge. {command.capitalize()}. Second and three, play action."
    assert commands(reader, text) == [command]


@pytest.mark.parametrize(
    "text", ["I mark that down myself.", "Every new rep he is better.", "He had to mark it up."]
)
def test_talk_about_it_is_no_command(reader: Reader, text: str) -> None:
    assert commands(reader, text) == []


def test_mark_it_is_a_mark_of_the_note_at_its_place(reader: Reader) -> None:
    words = words_from_text("First and ten, he seals the edge. Mark it. Next play, second and three.")
    (mark,) = reader.read(words, CONTEXT).remarks["marks"]
    said = next(word for word in words if word.text == "Mark")
    assert (mark["start"], mark["heard"]) == (said.start, "Mark it.")


def test_no_new_rep_or_same_rep_is_taken_from_talk(reader: Reader) -> None:
    talks = [(note.words, note.context) for note in load_part("dev")[::4]] + [(plain_words(), CONTEXT)]
    for words, context in talks:
        found = analyse(words, context, reader.tagger).spans
        taken = [span.id for span in found if span.group == "command"]
        assert not {"new rep", "same rep", "mark it"} & set(taken)


def test_ordinary_talk_holds_no_command(reader: Reader) -> None:
    assert not [s for s in analyse(plain_words(), CONTEXT, reader.tagger).spans if s.group == "command"]
