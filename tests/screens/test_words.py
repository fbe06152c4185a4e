"""The words of a rep: a cursor, a choice, and what is done with them."""

from __future__ import annotations

from collections.abc import Sequence

from reviewer import store
from reviewer.records import NoteContext, Reading, Word
from reviewer.review.reps import Read
from reviewer.screens.prompt import PromptScreen
from reviewer.screens.review import ReviewApp
from reviewer.screens.words import LessonScreen, WordsScreen
from tests.review.test_reps import said
from tests.screens.test_room import SIZE, row_of, shown


def screen_of(app: ReviewApp) -> WordsScreen:
    assert isinstance(app.screen, WordsScreen)
    return app.screen


def put(app: ReviewApp, text: str) -> None:
    """Put the cursor on a word of the note."""
    screen = screen_of(app)
    screen.cursor.put(next(i for i, w in enumerate(app.session.words) if w.text == text))
    screen.draw()


def words_in(app: ReviewApp, rep: int) -> str:
    state = next(one for one in app.session.state.reps if one.number == rep)
    return " ".join(app.session.words[i].text for a, b in state.stretches for i in range(a, b))


async def test_the_cursor_shows_what_a_word_gave(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("tab")
        assert "gave down 3rd and 4" in shown(app, "gave")
        await pilot.press("right", "right", "right")
        assert "Nothing was read from it." in shown(app, "gave")
        await pilot.press("down", "up", "left")
        assert "“four.”" in shown(app, "gave")


async def test_enter_goes_to_the_field_that_a_word_gave(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("tab", "enter")
        assert app.screen is app.room
        assert app.session.slot_id == "situation"


async def test_a_rep_is_split_at_a_word_and_both_halves_are_read_anew(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        app.room._read = said
        await pilot.press("tab")
        put(app, "Nobody")
        await pilot.press("s")
        assert words_in(app, 4).startswith("Nobody gets home. Good job")
        assert row_of(app).current.rep == 4
        assert row_of(app).current.verdict == "win"
        first = next(row for row in app.session.rows if row.current.rep == 3)
        assert first.current.verdict == "loss"
        await pilot.press("u")
        assert len(app.session.rows) == 10


async def test_words_go_to_the_rep_before_and_the_next(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("tab")
        put(app, "Let")
        await pilot.press("right_square_bracket")
        assert words_in(app, 4).startswith("Let me say this about stunts")
        put(app, "four.")
        await pilot.press("left_square_bracket")
        assert words_in(app, 2).endswith("Third and four.")
        assert words_in(app, 3).startswith("They run")


async def test_chosen_words_are_left_out_and_made_a_rep(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("tab")
        put(app, "Let")
        await pilot.press(*["shift+right"] * 5, "d")
        assert "Let me say" not in words_in(app, 3)
        assert screen_of(app).said == "6 words left out of the reps."
        put(app, "Let")
        await pilot.press(*["shift+right"] * 5, "a")
        assert row_of(app).by_hand
        assert words_in(app, row_of(app).current.rep) == "Let me say this about stunts,"


async def test_words_of_no_rep_are_taken_in(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        app.session.go(app.session.rows[0].id)
        await pilot.press("tab")
        put(app, "see")
        await pilot.press("shift+right", "shift+left", "t")
        assert "see" in words_in(app, 1)


async def test_a_mend_is_refused_and_learning_offered(app: ReviewApp, library: store.Library) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("tab")
        put(app, "T-E")
        assert "heard “East on,”, read “T-E stunt,”" in shown(app, "gave")
        await pilot.press("x")
        assert screen_of(app).said == "Left as heard: “East on,”.  l: leave it so in every note"
        await pilot.press("l")
        assert isinstance(app.screen, LessonScreen)
        await pilot.press("enter")
        assert screen_of(app).said.startswith("Learned: “east on” is as heard.")
    assert [(one.kind, one.form) for one in store.learned(library)] == [("habit", "east on")]


async def test_the_next_row_and_back(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("tab", "pagedown")
        assert row_of(app).current.rep == 4
        await pilot.press("pageup", "pageup")
        assert row_of(app).current.rep == 2
        await pilot.press("escape")
        assert app.screen is app.room


async def test_what_cannot_be_done_is_said_and_nothing_is_lost(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("tab", "s")
        assert "Put the cursor on the word that begins the new rep" in screen_of(app).said
        await pilot.press("x")
        assert screen_of(app).said == "Nothing was read otherwise than heard here."
        await pilot.press("h")
        assert "there is no recording to hear" in screen_of(app).said
        assert len(app.session.rows) == 10


async def test_help_on_the_words(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("tab", "question_mark")
        assert "Split: a new rep begins at this word" in shown(app, "items")
        await pilot.press("escape", "U")
        assert screen_of(app).said == "Nothing to redo."


async def test_words_are_typed_as_they_were_said(app: ReviewApp, library: store.Library) -> None:
    app.room._read = lambda words, context: Reading(words)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("tab")
        put(app, "stunt,")
        await pilot.press("e")
        assert isinstance(app.screen, PromptScreen)
        # the whole stretch that was read otherwise than heard, with what was heard
        assert app.screen.typing.text == "T-E stunt,"
        assert app.screen.meaning == "heard: “East on,”"
        await pilot.press("ctrl+u", *"twist", "enter")
        assert screen_of(app).said == (
            "“T-E stunt,” → “twist”. Nothing else changed.  l: read it so in every note"
        )
        assert "heard “East on,”, put right by you: “twist”" in shown(app, "gave")
        await pilot.press("l")
        assert "Read “East on,” as these words in every note" in shown(app, "gave")
        await pilot.press("escape", "u")
        assert screen_of(app).said == "Taken back: words put right."
        assert "read “T-E stunt,”" in shown(app, "gave")
        await pilot.press("e", "escape")
        assert screen_of(app).said != "The words stay as they are."
    assert "stunt," in [word.text for word in store.words_of(library, app.session.note_id)]


async def test_nothing_typed_leaves_the_words(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("tab")
        put(app, "Nobody")
        await pilot.press("e", "ctrl+u", "enter")
        assert "at least one word" in screen_of(app).said
        assert "Nobody" in words_in(app, 3)


async def test_typed_words_can_be_set_back_to_those_heard(app: ReviewApp) -> None:
    app.room._read = lambda words, context: Reading(words)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("tab")
        put(app, "Nobody")
        await pilot.press("e", "ctrl+u", *"Everybody", "enter")
        assert "Everybody" in words_in(app, 3)
        await pilot.press("x")
        assert "Nobody" in words_in(app, 3)


async def test_what_reads_words_is_loaded_while_he_types(library: store.Library, note: int) -> None:
    app = ReviewApp(library, note, ahead=True)
    read: list[str] = []

    def reader() -> Read:
        def one(words: Sequence[Word], context: NoteContext) -> Reading:
            read.append(words[0].text)
            return Reading(words)

        return one

    app.room.reader = reader  # type: ignore[method-assign]
    async with app.run_test(size=SIZE) as pilot:
        assert read == []
        await pilot.press("tab")
        await app.workers.wait_for_complete()
        assert read == ["first"]
