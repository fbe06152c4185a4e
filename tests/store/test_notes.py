"""Notes go in once, come out whole, and are found again."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from reviewer import store
from reviewer.errors import InputError
from reviewer.records import NoteContext
from tests.store.scene import BLOCKS, CONTEXT, new_note, scene


def test_a_note_comes_back_as_it_was_read(library: store.Library) -> None:
    reading = scene()
    note = store.add_note(library, new_note(model="base", settings={"beam": 5}), reading)
    stored = store.current_rows(library, note)
    assert [row.current for row in stored] == list(reading.rows)
    assert [row.first for row in stored] == list(reading.rows)
    assert [row.current.field_confidence for row in stored] == [row.field_confidence for row in reading.rows]
    assert store.words_of(library, note) == tuple(reading.words)
    kept = store.note(library, note)
    assert (kept.model, kept.settings, kept.rows, kept.confirmed) == ("base", {"beam": 5}, 4, 0)
    assert not any(row.confirmed or row.corrected or row.by_hand for row in stored)


def test_the_same_content_in_the_same_context_is_one_note(library: store.Library) -> None:
    first = store.add_note(library, new_note(), scene())
    again = store.add_note(library, new_note(title="Another title"), scene())
    assert again == first
    assert store.revision_of(library, first) == 0
    assert len(store.readings_of(library, first)) == 1


@pytest.mark.parametrize(
    "context",
    [
        NoteContext(player="64"),
        NoteContext(player="76", opponent="Elm Fork"),
        NoteContext(player="76", game="Week 3"),
    ],
)
def test_another_context_is_another_note(library: store.Library, context: NoteContext) -> None:
    first = store.add_note(library, new_note(context=NoteContext(player="76")), scene())
    assert store.add_note(library, new_note(context=context), scene()) != first


def test_find_note(library: store.Library, note: int) -> None:
    assert store.find_note(library, "d1", CONTEXT) == note
    assert store.find_note(library, "d2", CONTEXT) is None


def test_names_that_people_can_type(library: store.Library) -> None:
    titles = ["Week 3: Élan!", "week 3 elan", "76", "", None]
    for number, title in enumerate(titles):
        source = "film/left side.wav" if number == 4 else None
        store.add_note(library, new_note(f"t{number}", title=title, source=source), scene())
    slugs = [note.slug for note in reversed(store.notes(library))]
    assert slugs == ["week-3-elan", "week-3-elan-2", "note-76", "note", "left-side"]
    assert store.note(library, "left-side").title == "left side"
    assert store.note(library, "1").slug == "week-3-elan"


@pytest.mark.parametrize("which", [99, "99", "nothing", "9" * 40, "²"])
def test_no_such_note(library: store.Library, note: int, which: int | str) -> None:
    with pytest.raises(InputError, match=f"There is no note {which} in the grade book"):
        store.note(library, which)


def test_notes_newest_first(library: store.Library) -> None:
    ids = [
        store.add_note(library, new_note(f"n{i}", created=datetime(2026, 9, i, tzinfo=UTC)), scene())
        for i in (1, 2, 3)
    ]
    assert [note.id for note in store.notes(library)] == ids[::-1]
    assert [note.id for note in store.notes(library, limit=2)] == ids[:0:-1]
    assert store.note(library, ids[0]).created.startswith("2026-09-01T00:00")


def test_a_row_without_a_rep_record_gets_its_words_by_time(library: store.Library) -> None:
    reading = scene()
    bare = type(reading)(reading.words, rows=reading.rows)
    note = store.add_note(library, new_note(), bare)
    assert [rep.stretches for rep in store.state_of(library, note).reps] == [
        r.stretches for r in reading.reps
    ]


def test_a_note_without_words_or_rows(library: store.Library) -> None:
    note = store.add_note(library, new_note(kind="text"), scene(()))
    assert store.current_rows(library, note) == []
    assert store.cursor_of(library, note) is None
    assert store.check(library) == []


def test_the_review_comes_back_to_its_row(library: store.Library, note: int, rows: list[int]) -> None:
    assert store.cursor_of(library, note) == rows[0]
    store.set_confirmed(library, rows[0])
    assert store.cursor_of(library, note) == rows[1], "the first row that waits for the coach"
    store.save_cursor(library, note, rows[2])
    assert store.cursor_of(library, note) == rows[2]
    store.delete_row(library, rows[2])
    assert store.cursor_of(library, note) == rows[3], "the live row nearest in time"


def test_delete_note_takes_everything_with_it(library: store.Library, note: int, rows: list[int]) -> None:
    other = store.add_note(library, new_note("d2"), scene(BLOCKS[:2]))
    store.set_fields(library, rows[0], {"verdict": "loss"})
    store.add_reading(library, note, scene(BLOCKS[:2]))
    store.learn(library, "form", "swim", "over the top", note=note, row=rows[0])
    store.delete_note(library, note)
    assert [n.id for n in store.notes(library)] == [other]
    assert {hit.note for hit in store.search(library, store.SearchQuery())} == {other}
    assert [(known.form, known.note, known.row) for known in store.learned(library)] == [
        ("over the top", None, None)
    ]
    for table in ("grade_row", "row_reading", "rep", "rep_reading", "action", "change", "event", "question"):
        left = library.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
        expected = {"grade_row": 1, "row_reading": 1, "rep": 1, "rep_reading": 1}.get(table, 0)
        assert left == expected, table
    assert store.check(library) == []
    assert store.add_note(library, new_note(), scene()) > other, "a number is never given twice"


def test_rename_and_context(library: store.Library, note: int) -> None:
    store.rename_note(library, note, "  Third quarter ")
    assert store.note(library, "second-half").title == "Third quarter"
    with pytest.raises(InputError, match="A note needs a title"):
        store.rename_note(library, note, " ")
    assert store.context_of(library, note) == CONTEXT


def test_graded_rows_over_notes(library: store.Library, note: int, rows: list[int]) -> None:
    game = store.save_game(library, store.Game("Week 4", "2026", opponent="Elm Fork"))
    second = store.add_note(
        library, new_note("d2", context=NoteContext(player="76"), game_id=game), scene(BLOCKS[:2])
    )
    store.set_confirmed(library, rows[1])

    def ids(**given: object) -> list[tuple[int, int]]:
        return [(row.note, row.current.rep) for row in store.graded_rows(library, **given)]  # type: ignore[arg-type]

    assert ids() == [(note, 1), (note, 2), (note, 3), (note, 3), (second, 1)]
    assert ids(player="64") == [(note, 3)]
    assert ids(verdict="win", player="76") == [(note, 1), (second, 1)]
    assert ids(season="2026") == ids(game=game) == ids(opponent_team="elm fork") == [(second, 1)]
    assert ids(confirmed=True) == [(note, 2)]
    assert ids(opponent_team="Hollow Creek", confirmed=False, verdict="win") == [(note, 1), (note, 3)]
