"""`reviewer notes`: what is in the library."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING

import click

from reviewer.commands.terminal import agreed, cell, console, remark, say
from reviewer.errors import InputError
from reviewer.review.plain import plain_json

if TYPE_CHECKING:
    from reviewer.store import Library, Note


@click.command()
@click.argument("which", required=False, metavar="[NOTE]")
@click.option("--game", metavar="GAME", help="Only notes of a game: its title, opponent or number.")
@click.option("--season", metavar="YEAR", help="Only notes of a season.")
@click.option("--json", "as_json", is_flag=True, help="Notes, or one note's grade rows, as JSON, one a line.")
@click.option("--captions", is_flag=True, help="Print the note's words as captions (WebVTT).")
@click.option("--rename", metavar="TITLE", help="Give the note another title.")
@click.option("--delete", is_flag=True, help="Remove the note with its rows and their history.")
@click.option("--yes", is_flag=True, help="Delete without asking.")
def notes(
    which: str | None,
    game: str | None,
    season: str | None,
    as_json: bool,
    captions: bool,
    rename: str | None,
    delete: bool,
    yes: bool,
) -> None:
    """List the notes, newest first; with NOTE (name or number), show its grade rows."""
    from reviewer.store import Library

    if which is None and (captions or rename or delete):
        raise InputError("say which note: `reviewer notes` lists them")
    with Library.open() if delete or rename else Library.open_to_read() as library:
        if which is None:
            _list(library, game, season, as_json)
        elif delete:
            _delete(library, which, yes)
        elif rename:
            _rename(library, which, rename)
        elif captions:
            _captions(library, which)
        else:
            _rows(library, which, as_json)


def _list(library: Library, game: str | None, season: str | None, as_json: bool) -> None:
    from reviewer.reports.gather import find_games
    from reviewer.store import notes as stored

    number = find_games(library, [game], season)[0] if game else None
    found = stored(library, game=number, season=season)
    if as_json:
        for note in found:
            told = json.dumps({**asdict(note), "settings": dict(note.settings)}, ensure_ascii=False)
            click.echo(plain_json(told))
    elif found:
        _table(found)
    else:
        remark("There is no note yet; `reviewer grade FILE` makes one.")


def _table(found: Sequence[Note]) -> None:
    from rich import box
    from rich.table import Table

    from reviewer.reports.wording import clock

    table = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0))
    for name in ("No.", "Name", "Date", "Player", "Against", "Length", "Rows", "Confirmed"):
        table.add_column(name, justify="left" if name in ("Name", "Against") else "right", overflow="fold")
    for note in found:
        man = " ".join(filter(None, (note.player, note.position)))
        length = "" if note.kind == "text" else clock(note.duration_s)
        cells = (
            str(note.id), note.slug, note.created[:10], man, note.opponent or "", length, str(note.rows),
            str(note.confirmed),
        )  # fmt: skip
        table.add_row(*map(cell, cells))
    console().print(table)


def _rows(library: Library, which: str, as_json: bool) -> None:
    from reviewer.commands.rows import ShownRow, show_rows, summary
    from reviewer.store import current_rows, note

    found = note(library, which)
    rows = current_rows(library, found.id)
    if as_json:
        for row in rows:
            click.echo(plain_json(row.current.model_dump_json()))
        return
    if not rows:
        remark(f"{found.title} has no rows.")
        return
    out = console()
    say(out, found.title, "bold")
    shown = [ShownRow(row.current, row.confirmed, row.corrected) for row in rows]
    show_rows(out, shown, found.kind != "text")
    say(out, summary(shown) + ".")


def _captions(library: Library, which: str) -> None:
    from reviewer.speech.captions import write_vtt
    from reviewer.store import note, words_of

    found = note(library, which)
    if found.kind == "text":
        raise InputError(f"{found.title} was plain text, which has no times for captions")
    click.echo(write_vtt(words_of(library, found.id)), nl=False)


def _rename(library: Library, which: str, title: str) -> None:
    from reviewer.store import note, rename_note

    rename_note(library, note(library, which).id, title)


def _delete(library: Library, which: str, yes: bool) -> None:
    from reviewer.store import delete_note, note

    found = note(library, which)
    about = f"{found.title}, {found.rows} rows, {found.confirmed} confirmed"
    agreed(f"Delete {about}? This cannot be undone; the recording itself stays.", yes)
    delete_note(library, found.id)
