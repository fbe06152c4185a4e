"""The keys a review takes: no more than promised for any fix, and the rows end as annotated."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence

from reviewer.language.read import Reader
from tests.annotated import AnnotatedNote, load_part
from tests.keys import MOST, Count, review


def counted(notes: Sequence[AnnotatedNote], plan: bool) -> list[Count]:
    reader = Reader.load()
    return [asyncio.run(review(note, reader.read(note.words, note.context), plan)) for note in notes]


def test_no_fix_takes_more_keys_than_promised() -> None:
    counts = counted(load_part("dev")[::11], plan=True)
    fixes = {kind: keys for count in counts for kind, keys in count.fixes.items()}
    assert {"term", "jersey"} <= set(fixes)
    for count in counts:
        for kind, keys in count.fixes.items():
            assert max(keys) <= MOST.get(kind, 6), kind
        # what cannot be reached by keys would never end as annotated
        assert count.wrong_after == 0
        assert count.rows > 0


def test_the_same_keys_do_it_in_the_screen() -> None:
    shortest = min(load_part("dev"), key=lambda note: len(note.words))
    (count,) = counted([shortest], plan=False)
    assert count.wrong_after == 0
    assert count.keys >= count.rows > 0
