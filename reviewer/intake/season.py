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
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reviewer.errors import InputError
from reviewer.playlist import EMPTY
from reviewer.records import Evidence, GradeRow, NoteContext, Reading, Rep, Word

if TYPE_CHECKING:
    from reviewer.store.library import Library

SURE = 0.97
"""Confidence of a row whose first reading was not in doubt."""

HEAD = ("title", "team", "season", "date", "opponent")
"""What a note's first line must say, as text."""

MOST_BYTES = 5_000_000
MOST_REPS = 10_000
LATEST_S = 360_000.0
"""A hundred hours: the latest second of talk that is believed."""

Progress = Callable[[int, int], None]
"""Called with notes done and all notes."""


@dataclass(frozen=True)
class SeasonLoaded:
    """What came in: counts."""

    games: int
    notes: int
    rows: int


@dataclass(frozen=True)
class _Note:
    """A note's file: the SHA-256 of its bytes, its head, its stretches of talk, and these as read."""

    path: Path
    digest: str
    head: Mapping[str, Any]
    blocks: Sequence[Mapping[str, Any]]
    reading: Reading


def load_season(library: Library, folder: Path, progress: Progress | None = None) -> SeasonLoaded:
    """Bring the season of a folder into the grade book: rosters, games, notes and rows.

    Every file is read before anything is kept. Loading the same season twice changes nothing. Raises
    InputError when the folder is no season.
    """
    from reviewer.intake.games import import_games
    from reviewer.intake.rosters import import_roster

    notes = [_note(path) for path in sorted((folder / "notes").glob("*.jsonl"))]
    if not notes:
        raise InputError(f"{folder} holds no season (no notes/*.jsonl in it); name the folder of one.")
    head = notes[0].head
    with library.writing():
        import_roster(library, folder / "roster.csv", team=head["team"], season=head["season"], own=True)
        import_roster(library, folder / "roster-opponents.csv", season=head["season"], own=False)
        games = import_games(library, folder / "games.csv", team=head["team"]).saved
    for done, note in enumerate(notes, 1):
        _load_note(library, note)
        if progress is not None:
            progress(done, len(notes))
    return SeasonLoaded(len(set(games)), len(notes), sum(len(note.reading.rows) for note in notes))


def _note(path: Path) -> _Note:
    """A note as it stands in its file. Raises InputError, naming the file, for anything that is none."""
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
        if len(data) > MOST_BYTES:
            raise ValueError(f"it is larger than {MOST_BYTES // 1_000_000} MB")
        head, *blocks = [json.loads(line) for line in data.decode("utf-8").split("\n") if line.strip()]
        _check(head, blocks)
        return _Note(path, hashlib.sha256(data).hexdigest(), head, blocks, season_reading(blocks))
    except OSError as problem:
        why = problem.strerror or str(problem)
    except KeyError as problem:
        why = f"it has no {problem.args[0]}"
    except (ValueError, TypeError, IndexError, AttributeError, OverflowError, RecursionError) as problem:
        why = str(problem).partition("\n")[0]
    raise InputError(f"The season's note {path} cannot be read ({why}); mend it or take it out.")


def _check(head: Mapping[str, Any], blocks: Sequence[Mapping[str, Any]]) -> None:
    """Raise ValueError, KeyError or TypeError for what could not be kept, whoever would notice it later."""
    try:
        json.dumps([head, blocks], ensure_ascii=False).encode("utf-8")
    except UnicodeEncodeError:
        raise ValueError("it holds half a character") from None
    if bad := [key for key in HEAD if not isinstance(head[key], str) or not head[key].strip()]:
        raise ValueError(f"its {bad[0]} is no text")
    if not isinstance(head["confirmed"], bool):
        raise ValueError("confirmed is neither true nor false")
    if not blocks:
        raise ValueError("nothing was said in it")
    for block in blocks:
        if not (isinstance(block["rep"], int) and 1 <= block["rep"] <= MOST_REPS):
            raise ValueError("the number of a rep is none")
        if not 0 <= block["start"] <= block["end"] <= LATEST_S:
            raise ValueError(f"its talk of rep {block['rep']} has no times that can be")
        if not block["text"].split():
            raise ValueError(f"its talk of rep {block['rep']} has no words")
        for entry in block["rows"]:
            # as the coach settled it; season_reading makes the first reading
            GradeRow(rep=block["rep"], start=block["start"], end=block["end"], **entry["row"])


def _load_note(library: Library, note: _Note) -> None:
    from reviewer.store.notes import NewNote, add_note, find_note

    head = note.head
    game = _game(library, head)
    context = NoteContext(opponent=head["opponent"], game=head["title"], level="college")
    if find_note(library, note.digest, context, game) is not None:
        return
    new = NewNote(
        digest=note.digest,
        kind="text",
        duration_s=note.reading.words[-1].end,
        context=context,
        title=head["title"],
        source=note.path.name,
        game_id=game,
        model="sample season",
    )
    # together, or a loading that was cut off between them would leave the note unconfirmed for good
    with library.writing():
        added = add_note(library, new, note.reading)
        if head["confirmed"]:
            _settle(library, added, [entry for block in note.blocks for entry in block["rows"]])


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


@lru_cache(maxsize=4096)
def _plain(word: str) -> str:
    return re.sub(r"[^\w'-]", "", word).lower()
