"""The words of a rep: marked field by field, heard beside read, wrapped to the width."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from reviewer.review import passage
from reviewer.review.canvas import width_of
from reviewer.review.passage import Shown
from reviewer.review.session import Session


def shown_for(session: Session, rep: int) -> list[Shown]:
    row = next(row for row in session.rows if row.current.rep == rep)
    return passage.passage(session.words, session.state, row.rep_id, row.current, session.mends)


def text_of(lines: list[passage.Line]) -> str:
    return "\n".join("".join(span.text for span in line) for line in lines)


def test_what_was_read_is_marked_with_the_keys_of_its_fields(session: Session) -> None:
    text = text_of(passage.lay_out(shown_for(session, 3), 200))
    assert "[d Third and four.]" in text
    assert "[o ninety-four] and [o ninety-one.]" in text


def test_heard_and_read_are_both_shown(session: Session) -> None:
    assert "[g T-E stunt, ‹East on,›]" in text_of(passage.lay_out(shown_for(session, 3), 200))


def test_the_cursor_on_a_field_lights_its_words(session: Session) -> None:
    shown = shown_for(session, 3)
    lit = passage.lit_words(shown, "games")
    text = text_of(passage.lay_out(shown, 200, lit, "games"))
    assert "▸T-E stunt, ‹East on,›◂" in text
    assert "[d Third" in text


def test_a_word_tells_what_it_gave(session: Session) -> None:
    shown = shown_for(session, 3)
    word = next(word for word in shown if word.text == "Third")
    assert passage.gave(shown, word.index) == ["situation"]


def test_talk_of_no_rep_stands_apart_before_the_rep(session: Session) -> None:
    shown = shown_for(session, 1)
    before = [word.text for word in shown if word.part == "before"]
    assert before[:2] == ["Okay,", "Harrow"]
    first = next(word for word in shown if word.part == "rep")
    assert first.turn
    lines = passage.lay_out(shown, 60)
    begin = passage.line_of(lines, frozenset({first.index}))
    assert begin is not None
    assert all(span.tag is None or span.tag[1] >= first.index for span in lines[begin])


def test_a_refused_mend_is_shown_as_heard_only(session: Session) -> None:
    from reviewer.review import reps

    word = next(word for word in shown_for(session, 3) if word.heard)
    reps.turn_mend(session, word.index)
    text = text_of(passage.lay_out(shown_for(session, 3), 200))
    assert "East on," in text
    assert "‹" not in text
    reps.turn_mend(session, word.index)
    assert "‹East on,›" in text_of(passage.lay_out(shown_for(session, 3), 200))


def test_words_of_a_note_cannot_act_on_the_terminal(session: Session) -> None:
    from reviewer.records import Word

    words = [Word("\x1b[2Jsaid", w.start, w.end) for w in session.words]
    row = session.rows[2]
    shown = passage.passage(words, session.state, row.rep_id, row.current)
    assert "\x1b" not in text_of(passage.lay_out(shown, 80))


WORDS = st.lists(st.text(st.sampled_from("ab ﷽漢́-"), max_size=30), max_size=30)


@given(WORDS, st.integers(8, 60))
def test_no_line_is_wider_than_asked_and_no_word_is_lost(texts: list[str], width: int) -> None:
    shown = [Shown(i, text.strip() or "x", None, frozenset(), "rep") for i, text in enumerate(texts)]
    lines = passage.lay_out(shown, width, frozenset({1, 2}), "verdict")
    assert all(width_of(line) <= width for line in lines)
    tagged = {span.tag[1] for line in lines for span in line if span.tag}
    assert tagged == {word.index for word in shown}


def test_the_word_that_is_spoken_at_a_moment(session: Session) -> None:
    words = session.words
    assert passage.word_at(words, words[5].start) == 5
    assert passage.word_at(words, (words[5].end + words[6].start) / 2) == 5
    assert passage.word_at(words, words[0].start - 1) is None
    assert passage.word_at(words, words[-1].end + 60) == len(words) - 1
