"""`reviewer search`: find past notes by words and by what was read from them."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import click

from reviewer.commands.terminal import cell, console, remark
from reviewer.errors import InputError
from reviewer.reports.orders import ORDERS
from reviewer.review.plain import plain, plain_json

if TYPE_CHECKING:
    from rich.text import Text

    from reviewer.language.vocabulary import Vocabulary
    from reviewer.reports.lexicon import Lexicon
    from reviewer.store import Hit, Library

_TERM_FILTERS = {
    "technique": "what he did: reach, punch, …",
    "fault": "what he was marked down for",
    "set": "his pass set",
    "move": "what the rusher did: bull rush, …",
    "line-game": "stunt, twist, blitz, …",
    "concept": "the play: inside zone, …",
    "alignment": "where the man over him lined up",
    "event": "pressure, sack, knockdown, …",
}


def _filters(command: Any) -> Any:
    options = [
        *(click.option(f"--{name}", metavar="TERM", help=text) for name, text in _TERM_FILTERS.items()),
        click.option("--opponent", metavar="WHO", help="jersey of a man he worked on, or the other team"),
        click.option("--player", metavar="NO", help="jersey of the graded player"),
        click.option("--verdict", type=click.Choice(("win", "loss", "neutral"))),
        click.option("--down", type=click.IntRange(1, 4)),
        click.option("--distance", metavar="YARDS", help="yards to gain: 7, 7-10, 7+, long"),
        click.option("--phase", type=click.Choice(("run", "pass"))),
        click.option("--game", metavar="GAME", help="title, opponent or number of a game"),
        click.option("--season", metavar="YEAR"),
        click.option("--note", metavar="NOTE", help="one note only: its name or number"),
        click.option(
            "--confirmed/--unconfirmed", default=None, help="only rows that are, or are not, confirmed"
        ),
    ]
    for option in reversed(options):
        command = option(command)
    return command


@click.command()
@click.argument("words", nargs=-1)
@_filters
@click.option(
    "--sort",
    type=click.Choice(ORDERS),
    help="Newest note first (unless said otherwise), oldest, best fit, least sure, or by down and distance.",
)
@click.option("--limit", type=click.IntRange(min=1), default=50, show_default=True)
@click.option("--json", "as_json", is_flag=True, help="One JSON object a line.")
@click.option(
    "--anonymous", is_flag=True, help="For sharing: notes and numbers replaced, what was said left out."
)
@click.option("--save", metavar="NAME", help="Keep this search under a name.")
@click.option("--saved", metavar="NAME", help="Repeat the search kept under a name.")
@click.option("--kept", is_flag=True, help="List the searches that are kept.")
@click.option("--forget", metavar="NAME", help="Keep a search no longer.")
def search(
    words: tuple[str, ...],
    sort: str | None,
    limit: int,
    as_json: bool,
    anonymous: bool,
    save: str | None,
    saved: str | None,
    kept: bool,
    forget: str | None,
    **given: Any,
) -> None:
    """Find the places where it was said: note, time, words.

    WORDS must all be said; "two words" in quotes are a phrase, hand* is a beginning. Terms are found
    by any way to say them: pancake finds every knockdown. Filters can be typed too, as move:swim; so can
    a down and a distance, as third and long.
    """
    from reviewer.reports.finding import find, hit_data, read_search
    from reviewer.reports.sharing import unnamed_hits
    from reviewer.store import Library
    from reviewer.store.saved import forget_search, save_search, saved_search

    if forget is not None:
        with Library.open() as library:
            forget_search(library, forget)
        return
    if kept:
        return _list_kept(as_json)
    vocabulary, lexicon = _known()
    with Library.open() if save else Library.open_to_read() as library:
        typed = " ".join(
            filter(None, (*map(_typed, words), saved_search(library, saved).typed if saved else ""))
        )
        filters = _looked_up(library, vocabulary, given)
        asked = read_search(library, typed, lexicon, limit, order=sort, **filters)
        if save:
            save_search(library, save, _as_typed(typed, filters, sort))
        hits = find(library, asked)
        if anonymous:
            hits = unnamed_hits(library, hits)
    for sentence in asked.remarks:
        remark(sentence)
    if as_json:
        for hit in hits:
            click.echo(plain_json(json.dumps(hit_data(hit), ensure_ascii=False)))
    elif hits:
        _show(hits)
        if len(hits) == limit:
            remark(f"The first {limit} only; --limit shows more.")
    else:
        remark("Nothing was found; try fewer words or filters.")


def _list_kept(as_json: bool) -> None:
    from dataclasses import asdict

    from reviewer.store import Library
    from reviewer.store.saved import saved_searches

    with Library.open_to_read() as library:
        found = saved_searches(library)
    if not found and not as_json:
        remark("No search is kept yet; add --save NAME to one.")
    for one in found:
        told = json.dumps(asdict(one), ensure_ascii=False)
        click.echo(plain_json(told) if as_json else plain(f"{one.name}: {one.typed}"))


def _known() -> tuple[Vocabulary, Lexicon]:
    from reviewer.language.vocabulary import load_vocabulary
    from reviewer.reports.lexicon import build_lexicon

    vocabulary = load_vocabulary()
    return vocabulary, build_lexicon(vocabulary.terms)


def _typed(word: str) -> str:
    """A word of the command line; several in the shell's quotes are a phrase."""
    return f'"{word}"' if " " in word.strip() and '"' not in word and ":" not in word else word


def _as_typed(typed: str, filters: dict[str, Any], sort: str | None) -> str:
    """The search with its options written as filters, to be kept."""
    from reviewer.reports.situations import distance_text

    said = {
        name: ("no", "yes")[value] if isinstance(value, bool) else value for name, value in filters.items()
    }
    if "distance" in filters:
        said["distance"] = distance_text(filters["distance"])
    said |= {"sort": sort} if sort else {}
    return " ".join(filter(None, (typed, *(f'{name}:"{value}"' for name, value in said.items()))))


def _looked_up(library: Library, vocabulary: Vocabulary, given: dict[str, Any]) -> dict[str, Any]:
    """The options as the search takes them: terms by their names, ids for games and notes, team or
    jersey for the opponent."""
    from reviewer.reports.gather import find_games
    from reviewer.reports.lexicon import FILTERS
    from reviewer.reports.situations import read_distance
    from reviewer.store import note
    from reviewer.terms import canonical

    wanted = {name: value for name, value in given.items() if value is not None}
    for group, name in FILTERS.items():
        if name in wanted:
            wanted[name] = canonical(vocabulary, wanted[name], group)
    if "distance" in wanted:
        wanted["distance"] = read_distance(wanted["distance"])
    if "note" in wanted:
        wanted["note"] = note(library, wanted["note"]).id
    if "game" in wanted:
        wanted["game"] = find_games(library, [wanted["game"]], wanted.get("season"))[0]
    who = wanted.get("opponent")
    if who is not None and not who.isdecimal():
        wanted["opponent_team"] = _team(library, wanted.pop("opponent"))
    return wanted


def _team(library: Library, typed: str) -> str:
    """The other team that was meant: by its name or a part of it, case does not count."""
    from reviewer.store import known_values

    known = [name for name, _ in known_values(library, "opponent_team")]
    plain = " ".join(typed.casefold().split())
    fitting = [name for name in known if name.casefold() == plain]
    fitting = fitting or [name for name in known if plain in name.casefold()]
    if len(fitting) == 1:
        return fitting[0]
    listed = ", ".join(sorted(fitting or known)) or "none yet"
    says = "fits several opponents" if fitting else "is no opponent in the grade book"
    raise InputError(f"{typed!r} {says}; there are: {listed}")


def _show(hits: list[Hit]) -> None:
    from rich import box
    from rich.table import Table

    out = console()
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0))
    for name, right in (("Note", False), ("Time", True), ("Rep", True), ("No.", True), ("Verdict", False)):
        table.add_column(name, no_wrap=name != "Note", justify="right" if right else "left", overflow="fold")
    # shared without names, hits have no words
    words = any(hit.text for hit in hits)
    if words:
        table.add_column("Words", ratio=1)
    for hit in hits:
        table.add_row(*_cells(hit), *([_marked(hit)] if words else []))
    out.print(table)


def _cells(hit: Hit) -> tuple[Text, ...]:
    from reviewer.reports.wording import clock

    cells = (
        hit.title,
        clock(hit.start),
        "" if hit.rep is None else str(hit.rep),
        hit.player or "",
        hit.verdict or "talk",
    )
    return tuple(map(cell, cells))


def _marked(hit: Hit) -> Text:
    """The words with the match in bold and, for eyes and files without it, in signs."""
    from rich.text import Text

    text = Text()
    at = 0
    for first, last in hit.marks:
        text.append_text(cell(hit.text[at:first]))
        text.append_text(cell(f"[{hit.text[first:last]}]", "bold"))
        at = last
    return text.append_text(cell(hit.text[at:]))
