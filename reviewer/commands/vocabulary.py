"""`reviewer vocabulary`: look terms up, see what is your own."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from reviewer.commands.terminal import cell, console, remark, say

if TYPE_CHECKING:
    from rich.console import Console

    from reviewer.language.vocabulary import Term, Vocabulary
    from reviewer.store import Learned

MOST_FORMS = 12


@click.command()
@click.argument("words", nargs=-1, metavar="[WORD…]")
@click.option("--group", metavar="GROUP", help="List a group: techniques, faults, moves, set, …")
@click.option("--own", is_flag=True, help="List what you added or taught.")
@click.option("--forget", type=int, metavar="NUMBER", help="Remove something taught, by its number in --own.")
def vocabulary(words: tuple[str, ...], group: str | None, own: bool, forget: int | None) -> None:
    """Look up a term by its name or any way to say it: what it means, how it is said and misheard.

    Your own terms and wordings stand in vocabulary.toml in the library folder.
    """
    from reviewer.language.vocabulary import load_vocabulary

    known = load_vocabulary()
    out = console()
    if forget is not None:
        _forget(forget)
    elif own:
        _own(out, known)
    elif group:
        _group(out, known, group)
    elif words:
        _look_up(out, known, " ".join(words))
    else:
        _overview(out, known)


def _look_up(out: Console, known: Vocabulary, typed: str) -> None:
    from reviewer.errors import InputError
    from reviewer.terms import find_terms, is_said

    found = find_terms(known, typed)
    exact = [term for term in found if is_said(term, typed)]
    if not found:
        raise InputError(
            f"no term is called {typed!r} or said like that; `reviewer vocabulary` lists the groups"
        )
    if not exact:
        remark(f"No term is said {typed!r}; these are near:")
    for number, term in enumerate(exact or found):
        if number:
            out.print()
        _term(out, term)


def _term(out: Console, term: Term) -> None:
    from reviewer.terms import spoken_forms

    forms = [form for form in spoken_forms(term) if form != term.id]
    say(out, f"{term.id}  ({term.group}{', your own' if term.own else ''})", "bold")
    if term.definition:
        say(out, term.definition)
    _list(out, "Also said", forms)
    _list(out, "Misheard as", term.mishearings)


def _list(out: Console, name: str, items: Sequence[str]) -> None:
    if not items:
        return
    more = f" and {len(items) - MOST_FORMS} more" if len(items) > MOST_FORMS else ""
    say(out, f"{name}: {', '.join(items[:MOST_FORMS])}{more}.")


def _group(out: Console, known: Vocabulary, group: str) -> None:
    from reviewer.errors import InputError
    from reviewer.language.vocabulary import FIELD_GROUPS

    terms = known.group(group) or known.group(f"{group}s")
    if not terms or terms[0].group not in FIELD_GROUPS:
        raise InputError(f"there is no group {group!r}; the groups are: {', '.join(_groups(known))}")
    _table(out, [(term.id, term.definition) for term in terms])


def _groups(known: Vocabulary) -> list[str]:
    from reviewer.language.vocabulary import FIELD_GROUPS

    return [group for group in known.groups() if group in FIELD_GROUPS]


def _overview(out: Console, known: Vocabulary) -> None:
    from reviewer import paths

    _table(out, [(group, ", ".join(term.id for term in known.group(group))) for group in _groups(known)])
    own = sum(term.own for term in known.terms)
    where = paths.user_vocabulary()
    say(out, f"Your own: {own} in {where}" if own else f"Add your own in {where}", wrap=False)


def _table(out: Console, lines: Sequence[tuple[str, str]]) -> None:
    from rich.table import Table

    table = Table(box=None, show_header=False, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    for name, about in lines:
        table.add_row(cell(name), cell(about))
    out.print(table)


def _own(out: Console, known: Vocabulary) -> None:
    """What was taught in the review, by number, then what else stands in the user's own file."""
    from reviewer import paths
    from reviewer.store import Library, learned, notes

    taught: list[Learned] = []
    titles: dict[int, str] = {}
    if paths.database().is_file():
        with Library.open_to_read() as library:
            titles = {note.id: note.title for note in notes(library)}
            taught = learned(library)
    lines = [
        (str(one.id), f"“{one.form}” is {one.term}  ({_origin(titles.get(one.note or 0), one.at)})")
        for one in taught
    ]
    lines += _by_hand(known, {one.form for one in taught})
    if not lines:
        remark(f"Nothing of your own yet; teach it in the review, or add terms in {paths.user_vocabulary()}.")
        return
    _table(out, lines)
    if taught:
        remark("`reviewer vocabulary --forget NUMBER` removes what was taught.")


def _origin(title: str | None, at: str) -> str:
    return f"{title}, {at[:10]}" if title else at[:10]


def _by_hand(known: Vocabulary, taught: set[str]) -> list[tuple[str, str]]:
    """What the user's file adds to the shipped terms, but for what was taught."""
    from reviewer import paths
    from reviewer.language.vocabulary import load_vocabulary
    from reviewer.terms import readable

    shipped = {(t.group, t.id): t for t in load_vocabulary(paths.vocabulary() / "no own file").terms}
    lines = []
    for term in known.terms:
        base = shipped.get((term.group, term.id))
        old = {*base.forms, *base.mishearings} if base else set()
        added = [form for form in (*term.forms, *term.mishearings) if form not in old and form not in taught]
        if added:
            name = term.id if base else f"{term.id} (new, {term.group})"
            lines.append(("", f"{name}: {', '.join(map(readable, added))}"))
    return lines


def _forget(number: int) -> None:
    from reviewer.review.lessons import forget_lesson
    from reviewer.store import Library

    with Library.open() as library:
        forget_lesson(library, number)
