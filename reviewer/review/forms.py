"""Spoken forms (patterns of the vocabulary) as words a person reads and types."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

_CLASS_WORDS = {"man": "him", "him": "him", "poss": "his", "owner": "his", "num": "…", "be": "is"}
_SIGNS = {"§jersey": "(number)", "§name": "(name)", "§number": "(number)", "¶": ""}


@lru_cache(maxsize=20_000)
def spoken(form: str) -> str:
    """One plain wording of a form: the first of each choice, without what may be left out."""
    words = [_item(item) for item in form.replace("-", " ").split() if not item.endswith("?")]
    return " ".join(word for word in words if word)


def _item(item: str) -> str:
    if item in {"*", "_"}:
        return "…"
    return _choice(item.split("|")[0])


def _choice(part: str) -> str:
    if part in _SIGNS:
        return _SIGNS[part]
    if part.startswith("<") and part.endswith(">"):
        name = part[1:-1]
        return _CLASS_WORDS.get(name, f"({name})")
    return part.removeprefix("=")


@lru_cache(maxsize=20_000)
def typed_keys(form: str) -> tuple[str, ...]:
    """Wordings of a form that typing is matched against: one for each choice of its first two choices."""
    texts = [""]
    choices = 0
    for item in form.replace("-", " ").split():
        if item.endswith("?") or item in {"*", "_"}:
            continue
        parts = [_choice(part) for part in item.split("|")]
        if len(parts) > 1 and choices < 2:
            choices += 1
        else:
            parts = parts[:1]
        plain = ["" if part.startswith(("(", "…")) else part for part in parts]
        texts = [f"{text} {part}".strip() for text in texts for part in plain]
    return tuple(dict.fromkeys(text for text in texts if text))


def readable(forms: Iterable[str], most: int = 6) -> list[str]:
    """Up to `most` plain wordings of a term's forms, the shortest first."""
    found = dict.fromkeys(spoken(form) for form in forms)
    return sorted((text for text in found if text), key=len)[:most]
