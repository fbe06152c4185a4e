"""Terms of the vocabulary as a person writes and reads them."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from functools import lru_cache
from itertools import islice, product

from reviewer.errors import InputError
from reviewer.language.tokens import base_form
from reviewer.language.vocabulary import FIELD_GROUPS, Term, Vocabulary, word_classes

GROUP_NAMES = {"concept": "concepts", "technique": "techniques", "fault": "faults", "move": "moves",
               "game": "games", "event": "events", "label": "labels"}  # fmt: skip
"""One term of a group by its singular name; the others are the same."""

_MOST_WORDINGS = 24
_ALIKE = 72.0
"""From this likeness (0..100) a term is offered for what was typed."""

_CLASS_WORDS = {"poss": "his", "man": "him", "num": "(number)", "be": "is"}
_SIGNS = {"*": "…", "_": "…", "¶": "", "§jersey": "(number)", "§number": "(number)", "§name": "(name)"}


def readable(form: str) -> str:
    """A spoken form (see vocab/README.md) as plain words, its first choice at each place."""
    return next(wordings(form), "")


def wordings(form: str) -> Iterator[str]:
    """The ways to say a form, as plain words, the first choices first; at most `_MOST_WORDINGS`."""
    choices = [_choices(item) for item in form.split()]
    for words in islice(product(*choices), _MOST_WORDINGS):
        yield " ".join(" ".join(words).split())


def _choices(item: str) -> list[str]:
    if item in _SIGNS:
        return [_SIGNS[item]]
    if item.endswith("?") and len(item) > 1:
        return ["", *_choices(item[:-1])]
    return [_word(part) for part in item.split("|")]


def _word(part: str) -> str:
    part = part.removesuffix("?")
    if part.startswith("<") and part.endswith(">"):
        name = part[1:-1]
        return _CLASS_WORDS.get(name) or word_classes().get(name, ("…",))[0]
    return _SIGNS.get(part, part.removeprefix("="))


def spoken_forms(term: Term) -> tuple[str, ...]:
    """The forms of a term as plain words, each once, its name first."""
    return tuple(dict.fromkeys((term.id, *filter(None, map(readable, term.forms)))))


def find_terms(
    vocabulary: Vocabulary, typed: str, groups: Collection[str] = FIELD_GROUPS, limit: int = 5
) -> list[Term]:
    """The terms that fit typed text, best first: by name, by a spoken form, by likeness of either.

    A name or form that is exactly the text (inflected or not) leaves out whatever is only like it.
    """
    from rapidfuzz import fuzz, process

    wanted = _key(typed)
    if not wanted:
        return []
    terms = [term for term in vocabulary.terms if term.group in groups]
    exact = [term for term in terms if _key(term.id) == wanted]
    exact += [term for term in terms if term not in exact and wanted in _keys(term)]
    if exact:
        return exact[:limit]
    known = [(key, term) for term in terms for key in _keys(term)]
    scored = process.extract(
        wanted, [key for key, _ in known], scorer=fuzz.ratio, score_cutoff=_ALIKE, limit=20 * limit
    )
    return list(dict.fromkeys(known[index][1] for _, _, index in scored))[:limit]


@lru_cache(maxsize=4096)
def _keys(term: Term) -> frozenset[str]:
    """What a term's name and all its wordings come to for comparing."""
    return frozenset({_key(term.id), *(_key(text) for form in term.forms for text in wordings(form))})


def _key(text: str) -> str:
    """Text for comparing: its words in base form."""
    return " ".join(base_form(word) for word in re.sub(r"[^\w']+", " ", text.casefold()).split())


def canonical(vocabulary: Vocabulary, typed: str, group: str) -> str:
    """The canonical name of the one term of a group that was typed, by name or spoken form.

    Raises InputError, with the nearest terms, where none or several fit.
    """
    found = find_terms(vocabulary, typed, {group})
    fitting = [term for term in found if is_said(term, typed)]
    if len(fitting) == 1 or (fitting and _key(fitting[0].id) == _key(typed)):
        return fitting[0].id
    name = next((one for one, many in GROUP_NAMES.items() if many == group), group)
    if found:
        raise InputError(f"there is no {name} {typed!r}; did you mean {_or([t.id for t in found])}?")
    known = ", ".join(term.id for term in vocabulary.group(group))
    raise InputError(f"there is no {name} {typed!r}; the known ones are: {known}")


def is_said(term: Term, typed: str) -> bool:
    """Whether typed text is exactly a term's name or one of its forms."""
    return _key(typed) in _keys(term)


def _or(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"
