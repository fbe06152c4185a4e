"""The room: each key does what it says, and it is saved at once."""

from __future__ import annotations

from typing import Any

import pytest
from textual import events
from textual.pilot import Pilot

from reviewer import paths, store
from reviewer.errors import InputError, SoundError
from reviewer.review import actions, hearing
from reviewer.screens.lines import Lines
from reviewer.screens.menu import MenuScreen, PageScreen
from reviewer.screens.pick import PickScreen
from reviewer.screens.prompt import PromptScreen
from reviewer.screens.review import ReviewApp, chosen_note, run_review
from reviewer.screens.room import Room
from reviewer.screens.words import LessonScreen, WordsScreen
from tests.screens.evening import add_evening

SIZE = (80, 24)


def row_of(app: ReviewApp) -> store.StoredRow:
    row = app.session.row
    assert row is not None
    return row


def stored(app: ReviewApp, row: int) -> store.StoredRow:
    return next(r for r in store.current_rows(app.library, app.session.note_id) if r.id == row)


def message(app: ReviewApp) -> str:
    return app.room.said


def shown(app: ReviewApp, pane: str) -> str:
    lines = app.screen.query_one(f"#{pane}", Lines).drawn
    return "\n".join("".join(span.text for span in line) for line in lines)


async def press(app: ReviewApp, *keys: str, size: tuple[int, int] = SIZE) -> None:
    async with app.run_test(size=size) as pilot:
        await pilot.press(*keys)


@pytest.mark.parametrize(
    ("screen", "table"),
    [
        (Room, actions.ROOM),
        (Room, actions.REP_MENU),
        (WordsScreen, actions.ON_WORDS),
        (LessonScreen, actions.ON_LESSON),
    ],
)
def test_every_key_that_is_shown_does_something(screen: type, table: tuple[actions.Action, ...]) -> None:
    assert all(callable(getattr(screen, f"do_{action.id}", None)) for action in table)


async def test_space_confirms_and_goes_to_the_next_doubtful_row(app: ReviewApp) -> None:
    first = row_of(app).id
    await press(app, "space")
    assert row_of(app).id != first
    assert stored(app, first).confirmed
    assert message(app) == "Row 3 confirmed."


async def test_minus_opens_a_confirmed_row_again(app: ReviewApp) -> None:
    first = row_of(app).id
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("space")
        app.session.go(first)
        await pilot.press("minus")
        assert not stored(app, first).confirmed


async def test_single_keys_fix_verdict_and_marks(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("l", "2", "2", "3")
        row = stored(app, row_of(app).id).current
        assert (row.verdict, row.technique, row.finish) == ("loss", "-", "+")
        await pilot.press("n")
        assert row_of(app).current.verdict == "neutral"
        await pilot.press("w")
        assert row_of(app).current.verdict == "win"


async def test_undo_and_redo(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("l", "2", "u", "u")
        assert row_of(app).corrected == frozenset()
        await pilot.press("u")
        assert message(app) == "Nothing to undo."
        await pilot.press("U", "ctrl+y")
        assert row_of(app).corrected == {"verdict", "technique"}
        await pilot.press("ctrl+z")
        assert row_of(app).corrected == {"verdict"}


async def test_a_term_is_added_by_typing_and_taken_out_by_the_same_keys(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("f", "l", "u", "enter")
        assert stored(app, row_of(app).id).current.faults == ["lunge"]
        await pilot.press("f", "enter")
        assert row_of(app).current.faults == []


async def test_several_terms_in_one_list(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("f", "l", "u", "tab", "w", "h", "i", "enter")
        assert row_of(app).current.faults == ["lunge", "whiff"]
        await pilot.press("f", "delete", "escape")
        assert row_of(app).current.faults == ["whiff"]
        assert app.screen is app.room


async def test_a_number_takes_itself_in_the_place_of_another(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("O", "tab", "9", "5")
        assert row_of(app).current.opponents == ["95", "91"]
        await pilot.press("o", "9", "7", "o", "9", "5")
        assert row_of(app).current.opponents == ["91", "97"]


async def test_a_man_is_picked_by_name(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("p", "r", "e", "n", "enter")
        assert (row_of(app).current.player, row_of(app).current.position) == ("64", "RG")


async def test_down_and_distance_are_typed(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("d", "2", "g", "enter")
        row = row_of(app).current
        assert (row.down, row.distance, row.goal_to_go) == (2, None, True)
        await pilot.press("d", "7", "enter")
        assert isinstance(app.screen, PromptScreen)
        assert app.screen.bad
        assert row_of(app).current.down == 2
        await pilot.press("escape")
        assert app.screen is app.room


async def test_enter_fixes_the_field_under_the_cursor_and_del_empties_it(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        app.session.slot_id = "games"
        await pilot.press("enter")
        assert isinstance(app.screen, PickScreen)
        await pilot.press("escape", "delete")
        assert row_of(app).current.games == []


async def test_run_or_pass_and_side_go_round(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("k", "b", "b")
        assert (row_of(app).current.phase, row_of(app).current.side) == (None, "backside")


async def test_the_cursor_moves_over_all_fields(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        app.session.slot_id = "player"
        await pilot.press("up")
        assert app.session.slot_id == "labels"
        await pilot.press("down", "down", "right")
        assert app.session.slot_id == "assignment"
        await pilot.press("left", "left")
        assert app.session.slot_id == "position"


async def test_rows_forward_and_back_and_to_the_most_doubtful(app: ReviewApp) -> None:
    start = row_of(app).id
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("pagedown", "full_stop", "pageup")
        assert app.session.number(row_of(app).id) == 4
        await pilot.press("comma", "comma", "comma", "comma")
        assert message(app) == "This is the first row."
        await pilot.press("j")
        assert row_of(app).id == start


async def test_a_row_is_chosen_from_the_list(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("G")
        assert isinstance(app.screen, MenuScreen)
        await pilot.press("down", "down", "enter")
        assert app.session.number(row_of(app).id) == 5


async def test_a_note_of_the_coach_on_a_row(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("semicolon", *"eyes", "enter")
        assert stored(app, row_of(app).id).comment == "eyes"
        assert "your note: eyes" in shown(app, "detail")
        await pilot.press("semicolon", "x", "escape")
        assert row_of(app).comment == "eyes"


async def test_all_rows_above_a_confidence_with_the_count_before(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("A")
        assert "Rows at least 85 % sure: 6 of 10 left" in shown(app, "head")
        await pilot.press("up", "left")
        assert "Rows at least 89 % sure: 4 of 10 left" in shown(app, "head")
        await pilot.press("enter")
        assert app.session.progress.left == 6
        await pilot.press("u")
        assert app.session.progress.left == 10
        await pilot.press("A")
        assert "89 %" in shown(app, "head")
        await pilot.press("escape")
        assert app.session.progress.left == 10


async def test_the_first_reading_is_shown_and_restored(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("l", "2", "F")
        assert "verdict: + win" in shown(app, "items")
        await pilot.press("enter")
        assert row_of(app).corrected == {"technique"}
        await pilot.press("F", "R")
        assert row_of(app).corrected == frozenset()


async def test_definitions_are_one_key_away(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("D")
        assert "Two blockers exchange stunting rushers" in shown(app, "text")
        await pilot.press("escape")
        assert app.screen is app.room


async def test_sheet_and_opponent_are_one_key_away(app: ReviewApp) -> None:
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.press("S")
        assert "71 Odell Marsk" in shown(app, "text")
        await pilot.press("pagedown", "up", "end", "home", "q", "V")
        assert isinstance(app.screen, PageScreen)
        assert "Silas Umber" in shown(app, "text")


async def test_rep_menu_merges_removes_brings_back_and_adds(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("R", "m")
        assert len(app.session.rows) == 9
        await pilot.press("u", "R", "d")
        assert len(app.session.rows) == 9
        await pilot.press("R", "b", "enter")
        assert len(app.session.rows) == 10
        await pilot.press("R", "a", "6", "4")
        assert row_of(app).current.player == "64"
        await pilot.press("R", "e")
        assert row_of(app).current.rep == 2
        await pilot.press("R", "l", "R", "M")
        assert len(app.session.state.rows) == 10


async def test_nothing_removed_nothing_to_bring_back(app: ReviewApp) -> None:
    await press(app, "R", "b")
    assert message(app) == "No row of this note was removed."


async def test_help_lists_keys_and_does_what_is_chosen(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("question_mark")
        assert "Hear the words of the field, or stop" in shown(app, "items")
        await pilot.press("2")
        assert row_of(app).current.technique == "+"
        await pilot.press("f1", "down", "down", "down", "enter")
        assert row_of(app).current.technique is None


async def test_light_and_dark_and_it_is_remembered(app: ReviewApp, library: store.Library) -> None:
    await press(app, "T")
    assert app.theme == "textual-light"
    again = ReviewApp(library, app.session.note_id)
    await press(again)
    assert again.theme == "textual-light"


async def test_leaving_and_coming_back_lands_on_the_same_row(app: ReviewApp, library: store.Library) -> None:
    await press(app, "pagedown", "pagedown", "q")
    place = row_of(app).id
    again = ReviewApp(library, app.session.note_id)
    await press(again)
    assert row_of(again).id == place


async def test_injury_and_head_contact_bring_the_caution(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        assert not app.screen.query_one("#caution").display
        app.session.go(next(row.id for row in app.session.rows if row.current.safety))
        app.room.show()
        await pilot.pause()
        assert app.screen.query_one("#caution").display
        assert "Any sign of concussion: out at once" in shown(app, "caution").replace("\n", " ")


async def test_hearing_where_there_is_no_recording(app: ReviewApp) -> None:
    await press(app, "h")
    assert message(app) == "This note came as text: there is no recording to hear."


@pytest.fixture
def spoken(library: store.Library) -> ReviewApp:
    """The evening as a recording."""
    paths.recordings().mkdir(parents=True)
    (paths.recordings() / "half.wav").write_bytes(b"RIFF")
    return ReviewApp(library, add_evening(library, kind="audio", source="half.wav", digest="spoken"))


async def test_one_key_plays_the_field_another_the_row_and_slower(
    spoken: ReviewApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    played: list[tuple[str, float]] = []

    def play(player: hearing.Player, stretch: hearing.Stretch, speed: float = 1.0) -> str:
        played.append((stretch.name, speed))
        return f"Playing {stretch.name}"

    monkeypatch.setattr(hearing.Player, "play", play)
    spoken.session.slot_id = "games"
    async with spoken.run_test(size=SIZE) as pilot:
        for key in ("h", "H", "z", "h", "z", "h"):
            await pilot.press(key)
            await spoken.workers.wait_for_complete()
    assert played == [
        ("the words for games", 1.0),
        ("rep 3", 1.0),
        ("the words for games", hearing.SLOWER),
        ("the words for games", 1.0),
    ]


async def test_no_speaker_is_said_without_leaving_the_screen(
    spoken: ReviewApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    def play(*_: Any) -> str:
        raise SoundError("There is no speaker or headphone on this computer: plug one in, then try again.")

    monkeypatch.setattr(hearing.Player, "play", play)
    async with spoken.run_test(size=SIZE) as pilot:
        await pilot.press("h")
        await wait_for(pilot, "There is no speaker", spoken)
        assert spoken.room.warned
        await pilot.press("tab", "h")
        await spoken.workers.wait_for_complete()
        await pilot.pause()
        assert isinstance(spoken.screen, WordsScreen)
        assert spoken.screen.said.startswith("There is no speaker")


async def test_the_word_that_is_heard_is_marked(spoken: ReviewApp, monkeypatch: pytest.MonkeyPatch) -> None:
    moment = spoken.session.words[spoken.session.state.reps[2].stretches[0][0] + 2].end
    monkeypatch.setattr(hearing.Player, "at_s", property(lambda _: moment))
    async with spoken.run_test(size=SIZE) as pilot:
        spoken.room._follow()
        await pilot.pause()
        spans = [span for line in spoken.screen.query_one("#words", Lines).drawn for span in line]
        assert "four." in [span.text for span in spans if span.style == "chosen"]


async def wait_for(pilot: Pilot[None], text: str, app: ReviewApp) -> None:
    """Let the screen's own clock run until it says something."""
    for _ in range(200):
        if text in message(app):
            return
        await pilot.pause(0.02)
    raise AssertionError(f"never said {text!r}, but {message(app)!r}")


async def test_the_other_windows_work_appears(app: ReviewApp) -> None:
    with store.Library.open() as other:
        async with app.run_test(size=SIZE) as pilot:
            store.set_fields(other, row_of(app).id, {"verdict": "loss"})
            await wait_for(pilot, "Another window changed row 3", app)
            assert "− loss" in shown(app, "fields")


async def test_a_clash_is_told_and_nothing_is_written_over(
    app: ReviewApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    # the screen must not see the other window's work by itself before the key is pressed
    monkeypatch.setattr("reviewer.screens.room.FOLLOW_S", 3600)
    with store.Library.open() as other:
        async with app.run_test(size=SIZE) as pilot:
            store.set_fields(other, row_of(app).id, {"verdict": "loss"})
            await pilot.press("n")
            assert "Another window changed" in message(app)
            assert stored(app, row_of(app).id).current.verdict == "loss"
            await pilot.press("n")
            assert stored(app, row_of(app).id).current.verdict == "neutral"


async def test_a_list_that_was_open_while_another_window_wrote_does_not_write_over_it(app: ReviewApp) -> None:
    with store.Library.open() as other:
        async with app.run_test(size=SIZE) as pilot:
            await pilot.press("f", "l", "u")
            store.set_fields(other, row_of(app).id, {"faults": ["whiff"]})
            await pilot.press("enter")
            assert stored(app, row_of(app).id).current.faults == ["whiff"]
            assert "Another window changed" in message(app)
            assert app.screen is app.room


async def test_a_new_readings_questions_are_settled(app: ReviewApp, library: store.Library) -> None:
    from dataclasses import replace

    from tests.screens.evening import reading

    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("l")
        row = row_of(app).id
        read = reading()
        changed = [r.model_copy(update={"verdict": "neutral"}) if r.rep == 3 else r for r in read.rows]
        store.add_reading(library, app.session.note_id, replace(read, rows=tuple(changed)))
        app.session.reload()
        await pilot.press("Q")
        assert "take the new reading: = neutral" in shown(app, "items")
        await pilot.press("down", "enter")
        assert stored(app, row).current.verdict == "neutral"
        assert app.session.questions == []


async def test_learning_is_offered_after_a_fix_and_kept(app: ReviewApp, library: store.Library) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("f", "l", "u", "enter")
        assert message(app) == "faults: nothing → lunge   L: learn the words for next time"
        await pilot.press("L")
        assert isinstance(app.screen, LessonScreen)
        assert "Which words say lunge (faults)?" in shown(app, "gave")
        screen = app.screen
        at = next(i for i, w in enumerate(app.session.words) if w.text == "Nobody")
        screen.cursor.put(at)
        await pilot.press("shift+right", "plus", "enter")
        assert app.screen is app.room
        assert message(app).startswith("Learned: “nobody gets home” is lunge (faults).")
    assert [one.form for one in store.learned(library)] == ["nobody gets home"]


async def test_a_lesson_can_be_left(app: ReviewApp, library: store.Library) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("f", "l", "u", "enter", "L", "escape")
        assert app.screen is app.room
    assert store.learned(library) == []


def typed_ahead(app: ReviewApp, *keys: str) -> None:
    """Keys that arrive all at once, before anything could be drawn."""
    for key in keys:
        app.post_message(
            events.Key(key, {"space": " "}.get(key, key) if len(key) == 1 or key == "space" else None)
        )


async def test_keys_typed_ahead_go_where_they_were_meant_and_none_is_lost(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        first = row_of(app).id
        typed_ahead(
            app, "f", "l", "u", "enter", "O", "tab", "9", "5", "2", "d", "3", "9", "enter", "space", "w"
        )
        await pilot.pause()
        row = stored(app, first)
        assert (row.current.faults, row.current.opponents) == (["lunge"], ["95", "91"])
        assert (row.current.technique, row.current.distance, row.confirmed) == ("+", 9, True)
        assert app.screen is app.room
        typed_ahead(
            app, "R", "m", "u", "tab", "right", "escape", "slash", "d", "u", "o", "enter", "A", "escape", "l"
        )
        await pilot.pause()
        assert len(app.session.rows) == 10
        assert row_of(app).current.rep == 9
        assert row_of(app).current.verdict == "loss"


async def test_pasted_text_is_typed(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("semicolon")
        app.post_message(events.Paste("his eyes\nare \x1b[31mgood"))
        await pilot.press("enter")
        assert row_of(app).comment == "his eyes are \x1b[31mgood"
        assert "his eyes are ␛[31mgood" in shown(app, "detail")
        app.post_message(events.Paste("l"))
        await pilot.pause()
        assert row_of(app).current.verdict == "win"


async def test_a_vocabulary_file_that_cannot_be_read_is_told_and_the_rest_works(app: ReviewApp) -> None:
    paths.user_vocabulary().parent.mkdir(parents=True, exist_ok=True)
    paths.user_vocabulary().write_text("[[term\n", "utf-8")
    async with app.run_test(size=SIZE) as pilot:
        for key in ("t", "D", "slash"):
            await pilot.press(key)
            assert app.screen is app.room
            assert "cannot be read" in message(app)
        await pilot.press("l", "space")
        assert app.session.progress.left == 9


async def test_a_note_without_rows_is_no_dead_end(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        for row in app.session.rows:
            store.delete_row(app.library, row.id)
        app.session.reload()
        app.room.show()
        await pilot.press(
            "space", "l", "t", "d", "h", "S", "semicolon", "F", "R", "d", "O", "L", "j", "pagedown"
        )
        assert app.screen is app.room
        assert "No rows: tab shows the words" in shown(app, "row")
        await pilot.press("tab", *["shift+right"] * 4, "a", "escape")
        assert row_of(app).by_hand
        assert row_of(app).current.player == "71"


async def test_nothing_in_names_notes_and_words_acts_on_the_terminal(library: store.Library) -> None:
    evil = "\x1b[2J\x07[red]\u202e{x}"
    note = add_evening(library, digest="evil", title=f"half {evil}")
    store.set_fields(library, store.current_rows(library, note)[2].id, {"faults": [evil], "player": evil[:4]})
    store.set_comment(library, store.current_rows(library, note)[2].id, evil)
    app = ReviewApp(library, note)
    async with app.run_test(size=(120, 40)) as pilot:
        for keys in (
            (),
            ("t",),
            ("o",),
            ("semicolon", "x"),
            ("G",),
            ("N",),
            ("F",),
            ("D",),
            ("A",),
            ("S",),
            ("slash", "h"),
        ):
            await pilot.press(*keys)
            strips = app.screen._compositor.render_strips()
            drawn = "".join(segment.text for strip in strips for segment in strip)
            assert not {"\x1b", "\x07", "\u202e"} & set(drawn), keys
            await pilot.press("escape") if keys else None


def test_without_a_terminal_there_is_one_sentence(library: store.Library, note: int) -> None:
    with pytest.raises(InputError, match="The review needs a terminal to work in"):
        run_review(library, note)


def test_which_note_is_opened(library: store.Library) -> None:
    with pytest.raises(InputError, match="There is no note to review yet"):
        chosen_note(library, None)
    first = add_evening(library)
    second = add_evening(library, digest="second", title="Second")
    assert chosen_note(library, None) == second
    for row in store.current_rows(library, second):
        store.set_confirmed(library, row.id)
    assert chosen_note(library, None) == first
    assert chosen_note(library, "second") == second
    with pytest.raises(InputError, match="There is no note nowhere"):
        chosen_note(library, "nowhere")


async def test_escape_and_the_next_key_typed_quickly_are_two_keys(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("D")
        # as they come from a terminal
        app.post_message(events.Key("alt+l", "l"))
        await pilot.pause()
        assert app.screen is app.room
        assert row_of(app).current.verdict == "loss"
        await pilot.press("D")
        app.post_message(events.Key("alt+shift+g", "G"))
        await pilot.pause()
        assert isinstance(app.screen, MenuScreen)


async def test_a_long_message_is_shown_whole(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        app.room.tell("There is no speaker or headphone on this computer: plug one in, then try again.", True)
        app.room.show()
        await pilot.pause()
        assert "plug one in, then try again." in " ".join(shown(app, "message").split())
        assert app.screen.query_one("#message").size.height == 2
        await pilot.press("down")
        assert app.screen.query_one("#message").size.height == 1


async def test_no_key_is_shown_that_does_nothing(app: ReviewApp) -> None:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("Q")
        assert shown(app, "foot").split() == ["esc", "close"]
        await pilot.press("escape", "G")
        assert shown(app, "foot").split() == ["enter", "take", "esc", "close"]
