"""What is typed into the search."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from reviewer import store
from reviewer.language.vocabulary import load_vocabulary
from reviewer.reports.finding import find, read_search
from reviewer.reports.lexicon import Lexicon, build_lexicon
from reviewer.store import Library
from tests.fuzz.hostile import EVIL, fuzzed, result_or_sentence
from tests.store.scene import new_note, scene

PIECES = (
    "player:74", "verdict:loss", "move:", 'game:"', "down:²", "note:٣",
    "down:" + "9" * 30, "note:" + "9" * 6_000,
    "confirmed:maybe", "sort:best", "season:'; DROP TABLE note; --", '"', "*", "hand*",
    "NEAR(a b, 2)", "a AND",
    "OR", "NOT x", "words : a", "{words} : x", "^win", "-win", "a + b", "(", ")", "'", ";--", "%", "_", "\\",
    "\0", "\ud800", EVIL, "x" * 3000, "win " * 200, "🏈", "e\u0301", "opponent:",
    "opponent:²", "opponent:Stags",
    "team:x", "no:", "before:1", "words:x", "limit:9", "stunt:t-e", "result:gain", "player:\0", "game:\ud800",
)  # fmt: skip


@pytest.fixture(scope="module")
def lexicon() -> Lexicon:
    return build_lexicon(load_vocabulary().terms)


@pytest.fixture(scope="module")
def library() -> Iterator[Library]:
    with Library.memory() as found:
        store.add_note(found, new_note(), scene())
        yield found


@fuzzed(150)
@given(st.lists(st.sampled_from(PIECES) | st.text(max_size=12), max_size=5), st.sampled_from([" ", "", ":"]))
@example(["down:²"], "")
@example(["opponent:²"], "")
@example(["note:" + "9" * 30], "")
def test_search(library: Library, lexicon: Lexicon, pieces: list[str], between: str) -> None:
    before = library.execute("SELECT count(*) FROM note").fetchone()
    asked = result_or_sentence(lambda: read_search(library, between.join(pieces), lexicon))
    if asked is not None:
        found = result_or_sentence(lambda: find(library, asked))
        for hit in found or ():
            assert all(0 <= first < last <= len(hit.text) for first, last in hit.marks)
    assert library.execute("SELECT count(*) FROM note").fetchone() == before


@pytest.mark.parametrize(
    "typed", ['"' * 20_000, "a " * 5_000, "a:" * 2_000, "*" * 20_000, "x*" * 3_000], ids=range(5)
)
def test_long_searches(library: Library, lexicon: Lexicon, typed: str) -> None:
    asked = result_or_sentence(lambda: read_search(library, typed, lexicon))
    if asked is not None:
        result_or_sentence(lambda: find(library, asked))
