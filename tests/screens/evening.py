"""The evening of the pictures: an invented note with a fixed reading, its rosters and its game.

The reading is kept (`data/evening.json`), so that pictures show the screen and not the reader of the
day. `python -m tests.screens.evening` reads the talk anew and writes it.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

from reviewer import store
from reviewer.language.vocabulary import Term, Vocabulary
from reviewer.records import GradeRow, Mend, NoteContext, Reading, Rep, RosterEntry, Word
from tests.annotated import load_note

DATA = Path(__file__).parent / "data"
TITLE = "Harrow Lake, first half"

MISHEARD = (("T-E stunt,", "East on,"), ("a long arm", "along arm"), ("jump sets", "jumps it's"))
"""As read and as a speech model would write it: the reading mends them."""


def reading() -> Reading:
    """The kept reading."""
    data = json.loads((DATA / "evening.json").read_text("utf-8"))
    rows = [
        GradeRow.model_validate({**row, "field_confidence": sure})
        for row, sure in zip(data["rows"], data["field_confidence"], strict=True)
    ]
    reps = [Rep(r["index"], r["start"], r["end"], tuple(map(tuple, r["stretches"]))) for r in data["reps"]]
    words = [Word(**word) for word in data["words"]]
    return Reading(words, tuple(Mend(**mend) for mend in data["mends"]), tuple(reps), tuple(rows))


def context() -> NoteContext:
    """What is known of the note."""
    return load_note(DATA / "evening.yaml").context


TERMS = {
    "faults": {"lunge": "He throws his body at the man instead of moving his feet to him.",
               "late hands": "His hands come after the man's.", "overset": "He sets too far out."},
    "techniques": {"pass off": "Two blockers exchange stunting rushers.", "processing": "He sees it in time.",
                   "anchor": "He sits down and stops a bull rush.", "punch": "He strikes with both hands."},
    "games": {"T-E stunt": "The tackle goes first, the end loops.", "twist": "Two inside men cross."},
    "moves": {"swim": "The rusher brings his arm over the top."},
    "set": {"vertical": "Straight back.", "jump": "Straight at the rusher."},
}  # fmt: skip


def vocabulary() -> Vocabulary:
    """A few terms that stay as they are, for pictures."""
    terms = [
        Term(name, group, meaning, forms=(name.lower(),))
        for group, found in TERMS.items()
        for name, meaning in found.items()
    ]
    return Vocabulary(tuple(terms), "pictures")


def add_game(library: store.Library, roster: tuple[RosterEntry, ...], opponent: str) -> int:
    """A game with both rosters; returns its id."""
    own = [man for man in roster if man.side == "own"]
    store.save_roster(library, "Cedar Bend", "2031", own, own=True)
    store.save_roster(library, opponent, "2031", [man for man in roster if man.side == "opp"])
    title = f"at {opponent}"
    return store.save_game(library, store.Game(title, "2031", team="Cedar Bend", opponent=opponent))


def add_evening(library: store.Library, **given: Any) -> int:
    """Store the note with its game and rosters; returns its id. given: other facts of the note."""
    known = context()
    game = add_game(library, known.roster, known.opponent or "Harrow Lake")
    read = reading()
    facts = {"digest": "evening", "kind": "text", "title": TITLE, "game_id": game, **given}
    note = store.NewNote(duration_s=read.words[-1].end, context=known, **facts)
    return store.add_note(library, note, read)


def _mended(words: list[Word]) -> tuple[list[Word], list[Mend]]:
    """The words with the misheard stretches as mends."""
    result, mends = list(words), []
    for read, heard in MISHEARD:
        pieces = read.split()
        first = next(i for i in range(len(words)) if [w.text for w in words[i : i + len(pieces)]] == pieces)
        last = first + len(pieces)
        start, end = words[first].start, words[last - 1].end
        mends.append(Mend(first, last, start, end, heard, read, 0.9))
        result[first] = Word(words[first].text, start, words[first].end, 0.6, heard)
        for index in range(first + 1, last):
            word = words[index]
            result[index] = Word(word.text, word.start, word.end, 0.6, "")
    return result, sorted(mends, key=lambda mend: mend.first)


def main() -> None:
    """Read the talk and keep the reading."""
    from reviewer.language.read import Reader

    note = load_note(DATA / "evening.yaml")
    words, mends = _mended(list(note.words))
    read = Reader.load().read(words, note.context)
    kept = {
        "words": [asdict(word) for word in words],
        "mends": [asdict(mend) for mend in mends],
        "reps": [asdict(rep) for rep in read.reps],
        "rows": [row.model_dump() for row in read.rows],
        "field_confidence": [row.field_confidence for row in read.rows],
    }
    (DATA / "evening.json").write_text(json.dumps(kept, indent=0, ensure_ascii=False), "utf-8")


if __name__ == "__main__":
    main()
