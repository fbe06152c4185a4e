"""Saved searches: a name and what was typed."""

from __future__ import annotations

from dataclasses import dataclass

from reviewer.errors import InputError
from reviewer.store.library import Library


@dataclass(frozen=True)
class SavedSearch:
    """A search kept under a name. typed: as the user typed it. at: UTC text."""

    name: str
    typed: str
    at: str


def save_search(library: Library, name: str, typed: str) -> None:
    """Keep a search under a name; one of that name (case does not count) is replaced."""
    plain = " ".join(name.split())
    if not plain:
        raise InputError("A saved search needs a name; type at least one letter.")
    with library.writing() as db:
        db.execute(
            "INSERT OR REPLACE INTO saved_search (name, typed, at) VALUES (?, ?, ?)",
            (plain, typed.strip(), library.now()),
        )


def saved_searches(library: Library) -> list[SavedSearch]:
    """Every saved search, by name."""
    with library.reading() as db:
        found = db.execute("SELECT name, typed, at FROM saved_search ORDER BY name").fetchall()
    return [SavedSearch(*record) for record in found]


def saved_search(library: Library, name: str) -> SavedSearch:
    """The search of that name. Raises InputError naming the known ones when there is none."""
    plain = " ".join(name.split()).casefold()
    known = saved_searches(library)
    for search in known:
        if search.name.casefold() == plain:
            return search
    names = ", ".join(search.name for search in known) or "none yet"
    raise InputError(f"There is no saved search {name!r}; the saved ones are: {names}.")


def forget_search(library: Library, name: str) -> None:
    """Remove a saved search. Raises InputError when there is none of that name."""
    found = saved_search(library, name)
    with library.writing() as db:
        db.execute("DELETE FROM saved_search WHERE name = ?", (found.name,))
