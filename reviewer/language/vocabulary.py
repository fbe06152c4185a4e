"""Load the trade's vocabulary: the shipped TOML files and the user's own.

A term's spoken forms are patterns (see `vocab/README.md` and `patterns`). The user's file adds
terms, forms and mishearings; it never changes the shipped files.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from reviewer import paths
from reviewer.errors import InputError
from reviewer.language.patterns import parse_form
from reviewer.own_toml import read_toml

NOT_TERMS = frozenset(
    {
        "situation.toml",
        "inflections.toml",
        "classes.toml",
        "people.toml",
        "phases.toml",
        "marks_words.toml",
        "prompt.toml",
        "mends.toml",
    }
)  # fmt: skip
"""Files of the vocabulary folder that hold no terms."""


MOST_WEIGHT = 100.0

FIELD_GROUPS = frozenset(
    {"concepts", "alignment", "set", "techniques", "faults", "moves", "games", "events", "safety", "labels"}
)
"""Groups whose terms fill a field of the grade row; other groups are cues for the reader."""


@dataclass(frozen=True, slots=True)
class Term:
    """One trade term or cue.

    id: canonical name. group: the grade row's field, or a cue group ("praise", "opener", …).
    forms: patterns in base form. mishearings: plain wrong wordings of a general speech model.
    also: names of the same group that this one implies. actor: whose deed it is.
    weight: strength of a cue, 1 by default. own: whether the user added it.
    """

    id: str
    group: str
    definition: str = ""
    forms: tuple[str, ...] = ()
    mishearings: tuple[str, ...] = ()
    also: tuple[str, ...] = ()
    actor: str = ""
    not_after: tuple[str, ...] = ()
    not_before: tuple[str, ...] = ()
    weight: float = 1.0
    own: bool = False


@dataclass(frozen=True)
class Vocabulary:
    """All terms known. `digest` changes whenever any of it does."""

    terms: tuple[Term, ...]
    digest: str

    def group(self, name: str) -> tuple[Term, ...]:
        """The terms of a group, in file order."""
        return tuple(t for t in self.terms if t.group == name)

    def find(self, term_id: str, group: str | None = None) -> Term | None:
        """The term of that canonical name, if known."""
        return next((t for t in self.terms if t.id == term_id and group in (None, t.group)), None)

    def groups(self) -> tuple[str, ...]:
        """The names of all groups, in file order."""
        return tuple(dict.fromkeys(t.group for t in self.terms))


def load_vocabulary(own: Path | None = None) -> Vocabulary:
    """The shipped vocabulary with the user's own file laid over it.

    Raises InputError when the user's file cannot be read as vocabulary; it names the place.
    """
    shipped = _shipped_terms()
    terms = {(t.group, t.id): t for t in shipped}
    path = own if own is not None else paths.user_vocabulary()
    if path.is_file():
        for term in _read_terms(path, own=True):
            key = (term.group, term.id)
            known = terms.get(key)
            terms[key] = _merged(known, term) if known else term
    digest = hashlib.sha256(repr(tuple(terms.values())).encode()).hexdigest()[:16]
    return Vocabulary(tuple(terms.values()), digest)


@lru_cache(maxsize=1)
def _shipped_terms() -> tuple[Term, ...]:
    files = sorted(paths.vocabulary().glob("*.toml"))
    return tuple(term for f in files if f.name not in NOT_TERMS for term in _read_terms(f))


def _merged(known: Term, own: Term) -> Term:
    def both(a: Sequence[str], b: Sequence[str]) -> tuple[str, ...]:
        return tuple(dict.fromkeys((*a, *b)))

    return replace(
        known,
        definition=own.definition or known.definition,
        forms=both(known.forms, own.forms),
        mishearings=both(known.mishearings, own.mishearings),
    )


def _read_terms(path: Path, own: bool = False) -> list[Term]:
    data = read_toml(path, "The vocabulary file", "mend or remove it")
    entries = data.get("term", [])
    if not isinstance(entries, list):
        raise InputError(
            f"The vocabulary file {path} must list its terms as [[term]] tables; see vocab/README.md."
        )
    return [_term(path, number, entry, own) for number, entry in enumerate(entries, 1)]


def _term(path: Path, number: int, entry: Any, own: bool) -> Term:
    where = f"The vocabulary file {path}, term {number}"
    if (
        not isinstance(entry, dict)
        or not isinstance(entry.get("id"), str)
        or not isinstance(entry.get("group"), str)
    ):
        raise InputError(f"{where}, needs a text `id` and a text `group`; add them.")
    if not entry["id"].strip() or not all(entry[key].isprintable() for key in ("id", "group")):
        raise InputError(f"{where}, has an `id` or `group` that cannot be shown; write plain words.")
    lists: dict[str, tuple[str, ...]] = {}
    for key in ("forms", "mishearings", "also", "not_after", "not_before"):
        value = entry.get(key, [])
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            raise InputError(f"{where} ({entry['id']}): `{key}` must be a list of texts; mend it.")
        lists[key] = tuple(value)
    unknown = set(entry) - {"id", "group", "definition", "actor", "weight", "from", *lists}
    if unknown:
        raise InputError(f"{where} ({entry['id']}): unknown key {sorted(unknown)[0]!r}; remove it.")
    weight = entry.get("weight", 1.0)
    if isinstance(weight, bool) or not isinstance(weight, int | float) or not 0 <= weight <= MOST_WEIGHT:
        raise InputError(f"{where} ({entry['id']}): `weight` must be a number from 0 to {MOST_WEIGHT:g}.")
    if entry.get("actor", "") not in ("", "blocker", "rusher"):
        raise InputError(f"{where} ({entry['id']}): `actor` is blocker or rusher, not {entry['actor']!r}.")
    if own:  # the shipped forms are checked by a test, once; the user's at each load
        for form in lists["forms"]:
            try:
                parse_form(form, word_classes())
            except ValueError as problem:
                raise InputError(
                    f"{where} ({entry['id']}): the form {form!r} cannot be used: {problem}."
                ) from problem
    return Term(
        id=entry["id"],
        group=entry["group"],
        definition=str(entry.get("definition", "")),
        actor=str(entry.get("actor", "")),
        weight=float(weight),
        own=own,
        **lists,
    )


@lru_cache(maxsize=1)
def word_classes() -> dict[str, tuple[str, ...]]:
    """The word classes that forms may use, from `vocab/classes.toml`: name to base forms."""
    data = tomllib.loads((paths.vocabulary() / "classes.toml").read_text("utf-8"))
    return {name: tuple(words) for name, words in data["class"].items()}
