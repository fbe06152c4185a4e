"""`reviewer forget`: a person taken out of the library."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from reviewer.commands.terminal import agreed, counting, remark, stoppable
from reviewer.errors import InputError

if TYPE_CHECKING:
    from reviewer.forgetting import Gone


@click.command()
@click.argument("player", required=False, metavar="[PLAYER]")
@click.option("--jersey", metavar="NUMBER", help="Say him by his number.")
@click.option("--team", metavar="TEAM", help="His team, where several men fit.")
@click.option("--season", metavar="YEAR", help="Only his roster lines, rows and words of a season.")
@click.option(
    "--note", "notes", multiple=True, metavar="NOTE", help="A note without a game that is about him."
)
@click.option("--dry-run", is_flag=True, help="Only say what would be removed.")
@click.option("--yes", is_flag=True, help="Remove without asking.")
def forget(
    player: str | None,
    jersey: str | None,
    team: str | None,
    season: str | None,
    notes: tuple[str, ...],
    dry_run: bool,
    yes: bool,
) -> None:
    """Remove a person: roster lines, rows that grade him, his name wherever it was said or written.

    His rows and their history go, the name in transcripts becomes [removed], recordings in the library
    fall silent where he is graded or named, the search index, backups in the library folder and the file
    itself are written anew. This cannot be undone. Say him by name, or by --jersey with --team and
    --season.
    """
    from reviewer.forgetting import forget_person

    if player is None and (jersey is None or team is None or season is None):
        raise InputError("say whom to forget: the name, or --jersey together with --team and --season")
    with counting("silencing") as bar, stoppable() as should_stop:
        gone = forget_person(
            player,
            jersey=jersey,
            team=team,
            season=season,
            notes=notes,
            dry_run=dry_run,
            agree=lambda plan: _ask(plan, yes),
            progress=bar,
            should_stop=should_stop,
        )
    click.echo(f"{'Would be removed' if dry_run else 'Removed'}: {_counted(gone)}.")
    for sentence in gone.left:
        remark(sentence)


def _ask(plan: Gone, yes: bool) -> None:
    if not yes:
        remark(f"{plan.name}: {_counted(plan)}.")
    agreed("Remove all of it for good?", yes)


def _counted(gone: Gone) -> str:
    return ", ".join(f"{count} {name}" for name, count in gone.counts.items()) or "nothing"
