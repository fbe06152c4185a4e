"""Options that several commands take, and what they say put together."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from reviewer.commands.terminal import remark

if TYPE_CHECKING:
    from reviewer.pipeline import HearWith, Said

LEVELS = ("professional", "college", "high school")


def note_options(command: Callable[..., None]) -> Callable[..., None]:
    """The options that say what a note is about and how to hear it."""
    options = (
        click.option(
            "--player", metavar="NO", help="Man under review: his number, or his name on the roster."
        ),
        click.option("--position", metavar="POS", help="His position: LT, LG, C, RG, RT, TE, …"),
        click.option("--opponent", metavar="TEAM", help="The other team."),
        click.option(
            "--game", metavar="GAME", help="The game: its title or number; a new title makes a game."
        ),
        click.option("--season", metavar="YEAR", help="Season of the game; the running one when left out."),
        click.option("--team", metavar="TEAM", help="Your own team, where the grade book does not know it."),
        click.option("--level", type=click.Choice(LEVELS), help="Sets the rules of jersey numbers."),
        click.option(
            "--roster",
            metavar="FILE",
            type=click.Path(path_type=Path),
            help="Both teams' men: CSV or XLSX with jersey, name, position, side (own or opp).",
        ),
        click.option("--keep", is_flag=True, help="Copy the recording into the library folder too."),
        click.option("--model", metavar="MODEL", help="Speech model: see `reviewer model`."),
        click.option(
            "--allow-broken", is_flag=True, help="Use what there is of a recording that breaks off."
        ),
    )
    for option in reversed(options):
        command = option(command)
    return command


def announce_model(name: str | None) -> None:
    """Say that the network will be asked for a model, before it is: nothing else ever goes there."""
    if name is None:
        return
    from reviewer.speech.models import is_to_be_fetched

    if is_to_be_fetched(name):
        remark(
            f"The speech model {name} is not on this machine: it is fetched from the network, once; "
            "nothing of yours is sent."
        )


_HEARING = ("model", "allow_broken")


def said_from(given: Mapping[str, Any]) -> Said:
    """What the options of `note_options` say about the note."""
    from reviewer.pipeline import Said

    return Said(**{name: value for name, value in given.items() if name not in (*_HEARING, "keep")})


def how_from(given: Mapping[str, Any]) -> HearWith:
    """How the options of `note_options` say to hear it."""
    from reviewer.pipeline import HearWith

    announce_model(given["model"])
    return HearWith(**{name: given[name] for name in _HEARING})
