"""Search as a person types it: filters by any spoken form of a term, and words that are a term's
wording also find the rows whose words said the term otherwise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from reviewer.errors import InputError
from reviewer.store.library import Library
from reviewer.store.search import Hit, SearchQuery, known_values, search

if TYPE_CHECKING:
    from reviewer.language.vocabulary import Vocabulary

FILTER_GROUPS: Mapping[str, str] = {
    "technique": "techniques",
    "fault": "faults",
    "set": "set",
    "move": "moves",
    "line_game": "games",
    "concept": "concepts",
    "alignment": "alignment",
    "event": "events",
    "safety": "safety",
    "label": "labels",
}
"""Filters of a search that hold a term, and the term's group."""


def search_query(vocabulary: Vocabulary, typed: Mapping[str, Any]) -> SearchQuery:
    """A query from what was typed, its terms by their canonical names.

    Raises InputError, with the nearest terms, for a filter that is no term.
    """
    from reviewer.terms import canonical

    wanted = dict(typed)
    for name, group in FILTER_GROUPS.items():
        if wanted.get(name):
            wanted[name] = canonical(vocabulary, wanted[name], group)
    return SearchQuery(**wanted)


def find(library: Library, vocabulary: Vocabulary, query: SearchQuery) -> list[Hit]:
    """The places that answer a query, in its order; of words that name a term also where the term was
    read from other words."""
    hits = search(library, query)
    other = _as_term(vocabulary, query)
    if other is None:
        return hits
    seen = {hit.id for hit in hits}
    more = [hit for hit in search(library, other) if hit.id not in seen]
    if query.order == "newest":
        return sorted((*hits, *more), key=lambda hit: -hit.id)[: query.limit]
    return (hits + more)[: query.limit]


def opponent_team(library: Library, typed: str) -> str:
    """The other team that was meant: by its name or a part of it, case does not count.

    Raises InputError naming the teams there are where none or several fit.
    """
    known = [name for name, _ in known_values(library, "opponent_team")]
    plain = " ".join(typed.casefold().split())
    fitting = [name for name in known if name.casefold() == plain]
    fitting = fitting or [name for name in known if plain in name.casefold()]
    if len(fitting) == 1:
        return fitting[0]
    listed = ", ".join(sorted(fitting or known)) or "none yet"
    says = "fits several opponents" if fitting else "is no opponent in the grade book"
    raise InputError(f"{typed!r} {says}; there are: {listed}")


def _as_term(vocabulary: Vocabulary, query: SearchQuery) -> SearchQuery | None:
    """The query with its words as the term that they are a wording of; None where they are none."""
    from reviewer.terms import find_terms, is_said

    said = query.words.strip()
    if said.count('"') == 2 and said[0] == said[-1] == '"':
        said = said[1:-1]
    if not said or '"' in said or "*" in said:
        return None
    for name, group in FILTER_GROUPS.items():
        for term in find_terms(vocabulary, said, {group}, limit=1):
            if is_said(term, said) and getattr(query, name) is None:
                changed: dict[str, Any] = {"words": "", name: term.id}
                return replace(query, **changed)
    return None
