"""How long search takes over a large library: `python -m benchmarks.search [--segments 1000000]`.

Makes a library of that many note segments out of the sample season (once; kept with --keep), then
times typed searches with filters, each for its first page of 50 hits, and prints median and 95th
percentile. Times are of the whole answer: reading what was typed, the query, the hits.
"""

from __future__ import annotations

import random
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from statistics import median, quantiles
from typing import Any

import click

from reviewer.intake.season import load_season
from reviewer.language.vocabulary import load_vocabulary
from reviewer.reports.finding import find, read_search
from reviewer.reports.lexicon import Lexicon, build_lexicon
from reviewer.store.library import Library

SEASON = Path(__file__).parents[1] / "shared" / "season"
SEGMENTS_A_NOTE = 40
FIRST_NOTE = 1000
TIMES = 12
"""Each search is answered so often, in turn with the others."""

SEARCHES: tuple[str, ...] = (
    "pancake", "pancake player:74", "bull rush player:74 verdict:loss", "bull rush season:2019",
    'inside counter opponent:"Salt Meadow"', "overset player:78 down:3", "lunge verdict:loss phase:pass",
    "spin player:55 season:2014", "soft edge set:vertical verdict:loss", "T-E stunt player:63",
    "resets his hands player:74 season:2030", "finishes player:66 confirmed:yes", "sack player:78",
    'move:"cross chop" set:jump verdict:win', "reach player:55 side:playside", "highlight season:2022",
    '"clip that one" player:74', "anchor verdict:win opponent:95", "bull rush 74 loss",
    '"nobody ever said this" player:74', "panckae player:74 season:2020",
    "third and long player:74 verdict:loss", "bull rush distance:7-10 season:2024",
    "pancake player:74 sort:oldest",
)  # fmt: skip
"""A term, or a term with filters, as typed."""

WHOLE: tuple[str, ...] = ("cross chop player:74 sort:down", "cross chop player:74 sort:confidence")
"""Orders that have to look at every hit; timed by themselves."""


@click.command()
@click.option("--segments", default=1_000_000, show_default=True, help="Size of the library.")
@click.option(
    "--keep", type=click.Path(path_type=Path), help="Keep the library in this file, and use it again."
)
def main(segments: int, keep: Path | None) -> None:
    """Time typed searches over a large library."""
    with tempfile.TemporaryDirectory() as folder:
        path = keep or Path(folder) / "gradebook.db"
        if not path.is_file():
            began = time.perf_counter()
            make_library(path, segments)
            click.echo(f"Library of {segments} segments made in {time.perf_counter() - began:.0f} s.")
        with Library.open(path) as library:
            report(measure(library, build_lexicon(load_vocabulary().terms)))


def make_library(path: Path, segments: int) -> None:
    """A library of so many segments: the sample season's talk over and over, in other seasons."""
    with Library.open(path) as library:
        load_season(library, SEASON)
        db = library.connection
        pool = db.execute(
            "SELECT words, terms, row_now.player, row_now.verdict, row_now.confirmed, grade, tags "
            "FROM segment JOIN row_now USING (row_id)"
        ).fetchall()
        triggers = db.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'segment'"
        ).fetchall()
        db.execute("PRAGMA foreign_keys = OFF")
        with library.writing():
            # One index build at the end is many times faster than an update a row.
            for name, _ in triggers:
                db.execute(f"DROP TRIGGER {name}")
            seasons = _season_tags(db)
            db.executemany(_NOTE, _notes(segments))
            db.executemany(_ROW, _rows(pool, segments))
            db.executemany(_SEGMENT, _segments(pool, segments, seasons))
            db.execute("INSERT INTO segment_fts (segment_fts) VALUES ('rebuild')")
            for _, sql in triggers:
                db.execute(sql)
        db.execute("ANALYZE")


_NOTE = (
    "INSERT INTO note (id, slug, title, kind, digest, identity, duration_s, created) "
    "VALUES (?, ?, ?, 'text', ?, ?, 600, '2030-01-01T00:00:00Z')"
)
_ROW = (
    'INSERT INTO row_now (row_id, note_id, reading_id, rep_id, rep, seq, start, "end", player, verdict, '
    "confirmed, confidence, corrected, comment, grade) "
    "VALUES (?, ?, 1, ?, ?, 0, ?, ?, ?, ?, ?, 0.9, '[]', '', ?)"
)
_SEGMENT = (
    'INSERT INTO segment (id, note_id, row_id, start, "end", words, terms, tags) '
    "VALUES (?, ?, ?, ?, ?, ?, ?, ?)"
)


def _season_tags(db: Any) -> list[str]:
    """Tag tokens of thirty seasons."""
    tokens = []
    for year in range(2001, 2031):
        db.execute("INSERT OR IGNORE INTO tag (field, value) VALUES ('season', ?)", (str(year),))
        found = db.execute("SELECT id FROM tag WHERE field = 'season' AND value = ?", (str(year),)).fetchone()
        tokens.append(f"q{found[0]}")
    return tokens


def _notes(segments: int) -> Iterator[tuple[Any, ...]]:
    for number in range(segments // SEGMENTS_A_NOTE + 1):
        note = FIRST_NOTE + number
        yield note, f"note-{note}", f"Note {note}", f"digest-{note}", f"identity-{note}"


def _places(segments: int) -> Iterator[tuple[int, int, int]]:
    """(row id, note id, place in the note) of each segment."""
    for number in range(segments):
        yield 10_000_000 + number, FIRST_NOTE + number // SEGMENTS_A_NOTE, number % SEGMENTS_A_NOTE


def _rows(pool: Sequence[tuple[Any, ...]], segments: int) -> Iterator[tuple[Any, ...]]:
    dice = random.Random(1)
    for row, note, place in _places(segments):
        _, _, player, verdict, confirmed, grade, _ = dice.choice(pool)
        yield row, note, row, place, place * 20.0, place * 20.0 + 15, player, verdict, confirmed, grade


def _segments(
    pool: Sequence[tuple[Any, ...]], segments: int, seasons: Sequence[str]
) -> Iterator[tuple[Any, ...]]:
    dice, years = random.Random(1), random.Random(2)
    for row, note, place in _places(segments):
        words, terms, _, _, _, _, tags = dice.choice(pool)
        first = (note << 24) + place * 3200
        yield (
            first,
            note,
            row,
            place * 20.0,
            place * 20.0 + 15,
            words,
            terms,
            f"{tags} {years.choice(seasons)}",
        )


def measure(library: Library, lexicon: Lexicon) -> dict[str, list[float]]:
    """Milliseconds of each search, by what was typed. The first answer of each warms the cache."""
    taken: dict[str, list[float]] = {typed: [] for typed in (*SEARCHES, *WHOLE)}
    for turn in range(TIMES + 1):
        for typed in taken:
            began = time.perf_counter()
            find(library, read_search(library, typed, lexicon))
            if turn:
                taken[typed].append(1000 * (time.perf_counter() - began))
    return taken


def report(taken: dict[str, list[float]]) -> None:
    """Print the times."""
    for typed, times in taken.items():
        click.echo(f"{median(times):8.1f} ms  {typed}")
    every = [value for typed, times in taken.items() if typed not in WHOLE for value in times]
    click.echo(
        f"{len(SEARCHES)} searches: median {median(every):.1f} ms, "
        f"95th percentile {quantiles(every, n=20)[-1]:.1f} ms"
    )


if __name__ == "__main__":
    main()
