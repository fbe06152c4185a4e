"""A report with nothing in its texts that acts on what shows it; `as_json` and `as_csv` keep every letter."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from functools import cache
from typing import Any

from pydantic import BaseModel

from reviewer.reports.document import Document
from reviewer.review.plain import plain


def harmless(document: Document) -> Document:
    """The document with `review.plain.plain` done to every text in it; paths stay what they are."""
    found = _clean(document)
    assert isinstance(found, Document)
    return found


_AS_THEY_ARE = frozenset({type(None), int, float, bool})


def _clean(value: Any) -> Any:
    kind = type(value)
    # a sheet of a season holds a hundred thousand values: the many kinds first
    if kind in _AS_THEY_ARE:
        return value
    if isinstance(value, str):
        return plain(value)
    if isinstance(value, BaseModel):
        return value.model_copy(update={name: _clean(getattr(value, name)) for name in kind.model_fields})
    if is_dataclass(kind):
        return replace(value, **{name: _clean(getattr(value, name)) for name in _given(kind)})
    if isinstance(value, dict):
        return {_clean(key): _clean(inside) for key, inside in value.items()}
    if isinstance(value, tuple) and hasattr(value, "_fields"):
        return type(value)(*map(_clean, value))
    if isinstance(value, list | tuple | set | frozenset):
        return kind(map(_clean, value))
    return value


@cache
def _given(kind: Any) -> tuple[str, ...]:
    """The fields that a dataclass is made of."""
    return tuple(f.name for f in fields(kind) if f.init)
