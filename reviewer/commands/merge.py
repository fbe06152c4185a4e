"""`reviewer merge`: another coach's library joined with one's own."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Literal, cast

import click

from reviewer.commands.terminal import cell, console, counting, remark, say, stoppable
from reviewer.errors import InputError

if TYPE_CHECKING:
    from reviewer.merging import Joined
    from reviewer.store import Library

Side = Literal["mine", "theirs"]


@click.command()
@click.argument("other", required=False, metavar="[OTHER_LIBRARY]", type=click.Path(path_type=Path))
@click.option("--dry-run", is_flag=True, help="Only say what would come.")
@click.option("--prefer", type=click.Choice(["mine", "theirs"]), help="Settle every open clash this way.")
@click.option("--settle", multiple=True, metavar="ID=mine|theirs", help="Settle one clash; can be repeated.")
@click.option("--whose", metavar="NAME", help="Whose the other library is, where both say the same name.")
def merge(
    other: Path | None, dry_run: bool, prefer: str | None, settle: tuple[str, ...], whose: str | None
) -> None:
    """Bring another coach's library in: its folder, its grade book, or a backup of it.

    What both have is told by its content. Nothing of yours is overwritten: where both decided a value
    differently yours stays, and the clash is listed until it is settled, here or by a fix in the review.
    Without OTHER_LIBRARY: list the open clashes. The grade book as it was before is kept beside it.
    """
    from reviewer import store

    if dry_run and (settle or prefer):
        raise InputError("--dry-run changes nothing, so there is nothing to settle; leave one of them out")
    wanted = [_settlement(text) for text in settle]
    if other is not None:
        _bring(other, dry_run, whose)
    with store.Library.open() as library:
        _settle(library, wanted, cast("Side | None", prefer))
        _list(library)


def _settlement(text: str) -> tuple[int, Side]:
    number, _, side = text.partition("=")
    if not number.isdecimal() or side not in ("mine", "theirs"):
        raise InputError(f"--settle {text} names no clash and side; say --settle 3=mine or --settle 3=theirs")
    return int(number), cast(Side, side)


def _bring(other: Path, dry_run: bool, whose: str | None) -> None:
    from reviewer.merging import bring_in
    from reviewer.store.library import who

    with counting("merging") as bar, stoppable() as should_stop:
        done = bring_in(
            other,
            dry_run=dry_run,
            whose={who(): whose} if whose else None,
            progress=(lambda _what, count, total: bar(count, total)) if bar else None,
            should_stop=should_stop,
        )
    _tell(done, dry_run)


def _tell(done: Joined, dry_run: bool) -> None:
    for sentence in done.left:
        remark(sentence)
    counts = ", ".join(f"{count} {name}" for name, count in done.added.items() if count)
    if not counts:
        click.echo("Nothing new: your library knows all of it already.")
    else:
        click.echo(f"{'Would come' if dry_run else 'Came'}: {counts}.")
    if dry_run and done.clashes:
        what = "decision" if done.clashes == 1 else "decisions"
        click.echo(f"{done.clashes} {what} would clash; yours would stay until it is settled.")
    if done.backup is not None:
        remark(f"The grade book before it is kept; to go back: reviewer restore {done.backup}")


def _settle(library: Library, wanted: list[tuple[int, Side]], prefer: Side | None) -> None:
    from reviewer.store.merge import settle_all, settle_clash

    with library.writing() if wanted or prefer else nullcontext():
        for number, side in wanted:
            settle_clash(library, number, side)
        count = len(wanted) + (settle_all(library, prefer) if prefer else 0)
    if count:
        remark(f"{count} {'clash' if count == 1 else 'clashes'} settled.")


def _list(library: Library) -> None:
    from rich.table import Table

    from reviewer.store.merge import clashes

    found = clashes(library)
    if not found:
        click.echo("No clash is open.")
        return
    table = Table("ID", "Note", "Rep", "No.", "What", "Mine (stands)", "Theirs", box=None, pad_edge=False)
    for one in found:
        what = {"reps": "how it is cut into reps", "row": "whether the row stands"}.get(one.field, one.field)
        mine = (
            f"{_shown(one.field, one.mine)} ({one.mine_who})" if one.mine_who else _shown(one.field, one.mine)
        )
        theirs = f"{_shown(one.field, one.theirs)} ({one.theirs_who}, {one.theirs_at[:10]})"
        values = (one.id, one.title, one.rep or "", one.player or "", what, mine, theirs)
        table.add_row(*(cell(str(value)) for value in values))
    out = console()
    out.print(table)
    say(out, "Settle one with --settle ID=mine or ID=theirs, all with --prefer mine or --prefer theirs.")


def _shown(field: str, value: object) -> str:
    if field == "reps":
        return f"{value} reps"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(map(str, value)) or "none"
    return "not said" if value is None else str(value)
