"""The coach's own files: his vocabulary and his grading scale."""

from __future__ import annotations

import math

import pytest
from hypothesis import given

from reviewer.errors import InputError
from reviewer.language.vocabulary import FIELD_GROUPS, load_vocabulary
from reviewer.reports.scale import grade, load_scale
from tests.fuzz.hostile import file_of, fuzzed, result_or_sentence, spoilt
from tests.reports.build import run_of

VOCABULARY = b"""
[[term]]
id = "swim"
group = "moves"
forms = ["windmill", "bring <poss> arm? over", "a|b *  hand"]
mishearings = ["wind mill"]

[[term]]
id = "swat"
group = "techniques"
definition = "He knocks the hands down."
weight = 1.5
forms = ["swat _ hand"]
"""
SCALE = b"""
title = "Ours"
about = "two for a win"
show = "average"
cutoff = 1.25
[verdict]
win = 2
neutral = 1
loss = 0
[assignment]
"+" = 1
"-" = -1
[events]
knockdown = 1
"""


@fuzzed(120)
@given(spoilt([VOCABULARY]))
def test_vocabulary(data: bytes) -> None:
    with file_of(data, "vocabulary.toml") as path:
        known = result_or_sentence(lambda: load_vocabulary(path))
    if known is not None:
        assert all(math.isfinite(term.weight) for term in known.terms)
        assert len(known.terms) > 100


@fuzzed(120)
@given(spoilt([SCALE]))
def test_scale(data: bytes) -> None:
    with file_of(data, "scale.toml") as path:
        scale = result_or_sentence(lambda: load_scale(str(path)))
    if scale is not None:
        found = grade([rep.row for rep in run_of(3, 2)], scale)
        assert found.value is None or math.isfinite(found.value)
        assert math.isfinite(scale.cutoff)


@pytest.mark.parametrize(
    "text",
    [
        "x = " + "[" * 20_000,
        "x = " + "{a=" * 5_000,
        ".".join("a" * 2000) + " = 1\n[[term]]\nid = 1",
        "[" + ".".join("a" * 5000) + "]\n[[term]]\nid = 1",
        "cutoff = nan\n[verdict]\nwin = 1\nloss = 0",
        'show = "average"\ncutoff = nan\n[verdict]\nwin = 1\nloss = 0',
        "[verdict]\nwin = inf\nloss = 0",
        "[verdict]\nwin = 1" + "0" * 400 + "\nloss = 0",
        "[verdict]\nwin = 1" + "0" * 5000 + "\nloss = 0",
        '[[term]]\nid = "a"\ngroup = "moves"\nweight = "heavy"',
        '[[term]]\nid = "a"\ngroup = "moves"\nweight = nan',
        '[[term]]\nid = "a"\ngroup = "moves"\nweight = [1]',
        '[[term]]\nid = "a"\ngroup = "moves"\nactor = "referee"',
        '[[term]]\nid = ""\ngroup = "moves"',
        '[[term]]\nid = "a\\u0000b"\ngroup = "moves"',
        '[[term]]\nid = "a\\u001b[2J"\ngroup = "moves"',
        "x = " + '"' + "y" * 10_000_000 + '"',
    ],
    ids=range(17),
)
def test_absurd_files_are_refused(text: str) -> None:
    with file_of(text.encode(), "own.toml") as path:
        if "verdict" not in text:
            with pytest.raises(InputError):
                load_vocabulary(path)
        with pytest.raises(InputError):
            load_scale(str(path))


def test_the_groups_of_a_grade_row_are_known() -> None:
    assert {term.group for term in load_vocabulary().terms} >= FIELD_GROUPS
