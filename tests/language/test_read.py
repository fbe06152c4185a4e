"""Reading talk as a coach would: scope, people, and the shape of a note."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reviewer.language.read import Reader
from reviewer.language.tokens import words_from_text
from reviewer.records import GradeRow, NoteContext, Reading, RosterEntry, Word
from tests.annotated import load_part

ROSTER = (
    RosterEntry("76", "Teo Brandvold", "RT", "own"),
    RosterEntry("66", "Ansel Dorsey", "RG", "own"),
    RosterEntry("12", "Pike Overlund", "QB", "own"),
    RosterEntry("94", "Gus Roke", "DE", "opp"),
    RosterEntry("97", "Ivo Kessel", "DT", "opp"),
    RosterEntry("95", "Tam Aldous", "DE", "opp"),
)
CONTEXT = NoteContext(player="76", position="RT", opponent="Marlow Ridge", roster=ROSTER)
LINE = dataclasses.replace(CONTEXT, player=None, position=None)
TOLD = "Next play. Second and eight, dropback, ninety-four is over him. "


@pytest.fixture(scope="module")
def reader() -> Reader:
    return Reader.load()


def rows(reader: Reader, text: str, context: NoteContext = CONTEXT) -> list[GradeRow]:
    return list(reader.read(words_from_text(text), context).rows)


def only(reader: Reader, text: str) -> GradeRow:
    (row,) = rows(reader, text)
    return row


@pytest.mark.parametrize(
    ("said", "verdict"),
    [
        ("He stones him, great rep.", "win"),
        ("He doesn't get off balance, he stays in front of him. That's a win.", "win"),
        ("Good start, but he gets beat inside. Loss.", "loss"),
        ("The play doesn't hit, but he does a solid job.", "win"),
        ("They say he is slow, I could not disagree more. He handles him. Win.", "win"),
        ("He gets walked back into the quarterback. Not good enough.", "loss"),
        ("Call it a wash, neither one wins.", "neutral"),
        ("Plus.", "win"),
        ("That's a minus.", "loss"),
    ],
)
def test_verdicts(reader: Reader, said: str, verdict: str) -> None:
    assert only(reader, TOLD + said).verdict == verdict


def test_who_does_what_to_whom(reader: Reader) -> None:
    beaten = only(reader, TOLD + "He swims inside and beats him. Pressure. That's a loss.")
    assert beaten.moves == ["swim"] and beaten.verdict == "loss"
    assert beaten.opponents == ["94"]


def test_a_denied_or_wished_deed_is_none(reader: Reader) -> None:
    row = only(reader, TOLD + "He should have climbed to the linebacker. He never punches. That's a minus.")
    assert "climb" not in row.techniques and "punch" not in row.techniques


def test_the_situation_is_told_apart(reader: Reader) -> None:
    row = only(reader, "Play twelve. Third and six, dropback, ninety-four in a wide nine, gain of four. Win.")
    assert (row.down, row.distance, row.alignment, row.opponents) == (3, 6, "wide 9", ["94"])


def test_a_second_angle_is_the_same_rep_and_a_remark_back_makes_no_row(reader: Reader) -> None:
    text = (
        "First and ten, inside zone, ninety-four in a five technique. He reaches him. Win.\n\n"
        "Run it back from the end zone. His pads are low.\n\n"
        "Second and four, screen. He releases and cuts ninety-seven. Win.\n\n"
        "Third and long, dropback. Ninety-five bull rushes him and walks him back. Loss.\n\n"
        "Go back to that screen for a second. That is how you get out in space."
    )
    found = rows(reader, text)
    assert [r.verdict for r in found] == ["win", "win", "loss"]
    assert [r.concepts for r in found] == [["inside zone"], ["screen"], ["dropback"]]
    assert "pad level" in found[0].techniques


def test_two_men_graded_in_one_rep(reader: Reader) -> None:
    text = (
        "First and ten, dropback. Brandvold vertical sets ninety-four and mirrors him. Plus. "
        "Dorsey lunges at ninety-seven and gets beat by the swim. Minus."
    )
    found = rows(reader, text, LINE)
    assert [(r.player, r.position, r.verdict, r.opponents) for r in found] == [
        ("76", "RT", "win", ["94"]), ("66", "RG", "loss", ["97"]),
    ]  # fmt: skip
    assert found[0].set == "vertical" and found[1].set is None


def test_every_filled_field_has_its_words(reader: Reader) -> None:
    row = only(
        reader, TOLD + "He takes a vertical set. Ninety-four tries the spin. He mirrors him. That's a win."
    )
    for name in (
        "down",
        "distance",
        "phase",
        "concepts",
        "set",
        "moves",
        "techniques",
        "opponents",
        "verdict",
    ):
        assert row.evidence[name], name
        assert all(e.start <= e.end and e.read for e in row.evidence[name])


def test_head_contact_is_flagged(reader: Reader) -> None:
    row = only(reader, TOLD + "He hits him with the crown of the helmet. Minus.")
    assert "head contact" in row.safety


def test_numbering_tells_sides_without_a_roster(reader: Reader) -> None:
    """NFL Rule 5-1-2 and NCAA 1-4-1 (quoted): 90-99 is never an offensive lineman."""
    row = rows(reader, TOLD + "Win.", NoteContext(player="76", position="RT"))[0]
    assert row.opponents == ["94"] and row.player == "76"


words = st.lists(
    st.tuples(
        st.one_of(
            st.sampled_from(
                [
                    "second",
                    "and",
                    "eight",
                    "ninety-four,",
                    "win.",
                    "No,",
                    "scratch",
                    "that",
                    "the",
                    "tackle",
                    "Dorsey's",
                    "T-E",
                    "stunt",
                    "94",
                    "3rd.",
                    "he",
                    "they've",
                    "minus",
                    "plus.",
                    "next",
                    "rep",
                    "run",
                    "it",
                    "back",
                    "go",
                    "--",
                    "...",
                    "?!",
                    "forty-five",
                    "degree",
                    "double",
                    "oh",
                    "a",
                    "hundred",
                ]
            ),
            st.text(max_size=12),
        ),
        st.floats(min_value=-1, max_value=3, allow_nan=False),
    ),
    max_size=60,
)


@settings(max_examples=150, deadline=None)
@given(said=words)
def test_any_words_give_rows_or_none(said: list[tuple[str, float]]) -> None:
    at = 0.0
    spoken = []
    for text, gap in said:
        at += max(0.0, gap)
        spoken.append(Word(text, at, at + 0.3))
        at += 0.3
    for context in (CONTEXT, LINE, NoteContext()):
        reading = _reader().read(spoken, context)
        assert {r.rep for r in reading.rows} <= {r.index for r in reading.reps}


_made: list[Reader] = []


def _reader() -> Reader:
    if not _made:
        _made.append(Reader.load())
    return _made[0]


DIGRESSIONS = (
    "You know, my grandfather used to say that you plant corn when the oak leaves are big enough.",
    "Hold on, somebody is at the door. Okay. Sorry about that.",
    "By the way, the coffee here is terrible. Somebody see to that before next week.",
    "I had a kid years ago who never missed a single day. That is the kind of person you remember.",
)


def values(reading: Reading) -> list[dict[str, Any]]:
    left_out = {"rep", "start", "end", "confidence", "evidence"}
    return [r.model_dump(exclude=left_out) for r in reading.rows]


def with_talk(spoken: tuple[Word, ...], at: int, talk: str) -> list[Word]:
    """The words with other talk put in before word `at`, a pause on each side."""
    begin = spoken[at - 1].end + 1.1
    aside = [dataclasses.replace(w, start=w.start + begin, end=w.end + begin) for w in words_from_text(talk)]
    shift = aside[-1].end + 1.1 - spoken[at].start
    return [
        *spoken[:at],
        *aside,
        *(dataclasses.replace(w, start=w.start + shift, end=w.end + shift) for w in spoken[at:]),
    ]


NOTES = load_part("dev")


@settings(max_examples=60, deadline=None, derandomize=True)
@given(data=st.data())
def test_a_digression_changes_no_other_rep(data: st.DataObject) -> None:
    note = data.draw(st.sampled_from(NOTES))
    new_rep = [
        first
        for k, (rep, first, _) in enumerate(note.blocks)
        if k and rep is not None and rep != note.blocks[k - 1][0]
    ]
    at = data.draw(st.sampled_from(new_rep))
    talk = data.draw(st.sampled_from(DIGRESSIONS))
    before = values(_reader().read(note.words, note.context))
    after = values(_reader().read(with_talk(note.words, at, talk), note.context))
    assert after == before, f"{note.slug} at word {at}: {talk}"
