"""The page about the room tells the truth: its keys are those that are bound, its pictures are there."""

from __future__ import annotations

import re

from tests.screens.pictures import DOCS, PICTURES, SIZES, with_keys

PAGE = DOCS / "review.md"


def test_the_keys_on_the_page_are_those_of_the_screens() -> None:
    text = PAGE.read_text("utf-8")
    assert with_keys(text) == text, "run python -m tests.screens.pictures"


def test_every_picture_on_the_page_is_there_and_every_screen_has_its_picture() -> None:
    text = PAGE.read_text("utf-8")
    assert all((DOCS / name).is_file() for name in re.findall(r"\]\(([^)]+\.svg)\)", text))
    assert all((DOCS / f"{name}-{w}x{h}.svg").is_file() for name in PICTURES for w, h in SIZES)
    text += (DOCS.parent / "README.md").read_text("utf-8").replace("](docs/", "](")
    shown = {re.sub(r"-\d+x\d+\.svg$", "", name) for name in re.findall(r"\]\(([^)]+\.svg)\)", text)}
    assert shown == {*PICTURES, "record"}
