"""Terms as a person writes and reads them."""

from __future__ import annotations

from pathlib import Path

import pytest

from reviewer.errors import InputError
from reviewer.language.vocabulary import FIELD_GROUPS, Vocabulary, load_vocabulary
from reviewer.terms import canonical, find_terms, is_said, readable, spoken_forms, wordings


@pytest.fixture(scope="module")
def vocabulary() -> Vocabulary:
    return load_vocabulary(Path("no file of one's own"))


@pytest.mark.parametrize(
    ("form", "shown"),
    [
        ("arm over", "arm over"),
        ("bring|throw <poss> other? arm over", "bring his arm over"),
        ("=long =arm", "long arm"),
        ("¶ speed ¶", "speed"),
        ("race * around|upfield", "race … around"),
        ("beat <man> to the corner", "beat him to the corner"),
    ],
)
def test_a_form_reads_as_words(form: str, shown: str) -> None:
    assert readable(form) == shown


def test_all_ways_to_say_a_form() -> None:
    assert list(wordings("throw|bring other? arm")) == [
        "throw arm",
        "throw other arm",
        "bring arm",
        "bring other arm",
    ]


def test_no_form_of_the_vocabulary_shows_its_signs(vocabulary: Vocabulary) -> None:
    shown = [form for term in vocabulary.terms if term.group in FIELD_GROUPS for form in spoken_forms(term)]
    assert len(shown) > 1000
    assert [form for form in shown if set(form) & set("<>|=§¶*?_")] == []


@pytest.mark.parametrize(
    ("typed", "group", "name"),
    [
        ("Bull Rush", "moves", "bull rush"),
        ("pancake", "events", "knockdown"),
        ("pancaked", "events", "knockdown"),
        ("stretch", "concepts", "outside zone"),
        ("three technique", "alignment", "3"),
        ("sits down", "techniques", "anchor"),
    ],
)
def test_a_term_by_any_way_to_say_it(vocabulary: Vocabulary, typed: str, group: str, name: str) -> None:
    assert canonical(vocabulary, typed, group) == name


def test_every_term_is_found_by_its_own_name(vocabulary: Vocabulary) -> None:
    for term in vocabulary.terms:
        if term.group in FIELD_GROUPS:
            assert canonical(vocabulary, term.id, term.group) == term.id
            assert is_said(term, term.id)


def test_a_typing_error_offers_the_nearest(vocabulary: Vocabulary) -> None:
    assert find_terms(vocabulary, "bulrush")[0].id == "bull rush"
    with pytest.raises(InputError, match=r"there is no move 'bulrush'; did you mean bull rush"):
        canonical(vocabulary, "bulrush", "moves")
    with pytest.raises(InputError, match=r"there is no set 'zzz'; the known ones are: .*vertical"):
        canonical(vocabulary, "zzz", "set")


@pytest.mark.parametrize("typed", ["", "   ", "?!", "\x1b[2J"])
def test_nothing_typed_finds_nothing(vocabulary: Vocabulary, typed: str) -> None:
    assert find_terms(vocabulary, typed) == []
