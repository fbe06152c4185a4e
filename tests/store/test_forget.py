"""A person forgotten: nothing of him is left in the bytes of the grade book, and nobody else is touched."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import pytest

from reviewer import store
from reviewer.errors import InputError
from reviewer.forgetting import spoken_numbers
from reviewer.records import Evidence, GradeRow, NoteContext, Reading, Rep, RosterEntry, Word
from reviewer.store.forget_book import Forgotten
from reviewer.store.forget_person import clean, find_person, forget, secure
from reviewer.store.forget_text import Name, blanked, named, out_of_stored
from reviewer.store.saved import save_search, saved_searches

TEXT = (
    "First Teo Brandvold, number 76, reaches 94 and Brandvold's seal holds. "
    "Then Ole Rask at 64 punches 94 on third and 76. "
    "And later that is Teo again, seventy-six oversets, 76 is late."
)


def reading(text: str = TEXT) -> Reading:
    """Three reps, one a sentence: 76 against 94, 64 against 94, 76."""
    words = [Word(w, n / 2, n / 2 + 0.4, 0.9) for n, w in enumerate(text.split())]
    ends = [n + 1 for n, w in enumerate(words) if w.text.endswith(".")]
    cuts = list(zip([0, *ends], ends, strict=False))

    def said(*wanted: str) -> list[Evidence]:
        return [
            Evidence(start=w.start, end=w.end, heard=w.text, read=w.text)
            for w in words
            if w.text.strip(",.") in wanted
        ]

    def row(rep: int, player: str, **given: object) -> GradeRow:
        first, last = cuts[rep - 1]
        return GradeRow(
            rep=rep, start=words[first].start, end=words[last - 1].end, player=player, confidence=0.9, **given
        )  # type: ignore[arg-type]

    rows = (
        row(1, "76", opponents=["94"], evidence={"player": said("76")[:1], "opponents": said("94")[:1]}),
        row(2, "64", opponents=["94"], evidence={"distance": said("76")[1:2], "opponents": said("94")[1:]}),
        row(3, "76", verdict="loss"),
    )
    reps = tuple(Rep(n, words[a].start, words[b - 1].end, ((a, b),)) for n, (a, b) in enumerate(cuts, 1))
    return Reading(tuple(words), (), reps, rows, {"names": ["Teo Brandvold"]})


ROSTER = (
    RosterEntry("76", "Teo Brandvold", "RT", "own"),
    RosterEntry("64", "Ole Rask", "RG", "own"),
)
OPPONENTS = (RosterEntry("94", "Sune Åkerlund", "DE", "opp"),)


@pytest.fixture
def book(tmp_path: Path) -> store.Library:
    library = store.Library.open(tmp_path / "book" / "gradebook.db")
    library.who = "coach"
    secure(library)
    store.save_roster(library, "Hollow Creek", "2026", ROSTER, own=True)
    store.save_roster(library, "Pine Bluff", "2026", OPPONENTS)
    store.save_game(library, store.Game("Week 3", "2026", date(2026, 9, 12), "Hollow Creek", "Pine Bluff"))
    add(library, "one", title="Brandvold against Pine Bluff", player="76")
    return library


def add(
    library: store.Library,
    digest: str,
    title: str = "A note",
    player: str | None = None,
    game: int | None = 1,
) -> int:
    new = store.NewNote(
        digest=digest, kind="text", duration_s=30.0, context=NoteContext(player=player), title=title,
        game_id=game, model="base", settings={"prompt": "76 Teo Brandvold, 64 Ole Rask, 94 Sune Åkerlund"},
    )  # fmt: skip
    return store.add_note(library, new, reading())


def remove(library: store.Library, *args: str | None, notes: Sequence[int] = ()) -> Forgotten:
    who = find_person(library, *(*args, None, None, None, None)[:4])
    done = forget(library, who, notes=notes, numbers=spoken_numbers)
    clean(library)
    return done


def raw(library: store.Library) -> str:
    """All bytes of the file and what SQLite keeps beside it, in lower case; JSON's escapes undone."""
    assert library.path is not None
    data = b"".join(file.read_bytes() for file in library.path.parent.iterdir())
    return data.decode("utf-8", "ignore").lower().replace("\\u00c5", "å").replace("\\u00e5", "å")


def words(library: store.Library, note: int = 1) -> str:
    return " ".join(word.text for word in store.words_of(library, note) if word.text)


def test_nothing_of_him_is_left_in_the_file(book: store.Library) -> None:
    row = store.current_rows(book, 1)[0].id
    store.set_comment(book, row, "Brandvold must stay low")
    store.set_fields(book, row, {"verdict": "win"})
    store.set_comment(book, row, "stay low")
    store.set_comment(book, store.current_rows(book, 1)[1].id, "unlike Teo Brandvold")
    store.set_fields(book, store.current_rows(book, 1)[1].id, {"player": "76"})
    store.undo(book, 1)
    store.learn(book, "mishearing", "Brandvold", "bran fold", note=1)
    save_search(book, "Teo", "brandvold --verdict loss")
    assert "brandvold" in raw(book)
    done = remove(book, "teo brandvold")
    assert "brandvold" not in raw(book) and "bran fold" not in raw(book) and "teo" not in raw(book)
    assert done.counts["rows"] == 2 and done.counts["roster lines"] == 1
    assert [row.current.player for row in store.current_rows(book, 1)] == ["64"]
    assert saved_searches(book) == [] and store.learned(book) == []
    assert store.search(book, store.SearchQuery("brandvold")) == []
    assert store.known_values(book, "player") == [("64", 1)]
    assert all(change.new != "76" for change in store.note_history(book, 1))
    assert store.check(book) == []
    with pytest.raises(InputError, match="there is no Teo Brandvold in any roster"):
        find_person(book, "Teo Brandvold", None, None, None)


def test_name_and_number_go_where_they_say_him_and_nowhere_else(book: store.Library) -> None:
    remove(book, "Teo Brandvold")
    assert words(book) == (
        "First [removed] , number [removed], reaches 94 and [removed] seal holds. "
        "Then Ole Rask at 64 punches 94 on third and 76. "
        "And later that is [removed] again, [removed] oversets, [removed] is late."
    )
    assert len(store.words_of(book, 1)) == len(TEXT.split())
    found = store.note(book, 1)
    assert (found.title, found.slug, found.player) == (
        "[removed] against Pine Bluff", "removed-against-pine-bluff", None,
    )  # fmt: skip


def test_spans_to_silence(book: store.Library) -> None:
    done = remove(book, "Teo Brandvold")
    rows = reading().rows
    for row in (rows[0], rows[2]):
        assert any(a <= row.start and row.end <= b for a, b in done.spans[1])
    assert not any(a < rows[1].end - 0.6 and b > rows[1].start + 0.6 for a, b in done.spans[1])


def test_an_opponent_leaves_the_rows_of_others(book: store.Library) -> None:
    remove(book, "Sune Åkerlund")
    assert "åkerlund" not in raw(book) and "akerlund" not in raw(book)
    shown = store.current_rows(book, 1)
    assert [row.current.player for row in shown] == ["76", "64", "76"]
    assert [row.current.opponents for row in shown] == [[], [], []]
    assert "94" not in words(book).split() and "third and 76." in words(book)
    assert store.known_values(book, "opponent") == []
    assert store.check(book) == []


def test_two_men_of_one_name_are_told_apart(book: store.Library) -> None:
    store.save_roster(book, "Elm Fork", "2026", [RosterEntry("50", "Teo Brandvold", "C", "opp")])
    with pytest.raises(
        InputError, match=r"may be several men \(Teo Brandvold, Hollow Creek, number 76 in 2026; "
    ):
        find_person(book, "Teo Brandvold", None, None, None)
    loose = add(book, "two", title="Another day", game=None)
    done = remove(book, "Teo Brandvold", None, "hollow creek")
    assert [spot.entry.jersey for spot in store.spots(book, "Elm Fork", "2026")] == ["50"]
    assert store.spots(book, "Hollow Creek", "2026")[0].entry.name == "Ole Rask"
    assert "Brandvold" not in words(book) and "Brandvold" in words(book, loose)
    assert any(text.startswith("Another Teo Brandvold stays") for text in done.left)


def test_brothers(book: store.Library) -> None:
    roster = [*ROSTER, RosterEntry("55", "Ivo Brandvold", "C", "own")]
    store.save_roster(book, "Hollow Creek", "2026", roster, own=True)
    note = add(book, "two")
    done = remove(book, "Teo Brandvold")
    assert "teo brandvold" not in raw(book)
    assert "[removed] seal holds" in words(book, note), "in his own rep it is he"
    assert [s.entry.name for s in store.spots(book, "Hollow Creek", "2026")] == ["Ivo Brandvold", "Ole Rask"]
    assert any("Others have the last name too" in text for text in done.left)


def test_a_number_that_changed_hands(book: store.Library) -> None:
    later = [RosterEntry("76", "Jon Vik", "RT", "own"), ROSTER[1]]
    store.save_roster(book, "Hollow Creek", "2026", later, own=True, since=date(2026, 10, 1))
    store.save_game(book, store.Game("Week 8", "2026", date(2026, 10, 17), "Hollow Creek", "Pine Bluff"))
    add(book, "late", game=2)
    done = remove(book, "Jon Vik")
    assert done.counts["rows"] == 2
    assert len(store.current_rows(book, 1)) == 3, "the first 76 stays"
    assert len(store.current_rows(book, 2)) == 1
    assert "jon vik" not in raw(book) and "teo brandvold" in raw(book)
    with pytest.raises(InputError, match="there is no number 75, Hollow Creek, 2026 in any roster"):
        find_person(book, None, "75", "Hollow Creek", "2026")


def test_a_number_that_two_men_wore_asks_for_the_name(book: store.Library) -> None:
    later = [RosterEntry("76", "Jon Vik", "RT", "own"), ROSTER[1]]
    store.save_roster(book, "Hollow Creek", "2026", later, own=True, since=date(2026, 10, 1))
    with pytest.raises(InputError, match="add the name"):
        find_person(book, None, "76", "Hollow Creek", "2026")
    assert find_person(book, "jon vik", "76", "Hollow Creek", "2026").name == "Jon Vik"


def test_one_season_only(book: store.Library) -> None:
    store.save_roster(
        book, "Hollow Creek", "2025", [RosterEntry("60", "Teo Brandvold", "RG", "own")], own=True
    )
    person = find_person(book, "Teo Brandvold", None, None, "2026")
    assert person.stays and [stint.jersey for stint in person.stints] == ["76"]
    forget(book, person, numbers=spoken_numbers)
    assert [s.entry.name for s in store.spots(book, "Hollow Creek", "2025")] == ["Teo Brandvold"]
    assert len(store.current_rows(book, 1)) == 1
    assert store.check(book) == []


def test_notes_without_a_game_are_named_by_the_user(book: store.Library) -> None:
    loose = add(book, "two", game=None)
    assert "belong to no game and have his number: 1." in remove_dry(book).left[0]
    remove(book, "Teo Brandvold", notes=[loose])
    assert len(store.current_rows(book, loose)) == 1
    assert "brandvold" not in raw(book)


def remove_dry(library: store.Library) -> Forgotten:
    who = find_person(library, "Teo Brandvold", None, None, None)
    return forget(library, who, numbers=spoken_numbers, dry_run=True)


def test_a_dry_run_changes_nothing(book: store.Library) -> None:
    before = list(book.connection.iterdump())
    tried = remove_dry(book)
    assert list(book.connection.iterdump()) == before
    assert remove(book, "Teo Brandvold").counts == tried.counts


def test_what_is_final_is_final_again(book: store.Library) -> None:
    remove(book, "Teo Brandvold")
    query = "SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND name LIKE '%is_final'"
    assert book.execute(query).fetchone() == (5,)
    store.set_fields(book, store.current_rows(book, 1)[0].id, {"verdict": "win"})
    store.undo(book, 1)
    assert store.check(book) == []


@pytest.mark.parametrize(
    ("text", "clean_text"),
    [
        ("Teo Brandvold", "[removed]"),
        ("BRANDVOLD, Teo", "[removed]"),
        ("teo_brandvold-week3.wav", "[removed]-week3.wav"),
        ("Brandvold's set and Brandvoldsen", "[removed] set and Brandvoldsen"),
        ('{"a": ["teo brandvold"], "b": 1}', '{"a":["[removed]"],"b":1}'),
        ('"{\\"heard\\": \\"Brandvold\\"}"', '"{\\"heard\\":\\"[removed]\\"}"'),
        ("nobody here", "nobody here"),
    ],
)
def test_names_in_texts(text: str, clean_text: str) -> None:
    assert out_of_stored(Name("Teo Brandvold"), text) == clean_text


def test_accents_however_they_are_stored() -> None:
    name = Name("Åse Bråten")
    for form in ("NFC", "NFD"):
        assert out_of_stored(name, unicodedata.normalize(form, "by ÅSE BRÅTEN")) == "by [removed]"
    assert out_of_stored(name, "Ase Braten") == "[removed]"
    assert out_of_stored(name, '["\\u00c5se Br\\u00e5ten"]') == '["[removed]"]'


def test_a_name_over_several_words_goes_whole() -> None:
    stored = [[w, 0, 1, 1] for w in ["then", "Teo", "Brandvold,", "and", "Teo", "alone"]]
    assert [w[0] for w in blanked(stored, named(Name("Teo Brandvold"), stored))] == [
        "then", "[removed]", ",", "and", "Teo", "alone",
    ]  # fmt: skip


def test_a_first_name_that_is_a_word() -> None:
    stored = [[w, 0, 1, 1] for w in ["Will", "Harmon", "will", "do.", "Harmon", "did,", "WILL", "HARMON"]]
    gone = named(Name("Will Harmon", first=True), stored)
    assert [word[0] for word in blanked(stored, gone)] == [
        "[removed]",
        "",
        "will",
        "do.",
        "[removed]",
        "did,",
        "[removed]",
        "",
    ]
