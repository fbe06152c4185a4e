"""The pictures of the screens in docs/: `python -m tests.screens.pictures`."""

from __future__ import annotations

import asyncio
import os
import tempfile
from pathlib import Path

DOCS = Path(__file__).parents[2] / "docs"
SIZES = ((80, 24), (120, 40))

PICTURES: dict[str, tuple[str, ...]] = {
    "review": (),
    "review-pick": ("t", "a"),
}
"""Name of a picture and the keys that lead to it."""


async def take(name: str, keys: tuple[str, ...], size: tuple[int, int]) -> Path:
    """Take one picture of a fresh evening; returns its file."""
    from reviewer import store
    from reviewer.screens.review import ReviewApp
    from tests.screens.evening import add_evening

    with store.Library.memory() as library:
        app = ReviewApp(library, add_evening(library))
        async with app.run_test(size=size) as pilot:
            await pilot.press(*keys)
            await pilot.pause()
            target = DOCS / f"{name}-{size[0]}x{size[1]}.svg"
            target.write_text(app.export_screenshot(title="Reviewer"), "utf-8")
            return target


def main() -> None:
    """Take every picture at both sizes."""
    DOCS.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as home:
        os.environ["REVIEWER_HOME"] = home
        for name, keys in PICTURES.items():
            for size in SIZES:
                print(asyncio.run(take(name, keys, size)).name)


if __name__ == "__main__":
    main()
