"""Bring a season kept as plain files into the grade book, as the sample season is.

The folder holds `roster.csv`, `roster-opponents.csv`, `games.csv`, `plays/*.csv` and `notes/*.jsonl`.
A note's first line is its head (title, team, season, date, opponent, confirmed); each further line is
one stretch of talk: rep, start, end (seconds), text, and rows as {"row": the row as the coach settled
it, "said": field -> the words in the text that carry it}. Where the first reading was not sure, a row
has its "confidence"; where it read otherwise, "first" (field -> its value); "settled" is false where the
coach has not settled the row yet.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reviewer.errors import InputError
from reviewer.playlist import EMPTY
from reviewer.records import Evidence, GradeRow, NoteContext, Reading, Rep, Word

if TYPE_CHECKING:
    from reviewer.store.library import Library

SURE = 0.97
"""Confidence of a row whose first reading was not in doubt."""

Progress = Callable[[int, int], None]
"""Called with notes done and all notes."""


@dataclass(frozen=True)
class SeasonLoaded:
    """What came in: counts."""

    games: int
    notes: int
    rows: int


def load_season(library: Library, folder: Path, progress: Progress | None = None) -> SeasonLoaded:
    """Bring the season of a folder into the grade book: rosters, games, notes and rows.

    Loading the same season twice changes nothing. Raises InputError when the folder is no season.
    """
    from reviewer.intake.games import import_games
    from reviewer.intake.rosters import import_roster

    notes = sorted((folder / "notes").glob("*.jsonl"))
    if not notes:
        raise InputError(f"{folder} holds no season (no notes/*.jsonl in it); name the folder of one.")
    head = _lines(notes[0])[0]
    import_roster(library, folder / "roster.csv", team=head["team"], season=head["season"], own=True)
    import_roster(library, folder / "roster-opponents.csv", season=head["season"], own=False)
    games = import_games(library, folder / "games.csv", team=head["team"]).saved
    rows = 0
    for done, path in enumerate(notes, 1):
        rows += _load_note(library, path)
        if progress is not None:
            progress(done, len(notes))
    return SeasonLoaded(len(games), len(notes), rows)


def _lines(path: Path) -> list[dict[str, Any]]:
    try:
        return [json.loads(line) for line in path.read_text("utf-8").splitlines() if line.strip()]
    except (OSError, ValueError) as problem:
        raise InputError(
            f"The season's note {path} cannot be read ({problem}); mend it or take it out."
        ) from problem


def _load_note(library: Library, path: Path) -> int:
    from reviewer.store.notes import NewNote, add_note, find_note

    head, *blocks = _lines(path)
    reading = season_reading(blocks)
    game = _game(library, head)
    context = NoteContext(opponent=head["opponent"], game=head["title"], level="college")
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    if find_note(library, digest, context, game) is not None:
        return len(reading.rows)
    new = NewNote(
        digest=digest,
        kind="text",
        duration_s=reading.words[-1].end,
        context=context,
        title=head["title"],
        source=path.name,
        game_id=game,
        model="sample season",
    )
    # together, or a loading that was cut off between them would leave the note unconfirmed for good
    with library.writing():
        note = add_note(library, new, reading)
        if head["confirmed"]:
            _settle(library, note, [entry for block in blocks for entry in block["rows"]])
    return len(reading.rows)


def _settle(library: Library, note: int, entries: Sequence[Mapping[str, Any]]) -> None:
    """Decide the rows of a note as its coach did: the doubtful ones each, then the others at once."""
    from reviewer.store.edit import confirm_above, set_confirmed, set_fields
    from reviewer.store.notes import current_rows

    for row, entry in zip(current_rows(library, note), entries, strict=True):
        if entry.get("confidence", SURE) >= SURE or not entry.get("settled", True):
            continue
        if first := entry.get("first"):
            set_fields(library, row.id, {field: entry["row"][field] for field in first})
        set_confirmed(library, row.id)
    confirm_above(library, note, SURE)


def _game(library: Library, head: Mapping[str, Any]) -> int | None:
    from reviewer.store.rosters import find_games

    found = [
        game.id
        for game in find_games(library, head["opponent"], head["season"])
        if game.date and game.date.isoformat() == head["date"]
    ]
    return found[0] if found else None


def season_reading(blocks: Sequence[Mapping[str, Any]]) -> Reading:
    """The words, reps and rows of a note's stretches as first read. Words share a stretch's time evenly."""
    words: list[Word] = []
    reps: list[Rep] = []
    rows: list[GradeRow] = []
    for block in blocks:
        first = len(words)
        said = _timed(block["text"], block["start"], block["end"])
        words += said
        reps.append(Rep(block["rep"], block["start"], block["end"], ((first, len(words)),)))
        rows += [_row(block, said, entry) for entry in block["rows"]]
    return Reading(words, (), reps, rows)


def _timed(text: str, start: float, end: float) -> list[Word]:
    parts = text.split()
    step = (end - start) / len(parts)
    return [
        Word(part, round(start + n * step, 2), round(start + (n + 1) * step, 2))
        for n, part in enumerate(parts)
    ]


def _row(block: Mapping[str, Any], said: Sequence[Word], entry: Mapping[str, Any]) -> GradeRow:
    begin = _find(said, entry["said"]["player"][0]) or (0, len(said))
    values = {**entry["row"], **entry.get("first", {})}
    evidence = {
        field: [_evidence(said, phrase, begin[0]) for phrase in phrases]
        for field, phrases in entry["said"].items()
        if values[field] not in EMPTY
    }
    return GradeRow(
        rep=block["rep"],
        start=block["start"],
        end=block["end"],
        confidence=entry.get("confidence", SURE),
        evidence=evidence,
        **values,
    )


def _evidence(said: Sequence[Word], phrase: str, begin: int) -> Evidence:
    """Where a phrase was said: after the man was named, or else (the situation) before."""
    first, last = _find(said, phrase, begin) or _find(said, phrase) or (0, len(said))
    return Evidence(start=said[first].start, end=said[last - 1].end, heard=phrase, read=phrase)


def _find(said: Sequence[Word], phrase: str, begin: int = 0) -> tuple[int, int] | None:
    wanted = [_plain(part) for part in phrase.split()]
    spoken = [_plain(word.text) for word in said]
    for first in range(begin, len(spoken) - len(wanted) + 1):
        if spoken[first : first + len(wanted)] == wanted:
            return first, first + len(wanted)
    return None


def _plain(word: str) -> str:
    return re.sub(r"[^\w'-]", "", word).lower()
