"""Search as typed, over the sample season with the shipped vocabulary."""

import json

import pytest

from reviewer.errors import InputError
from reviewer.language.vocabulary import Term, load_vocabulary
from reviewer.records import Evidence, GradeRow
from reviewer.reports.excerpts import locate
from reviewer.reports.finding import find, hit_data, read_search
from reviewer.reports.gather import Selection, gather
from reviewer.reports.lexicon import build_lexicon, spoken
from reviewer.store.library import Library
from reviewer.store.saved import forget_search, save_search, saved_search, saved_searches


@pytest.fixture(scope="module")
def lexicon():
    return build_lexicon(load_vocabulary().terms)


def rows_of(hits):
    return {hit.row for hit in hits if hit.row is not None}


def wanted(season, **fields):
    """Row ids that really have the values, found by other code."""
    found = set()
    for rep in gather(season, Selection()):
        values = {name: getattr(rep.row, name) for name in fields}
        if all(
            value in got if isinstance(got := values[name], list) else value == got
            for name, value in fields.items()
        ):
            found.add(rep.row_id)
    return found


def test_a_term_is_found_by_any_spoken_form(season, lexicon):
    hits = find(season, read_search(season, "pancake", lexicon, limit=1000))
    assert wanted(season, events="knockdown") <= rows_of(hits)
    assert rows_of(hits) == rows_of(find(season, read_search(season, "pancakes", lexicon, limit=1000)))


def test_terms_and_filters_together(season, lexicon):
    # 78 was bull rushed on some of the reps that 74 lost: those words were not said of 74
    asked = read_search(season, "bull rush player:74 verdict:loss", lexicon, limit=1000)
    assert rows_of(find(season, asked)) == wanted(season, moves="bull rush", player="74", verdict="loss")
    only = read_search(season, 'move:"bull rush" player:74 verdict:loss', lexicon, limit=1000)
    assert rows_of(find(season, only)) == wanted(season, moves="bull rush", player="74", verdict="loss")


def test_options_are_filters_too(season, lexicon):
    asked = read_search(season, "", lexicon, limit=1000, player="74", season="2031", move=None)
    assert rows_of(find(season, asked)) == wanted(season, player="74")


def test_by_game_season_and_team(season, lexicon):
    game = read_search(season, 'game:"Calder Falls" player:74', lexicon, limit=1000)
    assert len(find(season, game)) == 22
    team = read_search(season, "opponent:oxpastur player:74", lexicon, limit=1000)
    assert {hit.title for hit in find(season, team)} == {"Oxpasture, line, game 8"}
    assert find(season, read_search(season, "season:1999", lexicon)) == []


def test_phrases_and_beginnings(season, lexicon):
    phrase = find(season, read_search(season, '"clip that one"', lexicon, limit=1000))
    assert rows_of(phrase)
    assert all("clip that one" in hit.text for hit in phrase)
    assert rows_of(find(season, read_search(season, "pancak*", lexicon, limit=1000)))


@pytest.mark.parametrize(
    ("typed", "right"), [("pancaek", "pancake"), ("knokdown", "knockdown"), ("overest", "overset")]
)
def test_typing_errors_are_forgiven_and_said(season, lexicon, typed, right):
    asked = read_search(season, typed, lexicon, limit=1000)
    assert asked.remarks == (f"Nothing has {typed!r}; read as {right!r}.",)
    assert rows_of(find(season, asked)) == rows_of(
        find(season, read_search(season, right, lexicon, limit=1000))
    )


def test_hits_come_once_and_newest_first(season, lexicon):
    hits = find(season, read_search(season, "pancakes him", lexicon, limit=1000))
    ids = [hit.id for hit in hits]
    assert ids == sorted(set(ids), reverse=True)
    assert hit_data(hits[0])["player"] is not None


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("colour:red", "There is no filter 'colour'; the filters are"),
        ("down:third", "The filter down takes a number"),
        ("confirmed:maybe", "takes yes or no"),
        ("sort:random", "sorted by one of newest, oldest"),
        ("player:", "needs a value, for example player:74"),
        ("game:Nowhere", "There is no game 'Nowhere'"),
    ],
)
def test_bad_filters_are_sentences(season, lexicon, typed, says):
    with pytest.raises(InputError, match=says):
        read_search(season, typed, lexicon)


@pytest.mark.parametrize("typed", ["", '"', "'", "AND OR NOT", "((", "*", "a:b:c" * 3 + " x", "☃", "\x00"])
def test_nothing_typed_is_a_traceback(season, lexicon, typed):
    try:
        find(season, read_search(season, typed, lexicon))
    except InputError as problem:
        assert str(problem).endswith(".")


def test_forms_as_a_person_would_type_them():
    assert spoken("arm over") == [("arm", "over")]
    assert spoken("bring|put <poss> arm over?") == [
        ("bring", "arm", "over"),
        ("bring", "arm"),
        ("put", "arm", "over"),
        ("put", "arm"),
    ]
    assert spoken("beat <man> inside") == []
    assert spoken("hand * chest") == []


def test_a_form_of_two_terms_is_searched_as_both():
    terms = [Term("loop", "games", forms=("loop",)), Term("hoop", "moves", forms=("loop",))]
    assert build_lexicon(terms).terms(["loops"]) == (("line_game", "loop"), ("move", "hoop"))


def test_plays_are_named_by_their_spoken_forms(lexicon):
    assert lexicon.concept("Stretch") == "outside zone"
    assert lexicon.concept("26 Power Right") == "power"
    assert lexicon.concept("Moon shot") is None


def test_searches_are_saved_by_name():
    with Library.memory() as library:
        save_search(library, "bulls", "bull rush verdict:loss")
        save_search(library, "Bulls", "bull rush player:74")
        save_search(library, "clips", "label:teach")
        assert [(s.name, s.typed) for s in saved_searches(library)] == [
            ("Bulls", "bull rush player:74"), ("clips", "label:teach"),
        ]  # fmt: skip
        assert saved_search(library, "BULLS").typed == "bull rush player:74"
        forget_search(library, "bulls")
        with pytest.raises(InputError, match="the saved ones are: clips"):
            saved_search(library, "bulls")
        with pytest.raises(InputError, match="needs a name"):
            save_search(library, " ", "x")


@pytest.fixture
def asked_for(season, lexicon):
    """Reads a typed search over the sample season."""
    return lambda typed, **given: read_search(season, typed, lexicon, **given)


def test_a_number_and_a_verdict_mean_what_they_look_like(season, asked_for):
    hits = find(season, asked_for("bull rush 74 loss"))
    assert hits
    assert {(hit.player, hit.verdict) for hit in hits} == {("74", "loss")}
    with season.reading() as db:
        wanted = db.execute(
            "SELECT count(*) FROM row_now WHERE player = '74' AND verdict = 'loss' "
            "AND grade LIKE '%bull rush%'"
        ).fetchone()[0]
    assert len(hits) == wanted


def test_a_number_may_be_a_defender(season, asked_for):
    rows = {hit.row for hit in find(season, asked_for("96 spin"))}
    assert rows
    with season.reading() as db:
        for row in rows:
            (grade,) = db.execute("SELECT grade FROM row_now WHERE row_id = ?", (row,)).fetchone()
            assert "96" in json.loads(grade)["opponents"]


def test_a_phrase_that_nobody_said_is_looked_for_by_its_words(season, asked_for):
    asked = asked_for('"bull rush 74 loss"')
    assert asked.remarks == (
        'Nobody said "bull rush 74 loss" word for word; its words are looked for one by one.',
    )
    assert {hit.id for hit in find(season, asked)} == {
        hit.id for hit in find(season, asked_for("bull rush 74 loss"))
    }


def test_a_phrase_that_was_said_stays_a_phrase(season, asked_for):
    asked = asked_for('"gives up the sack"')
    assert asked.remarks == ()
    assert all(hit.marks for hit in find(season, asked))


@pytest.mark.parametrize(("typed", "read"), [("rsh", "rush"), ("overst", "overset"), ("panckae", "pancake")])
def test_slips_of_the_finger(season, asked_for, typed, read):
    assert asked_for(typed).remarks == (f"Nothing has {typed!r}; read as {read!r}.",)


def test_a_hit_by_a_term_shows_where_it_was_said(season, asked_for):
    hits = find(season, asked_for("move:swim", limit=800))
    assert hits
    shown = [[hit.text[a:b] for a, b in hit.marks] for hit in hits]
    # a move that the first reading missed has no words to show; the coach put it in
    assert shown.count([]) == 1
    assert all(marked == ["he swims"] for marked in shown if marked)


def situation(library, row):
    (rep,) = gather(library, Selection(rows=(row,)))
    return rep.row.down, rep.row.distance


def test_third_and_long_is_a_situation(season, asked_for):
    asked = asked_for("third and long", limit=800)
    assert "down 3 with 7+ to go (common practice, no source)" in asked.remarks[0]
    hits = find(season, asked)
    wanted = {
        rep.row_id
        for rep in gather(season, Selection())
        if rep.row.down == 3 and (rep.row.distance or 0) >= 7
    }
    assert {hit.row for hit in hits} == wanted
    assert len(wanted) > 50
    typed = find(season, asked_for("down:3 distance:7+", limit=800))
    assert [hit.row for hit in typed] == [hit.row for hit in hits]


def test_a_situation_joins_terms_and_numbers(season, asked_for):
    hits = find(season, asked_for("bull rush 74 3rd and 7", limit=800))
    assert hits
    for hit in hits:
        (rep,) = gather(season, Selection(rows=(hit.row,)))
        assert (rep.row.player, rep.row.down, rep.row.distance) == ("74", 3, 7)
        assert "bull rush" in rep.row.moves


def test_a_distance_is_a_span(season, asked_for):
    hits = find(season, asked_for("distance:4-6", limit=800))
    assert {hit.distance for hit in hits} == {4, 5, 6}
    assert find(season, asked_for("distance:98-99")) == []


@pytest.mark.parametrize(
    ("order", "key"),
    [
        ("newest", lambda hit: -hit.id),
        ("oldest", lambda hit: hit.id),
        ("confidence", lambda hit: hit.confidence),
        ("down", lambda hit: (hit.down, hit.distance is None, hit.distance)),
    ],
)
def test_the_first_page_is_the_first_of_all(season, asked_for, order, key):
    """Sorted before the page is cut, also where words and a term both find rows."""
    for typed in ("bull rush", "verdict:loss", "right"):
        every = find(season, asked_for(f"{typed} sort:{order}", limit=800))
        keys = [key(hit) for hit in every]
        assert keys == sorted(keys)
        page = find(season, asked_for(f"{typed} sort:{order}", limit=20))
        assert [hit.row for hit in page] == [hit.row for hit in every[:20]]


def test_of_words_said_twice_the_excerpt_takes_those_of_its_time():
    words = "The guard is late. " * 3 + "Then the tackle. " * 10 + "He is late."
    said = Evidence(start=95, end=96, heard="is late", read="is late")
    row = GradeRow(rep=1, start=0, end=100, faults=["late hands"], evidence={"faults": [said]})
    assert locate(words, said, row) == (len(words) - len("is late."), len(words) - 1)
    assert locate("nothing of it", said, row) is None
