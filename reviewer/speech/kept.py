"""Transcripts kept on disk, so that no recording is heard twice, and unfinished passes.

A finished transcript is one JSON file. An unfinished pass is a file of lines, one for each chunk
that is done, only ever added to: a line that was torn by a crash is left out when it is read, and
two passes over the same recording do each other no harm.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path

from reviewer import paths
from reviewer.errors import LibraryError
from reviewer.records import Word
from reviewer.speech import atomic
from reviewer.speech.transcript import (
    Gap,
    Settings,
    Transcript,
    gaps_from_list,
    gaps_to_list,
    words_from_list,
    words_to_list,
)

_ENDLESS = 1e9


@dataclass(frozen=True, slots=True)
class Done:
    """One chunk that was heard. first, last: samples at 16 kHz, last exclusive.

    peak: the loudest sample, 0..1. voice_s: seconds with a voice. Times of words and gaps count
    from the start of the recording.
    """

    first: int
    last: int
    words: tuple[Word, ...] = ()
    gaps: tuple[Gap, ...] = ()
    peak: float = 0.0
    voice_s: float = 0.0
    language_note: str = ""


class Keeper:
    """The place of one recording heard by one model with one set of settings."""

    def __init__(self, digest: str, model_digest: str, settings: Settings, folder: Path | None) -> None:
        """folder: None for the library's own folder of transcripts."""
        folder = folder or paths.transcripts()
        stem = f"{digest[:20]}-{model_digest[:12]}-{settings.digest()[:12]}"
        self._finished = folder / f"{stem}.json"
        self._unfinished = folder / f"{stem}.part.jsonl"

    def finished(self) -> Transcript | None:
        """The kept transcript; None where there is none, or it cannot be read any more."""
        try:
            return Transcript.from_json(self._finished.read_text("utf-8"))
        except (OSError, ValueError):
            return None

    def chunks(self) -> dict[int, Done]:
        """What an unfinished pass has done, by first sample; not always from the start without a hole."""
        try:
            lines = self._unfinished.read_text("utf-8").splitlines()
        except (OSError, ValueError):
            return {}
        return {done.first: done for done in map(_read, lines) if done is not None}

    def add(self, done: Done) -> None:
        """Keep a chunk. Raises LibraryError where it cannot be written."""
        stored = {
            "first": done.first,
            "last": done.last,
            "words": words_to_list(done.words),
            "gaps": gaps_to_list(done.gaps),
            "peak": done.peak,
            "voice_s": done.voice_s,
            "language_note": done.language_note,
        }
        line = json.dumps(stored, ensure_ascii=False)
        try:
            paths.private_folder(self._unfinished.parent)
            with open(self._unfinished, "a", encoding="utf-8", opener=paths.private_opener) as out:
                # the line before may have been torn; it must not take this one with it
                out.write(f"\n{line}\n")
                out.flush()
                os.fsync(out.fileno())
        except OSError as error:
            raise _unwritable(self._unfinished, error) from error

    def finish(self, transcript: Transcript) -> None:
        """Keep the whole and drop the chunks. Raises LibraryError where it cannot be written."""
        try:
            atomic.write_text(self._finished, transcript.to_json())
            self._unfinished.unlink(missing_ok=True)
        except OSError as error:
            raise _unwritable(self._finished, error) from error


def _read(line: str) -> Done | None:
    try:
        stored = json.loads(line)
        samples = (stored["first"], stored["last"])
        if not all(isinstance(sample, int) for sample in samples) or not 0 <= samples[0] < samples[1]:
            return None
        if not all(0 <= float(stored[name]) < _ENDLESS for name in ("peak", "voice_s")):
            return None
        return Done(
            first=stored["first"],
            last=stored["last"],
            words=words_from_list(stored["words"]),
            gaps=gaps_from_list(stored["gaps"]),
            peak=stored["peak"],
            voice_s=stored["voice_s"],
            language_note=stored["language_note"],
        )
    except (ValueError, KeyError, TypeError, IndexError, AttributeError, OverflowError, RecursionError):
        return None


def _unwritable(path: Path, error: OSError) -> LibraryError:
    return LibraryError(
        f"the transcript cannot be kept in {path.parent} ({error.strerror or error}); free some space "
        f"there, or set {paths.HOME_VARIABLE} to a folder that can be written"
    )
