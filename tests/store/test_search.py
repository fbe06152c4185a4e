"""Search finds what was said and what it was read as, and never stumbles over what is typed."""

from __future__ import annotations

import re
from dataclasses import asdict
from typing import Any, get_args

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from reviewer import store
from reviewer.records import NoteContext
from reviewer.store import SearchQuery
from reviewer.store.search import _TAG_FIELDS, Order
from tests.store.scene import BLOCKS, Block, new_note, scene

ALL_FIELDS: tuple[Block, ...] = (
    (1, "Wide nine on him, he jumps him and the twist gets picked up, café talk.",
     ({"player": "71", "position": "LT", "down": 2, "distance": 7, "phase": "pass",
       "concepts": ["play action"],
       "side": "playside", "alignment": "wide 9", "opponents": ["94", "57"], "set": "jump",
       "techniques": ["pass off"], "faults": ["late hands"], "moves": ["long arm"], "games": ["twist"],
       "verdict": "win", "events": ["knockdown"], "play_result": "incomplete", "safety": ["injury"],
       "labels": ["teach"]},)),
)  # fmt: skip


def found(library: store.Library, words: str = "", **given: Any) -> list[int | None]:
    return [hit.rep for hit in store.search(library, SearchQuery(words, **given))]


def test_words_of_a_row(library: store.Library, note: int, rows: list[int]) -> None:
    [hit] = store.search(library, SearchQuery("nose"))
    assert (hit.note, hit.title, hit.row, hit.rep) == (note, "Second half", rows[0], 1)
    assert (hit.start, hit.end, hit.player, hit.verdict, hit.confirmed) == (4.0, 8.4, "76", "win", False)
    assert hit.text == "First one he reaches the nose and seals him."
    assert [hit.text[a:b] for a, b in hit.marks] == ["nose"]


def test_talk_outside_reps(library: store.Library, note: int) -> None:
    [hit] = store.search(library, SearchQuery("fellas"))
    assert (hit.row, hit.rep, hit.player, hit.verdict, hit.start, hit.end) == (
        None,
        None,
        None,
        None,
        0.0,
        3.9,
    )
    assert found(library, "fellas", player="76") == []
    assert found(library, "fellas", opponent_team="Hollow Creek") == [None]


def test_inflections_are_one_word(library: store.Library, note: int) -> None:
    assert found(library, "reach") == found(library, "reaching") == found(library, "REACHED") == [1]


def test_a_term_finds_the_row_whose_words_said_it_otherwise(library: store.Library, note: int) -> None:
    [hit] = store.search(library, SearchQuery("swim"))
    assert (hit.rep, hit.marks) == (2, ())
    assert "arm over" in hit.text
    assert found(library, '"reach seal"') == [], "two terms beside each other are no phrase"


def test_a_correction_moves_the_row_in_the_search(library: store.Library, note: int, rows: list[int]) -> None:
    store.set_fields(library, rows[1], {"moves": ["rip"], "verdict": "win"})
    assert found(library, "swim") == found(library, move="swim") == []
    assert found(library, move="rip", verdict="win") == [2]
    store.undo(library, note)
    assert found(library, move="rip") == []
    assert found(library, move="swim", verdict="loss") == [2]
    store.set_confirmed(library, rows[1])
    assert found(library, confirmed=True) == [2]
    store.set_comment(library, rows[1], "Teach tape for Monday")
    assert found(library, "monday") == [2]


def test_phrases_and_beginnings(library: store.Library, note: int) -> None:
    assert found(library, '"arm over"') == [2]
    assert found(library, '"over arm"') == []
    assert found(library, "over arm") == [2]
    assert found(library, "pun*") == [3, 3]
    assert found(library, '"good pun"*') == [3, 3]
    assert found(library, '"good punch') == [3, 3], "a phrase that is still being typed"
    for typed in ("s*", "se*", "sea*", "seal*", "seali*", "sealin*", "sealing*"):
        assert 1 in found(library, typed), typed


def test_both_players_of_a_rep_are_found(library: store.Library, note: int) -> None:
    assert sorted(str(hit.player) for hit in store.search(library, SearchQuery("punch"))) == ["64", "76"]
    assert [hit.player for hit in store.search(library, SearchQuery("punch", technique="punch"))] == ["64"]


@pytest.mark.parametrize(
    ("field", "value", "other"),
    [
        ("technique", "pass off", "punch"), ("fault", "late hands", "lunge"), ("set", "jump", "quick"),
        ("move", "long arm", "swim"), ("line_game", "twist", "loop"), ("concept", "play action", "screen"),
        ("alignment", "wide 9", "9"), ("event", "knockdown", "sack"), ("opponent", "57", "5"),
        ("opponent_team", "elm fork", "Hollow Creek"), ("player", "71", "7"), ("position", "LT", "RT"),
        ("verdict", "win", "loss"), ("down", 2, 3), ("phase", "pass", "run"),
        ("side", "playside", "backside"),
        ("play_result", "incomplete", "sack"), ("safety", "injury", "head contact"),
        ("label", "teach", "highlight"),
        ("season", "2026", "2025"), ("confirmed", False, True),
    ],
)  # fmt: skip
def test_every_filter(library: store.Library, note: int, field: str, value: Any, other: Any) -> None:
    game = store.save_game(library, store.Game("Week 5", "2026", opponent="Elm Fork"))
    mine = store.add_note(library, new_note("d2", context=NoteContext(), game_id=game), scene(ALL_FIELDS))
    assert {hit.note for hit in store.search(library, SearchQuery("twist", **{field: value}))} == {mine}
    assert store.search(library, SearchQuery("twist", **{field: other})) == []
    assert mine in {hit.note for hit in store.search(library, SearchQuery(**{field: value}))}
    assert store.search(library, SearchQuery("twist", game=game, note=mine, **{field: value})) != []
    assert store.search(library, SearchQuery("twist", note=note, **{field: value})) == []


def test_every_filter_is_tested() -> None:
    plain = {"words", "note", "limit", "order", "before", "confirmed", "distance"}
    assert set(asdict(SearchQuery())) - plain == set(_TAG_FIELDS)


def test_a_game_that_changes_its_season_is_found_there(library: store.Library) -> None:
    game = store.save_game(library, store.Game("Week 5", "2026", opponent="Elm Fork"))
    note = store.add_note(library, new_note(context=NoteContext(), game_id=game), scene(ALL_FIELDS))
    store.save_game(library, store.Game("Week 5", "2027", opponent="Hollow Creek", id=game))
    assert found(library, season="2026") == found(library, opponent_team="Elm Fork") == []
    assert found(library, season="2027", opponent_team="Hollow Creek") == [1]
    store.assign_game(library, note, None)
    assert found(library, season="2027") == []


def test_newest_first_page_by_page(library: store.Library) -> None:
    ids = [store.add_note(library, new_note(f"n{i}"), scene()) for i in range(4)]
    every = store.search(library, SearchQuery())
    assert [hit.note for hit in every] == [note for note in reversed(ids) for _ in range(6)]
    assert [hit.start for hit in every[:6]] == sorted((hit.start for hit in every[:6]), reverse=True)
    pages: list[store.Hit] = []
    while page := store.search(library, SearchQuery(limit=5, before=pages[-1].id if pages else None)):
        pages += page
    assert pages == every
    assert store.count(library, SearchQuery()) == 24
    assert store.count(library, SearchQuery("swim")) == 4
    assert store.count(library, SearchQuery(), at_most=3) == 3


def test_a_row_added_later_stands_with_its_note(library: store.Library) -> None:
    first = store.add_note(library, new_note("n1"), scene())
    store.add_note(library, new_note("n2"), scene())
    rep = store.state_of(library, first).reps[0].id
    store.add_row(library, rep, {"player": "71", "verdict": "win"})
    assert [hit.note for hit in store.search(library, SearchQuery(player="71"))] == [first]
    assert store.search(library, SearchQuery())[0].note != first


def test_best_fit_first(library: store.Library) -> None:
    good = store.add_note(library, new_note("n1"), scene(((1, "anchor anchor anchor", ({"player": "76"},)),)))
    store.add_note(
        library,
        new_note("n2"),
        scene(((1, "so many other words around one anchor in here", ({"player": "76"},)),)),
    )
    assert store.search(library, SearchQuery("anchor", order="best"))[0].note == good
    assert store.search(library, SearchQuery("anchor"))[0].note != good


def test_other_orders(library: store.Library) -> None:
    """Those without a value, and talk outside reps, come last."""
    spots: tuple[dict[str, object], ...] = (
        {"player": "76", "down": 3, "distance": 9, "confidence": 0.7},
        {"player": "76", "down": 3, "confidence": 0.2},
        {"player": "76", "down": 1, "distance": 10, "confidence": 0.9},
        {"player": "76", "confidence": 0.5},
        {"player": "76", "down": 3, "distance": 2, "confidence": 0.8},
    )
    said = [(number, f"anchor {number}", (values,)) for number, values in enumerate(spots, 1)]
    store.add_note(library, new_note(), scene((*said, (None, "an anchor in the talk", ()))))

    def reps(order: Order, limit: int = 9) -> list[int | None]:
        return [hit.rep for hit in store.search(library, SearchQuery("anchor", order=order, limit=limit))]

    assert reps("oldest") == [1, 2, 3, 4, 5, None]
    assert reps("confidence") == [2, 4, 1, 5, 3, None]
    assert reps("down") == [3, 5, 1, 2, 4, None]
    assert reps("confidence", 2) == [2, 4]
    assert [h.rep for h in store.search(library, SearchQuery(order="down", limit=1))] == [3]
    assert [h.rep for h in store.search(library, SearchQuery(distance=(5, 12), order="oldest"))] == [1, 3]
    assert store.search(library, SearchQuery(distance=(50, 99))) == []


def test_long_talk_is_cut_at_sentences(library: store.Library) -> None:
    talk = (
        "We start with the stance and then the feet and then the hands and the hips and the eyes of the man. "
        * 9
    )
    store.add_note(library, new_note(), scene(((None, talk + "no stop " * 80, ()),)))
    hits = store.search(library, SearchQuery())
    assert len(hits) > 6
    texts = [store.search(library, SearchQuery(before=hit.id + 1, limit=1))[0].text for hit in hits]
    assert all(len(text.split()) <= 60 for text in texts)
    assert sum(len(text.split()) for text in texts) == len(talk.split()) + 160


def test_accents_do_not_count(library: store.Library) -> None:
    store.add_note(library, new_note(), scene(ALL_FIELDS))
    assert found(library, "cafe") == found(library, "Café") == [1]


def test_known_values(library: store.Library, note: int, rows: list[int]) -> None:
    assert store.known_values(library, "player") == [("76", 3), ("64", 1)]
    assert store.known_values(library, "nothing") == []
    store.delete_row(library, rows[2])
    assert store.known_values(library, "player") == [("76", 3)]


NASTY = [
    "", "  ", '"', '""', '" "', "*", "**", '"*', "AND", "OR", "NOT", "NEAR", "NEAR(a b)", "he's", "76-win",
    "T-E", "words:reach", "-reach", "^reach", "reach)", "(reach", "{a}:b", "a AND", "a* b*", '"a" "', "\x00",
    "a\x00b", "\ud800", "²", "½", "🏈", "é", "%", "_", "q1", "rea*ch", "**a", 'a"b"c*', "\x02nose\x03",
    "ß" * 300, "a " * 400,
]  # fmt: skip


@pytest.mark.parametrize("text", NASTY)
def test_nasty_text(library: store.Library, note: int, text: str) -> None:
    for order in get_args(Order):
        for hit in store.search(library, SearchQuery(text, order=order)):
            assert all(0 <= a < b <= len(hit.text) for a, b in hit.marks)
    store.search(library, SearchQuery(text, technique=text, opponent_team=text, season=text))
    store.count(library, SearchQuery(text))


_shared = store.Library.memory()
_shared_note = store.add_note(_shared, new_note(), scene())
quick = settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@quick
@given(st.text(), st.none() | st.text(), st.integers() | st.none(), st.integers())
@example('hand* "x', "a", 2**70, -5)
def test_any_text_is_answered(words: str, term: str | None, number: int | None, limit: int) -> None:
    query = SearchQuery(words, move=term, note=number, game=number, down=number, before=number, limit=limit)
    assert len(store.search(_shared, query)) <= max(0, limit)
    store.count(_shared, query)


@quick
@given(st.lists(st.text("abc\"*() -:^+'{}", min_size=1, max_size=8)).map(" ".join))
def test_any_marks_are_answered(words: str) -> None:
    store.search(_shared, SearchQuery(words, verdict="win"))


def _plain(text: str) -> list[str]:
    words = re.findall(r"[a-z0-9]+", text.lower())
    # the one pair here that Porter's rules give the same stem
    return ["on" if word == "one" else word for word in words]


said = [word for block in BLOCKS for word in _plain(block[1])]


@quick
@given(st.integers(0, len(said) - 1), st.integers(1, 4))
def test_a_phrase_is_found_exactly_where_it_was_said(first: int, length: int) -> None:
    """Against the slow way."""
    phrase = said[first : first + length]

    def holds(text: str) -> bool:
        words = _plain(text)
        return any(words[i : i + len(phrase)] == phrase for i in range(len(words)))

    hits = store.search(_shared, SearchQuery(f'"{" ".join(phrase)}"'))
    marked = [hit for hit in hits if hit.marks]
    assert bool(marked) == any(holds(block[1]) for block in BLOCKS)
    assert all(holds(hit.text) for hit in marked)
