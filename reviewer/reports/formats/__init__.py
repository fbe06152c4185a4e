"""The ways out: one module a format, each turning any `Document` into text or bytes."""

from __future__ import annotations

from pathlib import Path

from reviewer.errors import InputError
from reviewer.reports.document import Document
from reviewer.reports.files import write_whole

FORMATS: tuple[str, ...] = ("table", "html", "pdf", "xlsx", "csv", "json", "md")
"""Formats a report can be had in; "table" is the terminal's."""

BINARY = frozenset({"pdf", "xlsx"})

AUDIO_CHOICES: tuple[str, ...] = ("link", "copy", "none")
"""How an HTML page gets its sound: the recordings where they lie, copies beside it, none."""


def render(document: Document, format: str, *, width: int = 100, words: bool = False) -> str:
    """The document as text, for the formats that are text. HTML comes without sound.

    width: columns of the terminal, for "table"; words: show what was said there too.
    Raises InputError for a format that must be written to a file, or is not known.
    """
    if format in BINARY:
        raise InputError(f"The format {format} is no text; name a file for it with --out.")
    match format:
        case "table":
            from reviewer.reports.formats.as_text import text

            return text(document, width, words)
        case "html":
            from reviewer.reports.formats.as_html import page

            return page(document)
        case "md":
            from reviewer.reports.formats.as_markdown import markdown

            return markdown(document)
        case "csv":
            from reviewer.reports.formats.as_csv import csv_text

            return csv_text(document)
        case "json":
            from reviewer.reports.formats.as_json import json_text

            return json_text(document)
    raise InputError(f"There is no format {format!r}; name one of {', '.join(FORMATS)}.")


def write(document: Document, format: str, out: Path, *, audio: str = "link", words: bool = False) -> Path:
    """Write the document to a file, whole or not at all, and return its path.

    audio: see AUDIO_CHOICES; only HTML plays sound. words: show what was said in "table" too.
    Raises InputError when the place cannot be written or the format is not known.
    """
    match format:
        case "pdf":
            from reviewer.reports.formats.as_pdf import pdf_bytes

            return write_whole(out, pdf_bytes(document))
        case "xlsx":
            from reviewer.reports.formats.as_xlsx import xlsx_bytes

            return write_whole(out, xlsx_bytes(document))
        case "html":
            from reviewer.reports.formats.as_html import write_page

            return write_page(document, out, audio)
    return write_whole(out, render(document, format, words=words))
