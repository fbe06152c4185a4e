"""A report with nothing in its texts that acts on what shows it; `as_json` and `as_csv` keep every letter."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any

from pydantic import BaseModel

from reviewer.reports.document import Document
from reviewer.review.plain import plain


def harmless(document: Document) -> Document:
    """The document with `review.plain.plain` done to every text in it; paths stay what they are."""
    found = _clean(document)
    assert isinstance(found, Document)
    return found


def _clean(value: Any) -> Any:
    if isinstance(value, str):
        return plain(value)
    if isinstance(value, BaseModel):
        given = {name: _clean(getattr(value, name)) for name in type(value).model_fields}
        return value.model_copy(update=given)
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{f.name: _clean(getattr(value, f.name)) for f in fields(value) if f.init})
    if isinstance(value, dict):
        return {_clean(key): _clean(inside) for key, inside in value.items()}
    if isinstance(value, tuple) and hasattr(value, "_fields"):
        return type(value)(*map(_clean, value))
    if isinstance(value, list | tuple | set | frozenset):
        return type(value)(map(_clean, value))
    return value
