"""What works on this machine: one finding for each thing the program needs, and what to do about it."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from reviewer import paths
from reviewer.errors import LibraryError, ModelError, ReviewerError

LEAST_FREE_BYTES = 500_000_000
"""Less free disk than this is worth a word: the speech model takes 150 MB, an hour of talk 115 MB."""

LEAST_COLUMNS, LEAST_LINES = 80, 24


@dataclass(frozen=True, slots=True)
class Finding:
    """One line of the doctor. ok: it works. needed: the main job does not work without it.

    about: what was found, or what is wrong and what to do.
    """

    name: str
    ok: bool
    about: str
    needed: bool = True


def findings() -> Iterator[Finding]:
    """Look at everything, one after the other; nothing is changed but that folders are made."""
    yield _python()
    yield from _library()
    yield _disk()
    yield _model()
    yield _vocabulary()
    yield _decoding()
    yield _sound("microphone", "inputs")
    yield _sound("speaker", "outputs")
    yield _terminal()


def works(found: list[Finding]) -> bool:
    """Whether the main job (grade and review) works."""
    return all(finding.ok for finding in found if finding.needed)


def _python() -> Finding:
    version = ".".join(map(str, sys.version_info[:3]))
    ok = (3, 11) <= sys.version_info[:2] < (3, 14)
    return Finding(
        "Python", ok, version if ok else f"{version}: install Reviewer with Python 3.11, 3.12 or 3.13"
    )


def _library() -> Iterator[Finding]:
    home = paths.home()
    try:
        paths.private_folder(home)
        with tempfile.NamedTemporaryFile(dir=home):
            pass
    except OSError as error:
        yield Finding(
            "library folder",
            False,
            f"{home} cannot be written ({error.strerror}); check its permissions "
            f"or set {paths.HOME_VARIABLE} to another folder",
        )
        return
    yield Finding("library folder", True, str(home))
    yield _checked("grade book", _grade_book)


def _grade_book() -> str:
    from reviewer.store import Library, check, notes

    with Library.open() as library:
        if faults := check(library):
            more = f" and {len(faults) - 1} more" if len(faults) > 1 else ""
            raise LibraryError(f"{faults[0]}{more} Bring a backup back with `reviewer restore FILE`.")
        count = len(notes(library))
    return f"sound, {count} {'note' if count == 1 else 'notes'}"


def _disk() -> Finding:
    folder = next(p for p in (paths.home(), *paths.home().parents) if p.exists())
    free = shutil.disk_usage(folder).free
    shown = f"{free / 1e9:.1f} GB free"
    if free >= LEAST_FREE_BYTES:
        return Finding("disk", True, shown)
    return Finding("disk", False, f"{shown} in {folder}; free some space before you record", needed=False)


def _model() -> Finding:
    return _checked("speech model", _default_model)


def _default_model() -> str:
    from reviewer.speech.models import find_model, verify

    model = find_model()
    verify(model)
    return f"{model.name}, undamaged, in {model.path}"


def _vocabulary() -> Finding:
    return _checked("vocabulary", _terms)


def _terms() -> str:
    from reviewer.language.vocabulary import FIELD_GROUPS, load_vocabulary

    terms = load_vocabulary().terms
    own = sum(term.own for term in terms)
    shipped = sum(term.group in FIELD_GROUPS for term in terms)
    return f"{shipped} terms" + (f", {own} of your own" if own else "")


def _decoding() -> Finding:
    return _checked("recordings", _decode_demo)


def _decode_demo() -> str:
    """Decode a second of a shipped recording: the decoder is a library of its own."""
    from reviewer.speech.decode import span

    files = sorted(paths.demo_audio().glob("*.ogg"))
    if not files:
        raise ModelError(f"there is no demo recording in {paths.demo_audio()}; install Reviewer again")
    span(files[0], 0.0, 1.0)
    return "are decoded (wav, flac, mp3, m4a, ogg, opus, mp4, mov); no other program is needed"


def _sound(name: str, kind: str) -> Finding:
    from reviewer.speech import sound

    devices = sound.list_inputs() if kind == "inputs" else sound.list_outputs()
    if devices:
        return Finding(name, True, ", ".join(device.name for device in devices), needed=False)
    use = "record" if kind == "inputs" else "hear a rep in the review"
    return Finding(name, False, f"none; plug one in to {use} (grading files needs none)", needed=False)


def _terminal() -> Finding:
    if not sys.stdout.isatty():
        return Finding("terminal", True, "output goes to a file or another program", needed=False)
    size = shutil.get_terminal_size()
    shown = f"{size.columns}x{size.lines}, {_colours()}"
    if size.columns >= LEAST_COLUMNS and size.lines >= LEAST_LINES:
        return Finding("terminal", True, shown, needed=False)
    return Finding(
        "terminal",
        False,
        f"{shown}; the review needs {LEAST_COLUMNS}x{LEAST_LINES}, make it larger",
        needed=False,
    )


def _colours() -> str:
    if os.environ.get("NO_COLOR"):
        return "no colours wanted"
    from rich.console import Console

    return {None: "no colours", "standard": "16 colours", "256": "256 colours"}.get(
        Console().color_system, "all colours"
    )


def _checked(name: str, look: Callable[[], str]) -> Finding:
    try:
        return Finding(name, True, look())
    except ReviewerError as problem:
        return Finding(name, False, str(problem).rstrip("."))
    except ImportError as problem:
        return Finding(
            name, False, f"a part of the install is missing ({problem.name}); install Reviewer again"
        )
