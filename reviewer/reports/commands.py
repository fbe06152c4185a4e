"""`reviewer sheet`, `opponent`, `agree` and `cutlist`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from reviewer.errors import InputError
from reviewer.reports.options import narrowed, output_options, put_out, selection, selection_options

if TYPE_CHECKING:
    from reviewer.reports.reps import GradedRep
    from reviewer.store.library import Library


@click.command()
@click.option("--player", metavar="N", help="His number, or (part of) his name; everybody when left out.")
@selection_options
@click.option("--note", metavar="NOTE", help="Only this note (name or number).")
@click.option(
    "--scale", metavar="SCALE", help="plus-minus, three-marks, zero-one-two, production, or a file."
)
@output_options
def sheet(player: str | None, note: str | None, scale: str | None, anonymous: bool, **given: Any) -> None:
    """A player's grade sheet: for a game, a span of games or a season."""
    from reviewer.reports.gather import gather
    from reviewer.reports.scale import load_scale
    from reviewer.reports.sheet import grade_sheet
    from reviewer.reports.sheet_document import sheet_document
    from reviewer.store.library import Library

    marks = load_scale(scale)
    with Library.open(read_only=True) as library:
        reps = gather(library, narrowed(library, selection(library, given, player), note=note))
    title = _number(reps, player)
    found = grade_sheet(_shared(reps, anonymous), marks, "one player" if anonymous else title)
    put_out(sheet_document(found), **given)


def _number(reps: list[GradedRep], player: str | None) -> str:
    """What to head the sheet of a player with: his number, also when he was named."""
    numbers = {rep.row.player for rep in reps if rep.row.player}
    return numbers.pop() if player and len(numbers) == 1 else (player or "")


def _shared(reps: list[GradedRep], hidden: bool) -> list[GradedRep]:
    from reviewer.reports.anonymous import anonymous

    return anonymous(reps) if hidden else reps


@click.command()
@click.argument("name")
@click.option("--man", metavar="NO", help="Only this man of theirs.")
@selection_options
@output_options
def opponent(name: str, man: str | None, anonymous: bool, **given: Any) -> None:
    """What an opponent uses, and on whom it works. NAME is the team's."""
    from reviewer.reports.anonymous import Anonymizer
    from reviewer.reports.gather import gather, of_opponent, opponent_names
    from reviewer.reports.opponent import opponent_document, opponent_page
    from reviewer.store.library import Library

    with Library.open(read_only=True) as library:
        reps, team = of_opponent(gather(library, selection(library, given)), name)
        names = opponent_names(library, reps)
    if anonymous:
        hand = Anonymizer()
        reps = [hand.rep(rep) for rep in reps]
        man = hand.defender(man, team) if man else None
        team, names = "Opponent", {}
    put_out(opponent_document(opponent_page(reps, team, man, names)), **given)


@click.command()
@click.argument("first", metavar="A")
@click.argument("second", metavar="B")
@output_options
def agree(first: str, second: str, anonymous: bool, **given: Any) -> None:
    """How far two gradings agree.

    A and B are notes on the same film (name or number). With the word "machine" for A, its first
    reading is compared with the confirmed rows of B: a note, or "all".
    """
    from reviewer.reports.agreement import agreement_document
    from reviewer.reports.graders import machine_and_coach, two_graders
    from reviewer.store.library import Library

    with Library.open(read_only=True) as library:
        if first == "machine":
            found = machine_and_coach(library, None if second == "all" else second, anonymous)
        else:
            found = two_graders(library, first, second, hidden=anonymous)
    put_out(agreement_document(found), **given)


@click.command()
@click.argument("search", nargs=-1, metavar="[SEARCH]…")
@click.option("--player", metavar="N", help="His number, or (part of) his name.")
@selection_options
@click.option("--saved", metavar="NAME", help="A saved search.")
@click.option("--note", "note", metavar="NOTE", help="Only this note (name or number).")
@click.option("--show", type=int, metavar="N", help="Pick N reps to show: as many wins as losses.")
@click.option(
    "--format",
    "format_",
    type=click.Choice(("vtt", "edl", "otio", "clips")),
    default="vtt",
    show_default=True,
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="PATH",
    help="A file; for clips or several films a folder.",
)
@click.option(
    "--film", multiple=True, metavar="FILE", help="The film; GAME=FILE where several games are cut."
)
@click.option(
    "--rate",
    metavar="FPS",
    help="Frame rate: 29.97df, 29.97, 59.94df, 25, … (from the film when it is at hand).",
)
@click.option("--film-start", metavar="TC", help="Timecode of the film's first frame.")
@click.option(
    "--sync",
    multiple=True,
    metavar="REC=FILM",
    help="A sync mark: 12.5=00:04:10:00; a line is fitted through several.",
)
@click.option(
    "--before", type=float, default=2.0, show_default=True, help="Seconds of film before the talk of a rep."
)
@click.option("--after", type=float, default=1.0, show_default=True, help="Seconds after it.")
@click.option("--reel", is_flag=True, help="Clips: also one film of all of them, with chapters.")
@click.option("--anonymous", is_flag=True, help="For sharing: numbers, games and films are not named.")
def cutlist(search: tuple[str, ...], anonymous: bool, **given: Any) -> None:
    """Moments of film for a search or a player: chapters, cut lists, or the clips.

    SEARCH is typed as for `reviewer search`.
    """
    from reviewer.commands.terminal import remark
    from reviewer.reports.cuts.films import FilmOptions, films_for, unnamed
    from reviewer.reports.cuts.making import make
    from reviewer.reports.cuts.moments import moments
    from reviewer.store.library import Library

    if anonymous and given["format_"] == "clips":
        raise InputError("Clips show the men themselves; with --anonymous choose vtt, edl or otio.")
    options = FilmOptions(given.pop("film"), given.pop("rate"), given.pop("film_start"), given.pop("sync"))
    with Library.open() as library:
        reps = _to_cut(library, " ".join(search), given)
        found = films_for(library, reps, options, need_rate=given["format_"] != "vtt")
    for sentence in found.remarks:
        remark(sentence)
    films = found.films
    if anonymous:
        reps, films = unnamed(reps, films)
    lengths = {"before_s": given.pop("before"), "after_s": given.pop("after")}
    make(moments(reps, films, **lengths), **given)


def _to_cut(library: Library, typed: str, given: dict[str, Any]) -> list[GradedRep]:
    """The reps that the options and the search name."""
    from reviewer.reports.gather import gather
    from reviewer.reports.showing import to_show

    chosen = selection(library, given, given.pop("player"))
    reps = gather(library, narrowed(library, chosen, typed, given.pop("saved"), given.pop("note")))
    if (count := given.pop("show")) is not None:
        found = to_show(reps, count)
        reps = [*found.teach, *found.highlight]
    return reps
