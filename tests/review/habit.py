"""A speaker with a habit: three notes, each reviewed with what was learned from those before.

`python -m tests.review.habit` prints the fixes each note took, with learning and without.
"""

from __future__ import annotations

import asyncio
import os
import tempfile
from pathlib import Path
from typing import Any

import yaml

from reviewer import paths, store
from reviewer.compare.annotated import AnnotatedNote, load_note
from reviewer.language.read import Reader
from reviewer.review import lessons
from reviewer.review.session import Session
from tests.keys import Fix, Walk
from tests.screens.evening import add_game

DATA = Path(__file__).parent / "data"


def notes() -> list[tuple[AnnotatedNote, list[dict[str, Any]]]]:
    """The three notes with the speaker's habits."""
    found = sorted(DATA.glob("habit-*.yaml"))
    return [(load_note(path), yaml.safe_load(path.read_text("utf-8"))["habits"]) for path in found]


class Taught(Walk):
    """A review in which each fix that a saying of his explains is learned from."""

    habits: list[dict[str, Any]]

    async def _fix(self, fix: Fix) -> None:
        await super()._fix(fix)
        meaning = lessons.meaning_of_fix(self.session)
        said = self._said(fix) if meaning else None
        if meaning is not None and said is not None:
            lessons.teach(self.session, meaning, *said)

    def _said(self, fix: Fix) -> tuple[int, int] | None:
        """The words of the row's rep that a habit explains this fix by."""
        assert self.session.row is not None
        rep = self.session.state.rep(self.session.row.rep_id)
        assert rep is not None
        for habit in self.habits:
            value = fix.values.get(habit["slot"], ())
            if habit["value"] != value and habit["value"] not in value:
                continue
            wanted = habit["words"].split()
            for first, last in rep.stretches:
                for at in range(first, last - len(wanted) + 1):
                    words = [w.text.lower().strip(".,") for w in self.session.words[at : at + len(wanted)]]
                    if words == wanted:
                        return at, at + len(wanted)
        return None


def fixes_by_note(home: Path, learn: bool) -> list[int]:
    """How many fixes each of the three notes took, in a library under `home`."""
    os.environ[paths.HOME_VARIABLE] = str(home)
    counts = []
    with store.Library.open() as library:
        for note, habits in notes():
            reader = Reader.load()
            reading = reader.read(note.words, note.context)
            game = add_game(library, note.context.roster, note.context.opponent or "them")
            new = store.NewNote(note.slug, "text", 90.0, note.context, note.slug, game_id=game)
            session = Session(library, store.add_note(library, new, reading))
            walk = Taught(session, note, reading) if learn else Walk(session, note, reading)
            if isinstance(walk, Taught):
                walk.habits = habits
            count = asyncio.run(walk.go())
            assert not count.other_cuts, f"{note.slug} was cut otherwise than annotated"
            counts.append(sum(len(keys) for keys in count.fixes.values()))
    return counts


def main() -> None:
    """Print both counts."""
    with tempfile.TemporaryDirectory() as folder:
        print("fixes in the first, second, third note")
        print("with learning:   ", fixes_by_note(Path(folder) / "a", learn=True))
        print("without learning:", fixes_by_note(Path(folder) / "b", learn=False))


if __name__ == "__main__":
    main()
