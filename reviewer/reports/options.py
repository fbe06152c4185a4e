"""Options that the commands of reports share, and what they say put together."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from reviewer.errors import InputError

if TYPE_CHECKING:
    from datetime import date

    from reviewer.reports.document import Document
    from reviewer.reports.gather import Selection
    from reviewer.store.library import Library

ENDINGS = {
    ".html": "html",
    ".htm": "html",
    ".pdf": "pdf",
    ".xlsx": "xlsx",
    ".csv": "csv",
    ".json": "json",
    ".md": "md",
    ".txt": "table",
}
"""Endings of --out that say the format."""

MOST_ROWS = 10_000
"""A search that a report is made of takes at most so many rows."""

Command = Callable[..., None]


def selection_options(command: Command) -> Command:
    """The options that choose games and rows."""
    options = (
        click.option(
            "--game",
            "games",
            multiple=True,
            metavar="GAME",
            help="Only this game (title, date, opponent or number); may be given again.",
        ),
        click.option("--season", metavar="YEAR", help="Only this season."),
        click.option("--since", metavar="DAY", help="Only games from this day on (2031-09-05)."),
        click.option("--until", metavar="DAY", help="Only games up to this day."),
        click.option("--confirmed", is_flag=True, help="Only rows that the coach has confirmed."),
    )
    for option in reversed(options):
        command = option(command)
    return command


def output_options(command: Command) -> Command:
    """The options that say how and where a report goes."""
    from reviewer.reports.formats import AUDIO_CHOICES, FORMATS

    options = (
        click.option(
            "--format",
            "format_",
            type=click.Choice(FORMATS),
            help="How it comes; from --out's ending when left out, else a table.",
        ),
        click.option(
            "--out",
            type=click.Path(path_type=Path),
            metavar="FILE",
            help="Where it goes; the terminal when left out.",
        ),
        click.option("--words", is_flag=True, help="Show what was said, in the table too."),
        click.option(
            "--audio",
            type=click.Choice(AUDIO_CHOICES),
            default="link",
            help="HTML: link the recordings, copy them beside the page, or none.",
        ),
        click.option(
            "--anonymous", is_flag=True, help="For sharing: names and numbers replaced, free text left out."
        ),
    )
    for option in reversed(options):
        command = option(command)
    return command


def selection(library: Library, given: dict[str, Any], player: str | None = None) -> Selection:
    """The selection that the options of `selection_options` make; they are taken out of `given`."""
    from reviewer.reports.gather import Selection, find_games

    named = given.pop("games", ())
    season = given.pop("season", None)
    return Selection(
        player=player,
        games=find_games(library, named, season),
        season=season,
        since=day("--since", given.pop("since", None)),
        until=day("--until", given.pop("until", None)),
        confirmed=bool(given.pop("confirmed", False)),
    )


def narrowed(
    library: Library, chosen: Selection, typed: str = "", saved: str | None = None, note: str | None = None
) -> Selection:
    """The selection narrowed to a typed search, a saved one, and a note.

    Remarks on what was read otherwise than typed go to stderr.
    """
    from dataclasses import replace

    from reviewer.commands.terminal import remark
    from reviewer.language.vocabulary import load_vocabulary
    from reviewer.reports.finding import find, read_search
    from reviewer.reports.lexicon import build_lexicon
    from reviewer.store.notes import note as note_of
    from reviewer.store.saved import saved_search

    if note is not None:
        chosen = replace(chosen, notes=(note_of(library, note).id,))
    text = " ".join(filter(None, [saved_search(library, saved).typed if saved else "", typed]))
    if not text.strip():
        return chosen
    asked = read_search(library, text, build_lexicon(load_vocabulary().terms), limit=MOST_ROWS)
    for sentence in asked.remarks:
        remark(sentence)
    return replace(chosen, rows=tuple(hit.row for hit in find(library, asked) if hit.row is not None))


def day(option: str, text: str | None) -> date | None:
    """The day that an option gives. Raises InputError when it is none."""
    if text is None:
        return None
    with suppress(ValueError):
        return datetime.strptime(text.strip(), "%Y-%m-%d").date()
    raise InputError(f"{option} takes a day such as 2031-09-05, not {text!r}.")


def put_out(
    document: Document, format_: str | None, out: Path | None, *, words: bool = False, audio: str = "link"
) -> None:
    """Show the document, or write it and say where.

    Raises InputError when a format needs a file and none is named.
    """
    from reviewer.commands.terminal import console, remark
    from reviewer.reports.formats import BINARY, render, write

    chosen = format_ or (ENDINGS.get(out.suffix.lower(), "table") if out else "table")
    if out is not None:
        remark(f"Written: {write(document, chosen, out, audio=audio, words=words)}")
    elif chosen in BINARY:
        raise InputError(f"A report as {chosen} needs a file; name one with --out.")
    elif chosen == "table":
        from reviewer.reports.formats.as_text import show

        show(document, console(), words)
    else:
        click.echo(render(document, chosen), nl=False)
