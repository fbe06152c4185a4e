"""The coach's own vocabulary file: lessons come and go, what he wrote stays to the letter."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewer.errors import InputError
from reviewer.review.own_words import add_entry, numbers, remove_entry

BY_HAND = """\
# mine
[[term]]
id = "gumbo"   # what we call it
group = "games"
forms = ["gumbo"]
"""


def ids(path: Path) -> list[str]:
    return [term["id"] for term in tomllib.loads(path.read_text("utf-8")).get("term", [])]


def test_lessons_come_and_go_around_what_was_written_by_hand(tmp_path: Path) -> None:
    path = tmp_path / "own" / "vocabulary.toml"
    path.parent.mkdir()
    path.write_text(BY_HAND, "utf-8")
    add_entry(
        1, "2031-09-01, Harrow Lake", {"id": "anchor", "group": "techniques", "forms": ["park it"]}, path
    )
    add_entry(2, "later", {"id": "lunge", "group": "faults", "forms": ["dive"]}, path)
    path.write_text(
        path.read_text("utf-8") + '\n# mine too\n[[term]]\nid = "roux"\ngroup = "games"\n', "utf-8"
    )
    assert ids(path) == ["gumbo", "anchor", "lunge", "roux"]
    assert remove_entry(2, path)
    assert ids(path) == ["gumbo", "anchor", "roux"]
    assert remove_entry(1, path)
    text = path.read_text("utf-8")
    assert text.startswith(BY_HAND)
    assert "# mine too" in text
    assert numbers(text) == set()


def test_adding_twice_adds_once_and_removing_twice_is_no_error(tmp_path: Path) -> None:
    path = tmp_path / "vocabulary.toml"
    for _ in range(2):
        add_entry(7, "x", {"id": "anchor", "group": "techniques", "forms": ["park it"]}, path)
    assert ids(path) == ["anchor"]
    assert remove_entry(7, path)
    assert not remove_entry(7, path)
    assert path.read_text("utf-8") == ""


def test_a_file_that_cannot_be_read_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "vocabulary.toml"
    path.write_bytes(b"\xff\xfe broken")
    with pytest.raises(InputError, match="cannot be read"):
        add_entry(1, "x", {"id": "a", "group": "moves", "forms": ["a"]}, path)
    assert path.read_bytes() == b"\xff\xfe broken"


@given(
    st.lists(
        st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x7f")), min_size=1, max_size=3
    )
)
def test_any_words_come_back_as_they_were(words: list[str]) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "vocabulary.toml"
        add_entry(3, "x", {"id": words[0], "group": "wording", "mishearings": words}, path)
        term = tomllib.loads(path.read_text("utf-8"))["term"][0]
        assert (term["id"], term["mishearings"]) == (words[0], words)
