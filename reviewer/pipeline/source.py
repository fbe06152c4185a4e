"""What a note is made of: a recording, timed captions or plain text, and the words of the last two."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from reviewer.errors import InputError
from reviewer.records import Word
from reviewer.store.notes import NoteKind

CAPTIONS = frozenset({".vtt", ".srt"})
TEXTS = frozenset({".txt", ".md"})
RECORDINGS = frozenset(
    {".wav", ".flac", ".mp3", ".m4a", ".aac", ".ogg", ".oga", ".opus", ".mp4", ".m4v", ".mov", ".mkv",
     ".webm", ".wma", ".aif", ".aiff", ".amr", ".3gp"}
)  # fmt: skip
"""Endings by which a recording is found in a folder; a recording that is named may have any."""

STDIN = "-"
MOST_TEXT_BYTES = 5_000_000
"""Longest plain text taken: more than a hundred hours of talk."""


@dataclass(frozen=True, slots=True)
class NoteSource:
    """A note before it is read.

    name: how it is called in messages, and its title. path: the file, None for text from a pipe.
    text: the plain text, "" for other kinds. digest: SHA-256 of the text, "" where the file's own
    is taken.
    """

    kind: NoteKind
    name: str
    path: Path | None
    text: str = ""
    digest: str = ""

    @property
    def file(self) -> Path:
        """The note's file; only text from a pipe has none."""
        assert self.path is not None
        return self.path

    @property
    def title(self) -> str:
        """The note's name without its ending."""
        return self.path.stem if self.path is not None else self.name


def open_source(path: Path) -> NoteSource:
    """Tell a note's kind by its ending; plain text is read at once.

    Raises InputError for a text or captions file that is missing, empty or not UTF-8; a recording is
    looked at when it is heard.
    """
    ending = path.suffix.lower()
    if ending in CAPTIONS:
        _refuse_empty(path)
        return NoteSource("captions", path.name, path)
    if ending in TEXTS:
        _refuse_empty(path)
        return text_source(_read(path), path.name, path)
    return NoteSource("audio", path.name, path)


def text_source(data: bytes, name: str, path: Path | None = None) -> NoteSource:
    """A note of plain text. Raises InputError when it is no UTF-8 text, has no words or is absurdly long."""
    if len(data) > MOST_TEXT_BYTES:
        raise InputError(
            f"{name} is larger than {MOST_TEXT_BYTES // 1_000_000} MB, which is no note of one sitting; "
            "cut it into its notes"
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError(f"{name}, line {line}: this is not UTF-8 text; save it as UTF-8 text") from None
    if "\x00" in text:
        raise InputError(f"{name} is no plain text; give a recording, captions or a text file")
    if not any(char.isalnum() for char in text):
        raise InputError(f"{name} holds no words; give the text of the talk")
    return NoteSource("text", name, path, text, hashlib.sha256(data).hexdigest())


def spoken_words(source: NoteSource) -> list[Word]:
    """The words of captions or plain text. A text's times are a talking pace, not measured."""
    if source.kind == "captions":
        from reviewer.speech.captions import read_captions

        return read_captions(source.file)
    from reviewer.language.tokens import words_from_text

    return words_from_text(source.text)


def find_notes(named: Iterable[Path]) -> list[Path]:
    """The notes that files and folders name, in order, each once.

    Of a folder these are its recordings, captions and texts, by name; captions or a text beside a
    recording of the same name are taken for its transcript and left out. Raises InputError for a
    folder without any.
    """
    found: list[Path] = []
    for path in named:
        if not path.is_dir():
            found.append(path)
            continue
        inside = _notes_in(path)
        if not inside:
            raise InputError(f"the folder {path} holds no recording, captions or text; name another")
        found += inside
    return list(dict.fromkeys(found))


def _notes_in(folder: Path) -> list[Path]:
    try:
        files = sorted(
            entry for entry in folder.iterdir() if entry.is_file() and not entry.name.startswith(".")
        )
    except OSError as error:
        raise InputError(
            f"the folder {folder} cannot be read ({error.strerror}); check its permissions"
        ) from error
    heard = {file.stem for file in files if file.suffix.lower() in RECORDINGS}
    written = CAPTIONS | (TEXTS - {".md"})  # a .md in a folder is mostly about the folder
    return [
        file
        for file in files
        if file.suffix.lower() in RECORDINGS or (file.suffix.lower() in written and file.stem not in heard)
    ]


def _refuse_empty(path: Path) -> None:
    try:
        if path.is_dir():
            raise InputError(f"{path} is a folder; name a note inside it")
        size = path.stat().st_size
    except FileNotFoundError:
        raise InputError(f"there is no file {path}; check the name and the folder") from None
    except OSError as error:
        raise InputError(f"{path} cannot be read ({error.strerror}); check its permissions") from error
    if size == 0:
        raise InputError(f"{path} is empty (0 bytes); write or copy it again")


def _read(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(MOST_TEXT_BYTES + 1)
    except OSError as error:
        raise InputError(f"{path} cannot be read ({error.strerror}); check its permissions") from error
