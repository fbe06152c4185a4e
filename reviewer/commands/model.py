"""`reviewer model`: the speech models at hand."""

from __future__ import annotations

import click

from reviewer.commands.terminal import cell, console


@click.command()
@click.argument("name", required=False, metavar="[MODEL]")
def model(name: str | None) -> None:
    """List the speech models and their state; with MODEL, read all of its files and check them.

    MODEL is base, tiny.en, a folder that holds a CTranslate2 Whisper, or a name that faster-whisper
    knows: that one is fetched, which needs a network once.
    """
    if name is not None:
        _verify(name)
        return
    from rich import box
    from rich.table import Table

    from reviewer.speech.models import list_models

    table = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 2, 0, 0))
    for heading in ("Model", "State", "Size", ""):
        table.add_column(heading, justify="right" if heading == "Size" else "left", overflow="fold")
    for one in list_models():
        size = f"{one.size / 1_000_000:.0f} MB" if one.size else ""
        shown = f"{one.name} (default)" if one.default else one.name
        table.add_row(*map(cell, (shown, one.state, size, one.detail)))
    console().print(table)


def _verify(name: str) -> None:
    from reviewer.speech.models import find_model, verify

    found = find_model(name)
    verify(found)
    click.echo(f"{found.name} is undamaged, in {found.path}.")
