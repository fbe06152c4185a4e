"""Transcribing and grading: what was heard is kept chunk by chunk, a note is stored whole or not at all."""

from __future__ import annotations

import json
import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from reviewer import leavings, paths, store
from reviewer.language.read import Reader
from reviewer.speech import activity, decode, kept
from reviewer.speech.kept import Done, Keeper
from reviewer.speech.recogniser import Segment
from reviewer.speech.transcribe import hear
from reviewer.speech.transcript import Settings
from tests.killing import book
from tests.killing.child import OUT, Tell, command
from tests.killing.rig import Kind
from tests.speech.fakes import MODEL, FakeEars, loud
from tests.speech.sounds import Audio, save, tones
from tests.talk import ROSTER_CSV, TEXT

MINUTES = 3
CHUNK_S = 30.0
CHUNK_TAKES_S = 0.02
"""What hearing a chunk costs the fake: enough that kills fall between chunks and inside them."""

REAL = "tiny.en"
"""The shipped model that is used in place: nothing to put together first."""

_TALK = [piece for n in range(10) for piece in ((1.0 + n / 10, 0.5), (20.0 if n % 4 == 3 else 3.0, 0.0))]


class SlowEars(FakeEars):
    """The fake, as slow as a model."""

    def hear(self, audio: Audio, *, prompt: str = "", hotwords: str = "", beam: int = 5) -> Iterator[Segment]:
        for segment in super().hear(audio, prompt=prompt, hotwords=hotwords, beam=beam):
            time.sleep(CHUNK_TAKES_S)
            yield segment


# --- transcribing ------------------------------------------------------------------------------


def prepare_transcribing(place: Path, tell: Tell) -> None:
    save(place / "talk.flac", tones(*_TALK * MINUTES))


def work_transcribing(place: Path, tell: Tell) -> None:
    """Tells the first sample of each chunk that is kept."""
    leavings.OLD_S = 0.0
    activity.voiced = loud
    activity.CHUNK_S = CHUNK_S
    _telling_chunks(tell)
    hear(place / "talk.flac", model=MODEL, load=SlowEars())


def _telling_chunks(tell: Tell) -> None:
    add = Keeper.add

    def told(self: Keeper, done: Done) -> None:
        add(self, done)
        tell(done.first)

    kept.Keeper.add = told  # type: ignore[method-assign]


def look_transcribing(place: Path, tell: Tell, told: list[int], foreseen: Any) -> list[str]:
    return _lost_chunks(place / "talk.flac", MODEL.digest, told)


def _lost_chunks(path: Path, model: str, told: list[int]) -> list[str]:
    keeper = Keeper(decode.digest(path), model, Settings(), None)
    if keeper.finished() is not None:
        return []
    gone = set(told) - keeper.chunks().keys()
    return [f"{len(gone)} of {len(set(told))} chunks that were heard are gone"] if gone else []


def result_transcribing(place: Path, tell: Tell) -> Any:
    return [path.name for path in paths.transcripts().iterdir()], _finished(place / "talk.flac", MODEL.digest)


def _finished(path: Path, model: str) -> str:
    found = Keeper(decode.digest(path), model, Settings(), None).finished()
    assert found is not None
    return found.to_json()


# --- hearing with the real model ---------------------------------------------------------------


def prepare_real(place: Path, tell: Tell) -> None:
    save(place / "clip.flac", decode.span(paths.demo_audio() / "terse-coach.ogg", 0.0, 12.0))


def work_real(place: Path, tell: Tell) -> None:
    activity.CHUNK_S = 4.0
    _telling_chunks(tell)
    hear(place / "clip.flac", model=REAL)


def look_real(place: Path, tell: Tell, told: list[int], foreseen: Any) -> list[str]:
    return _lost_chunks(place / "clip.flac", _real_digest(), told)


def result_real(place: Path, tell: Tell) -> Any:
    return _finished(place / "clip.flac", _real_digest())


def _real_digest() -> str:
    from reviewer.speech.models import find_model

    return find_model(REAL).digest


# --- grading -----------------------------------------------------------------------------------

NOTES = 5
OPTIONS = ("--player", "74", "--opponent", "Calder Stags", "--model", REAL, "--keep", "--json")


def prepare_grading(place: Path, tell: Tell) -> None:
    """Talk as text and as captions, and a clip that was heard already."""
    notes = place / "notes"
    notes.mkdir()
    (place / "roster.csv").write_text(ROSTER_CSV, "utf-8")
    for number in range(NOTES):
        (notes / f"week {number}.txt").write_text(f"{TEXT}\nThat was week {number}.\n", "utf-8")
        (notes / f"cut {number}.vtt").write_text(_captions(number), "utf-8")
    save(notes / "heard.flac", decode.span(paths.demo_audio() / "terse-coach.ogg", 0.0, 24.0))
    command("grade", notes / "heard.flac", *OPTIONS, "--roster", place / "roster.csv")
    (place / OUT).unlink()
    paths.database().unlink()
    for path in paths.recordings().iterdir():
        path.unlink()


def _captions(number: int) -> str:
    sentences = [line.strip() for line in TEXT.replace("\n", " ").split(".") if line.strip()]
    cues = [
        f"00:{at // 60:02}:{at % 60:02}.000 --> 00:{at // 60:02}:{at % 60:02}.900\n{sentence}.\n"
        for at, sentence in zip(range(5 + number, 55, 3), sentences, strict=False)
    ]
    return "WEBVTT\n\n" + "\n".join(cues)


def work_grading(place: Path, tell: Tell) -> None:
    from tests.killing.warm import READER

    os.truncate(place / OUT, 0)  # what an earlier run printed was looked at after its kill
    Reader.load = staticmethod(lambda *_, **__: READER)  # type: ignore[method-assign,assignment]
    command("grade", place / "notes", *OPTIONS, "--roster", place / "roster.csv")


def foresee_grading(place: Path, tell: Tell) -> dict[str, Any]:
    work_grading(place, tell)
    return book.notes_by_name()


def look_grading(place: Path, tell: Tell, told: Any, foreseen: dict[str, Any]) -> list[str]:
    """Every note is there as it is to be or not at all; one whose rows were printed is there."""
    lost = book.faults()
    found = book.notes_by_name()
    lost += [f"the note {name} is there and not whole" for name in found if found[name] != foreseen[name]]
    printed = _printed(place / OUT)
    stored = sum(len(rows) for rows in found.values())
    if printed > stored:
        lost.append(f"{printed} rows were shown as graded, {stored} are stored")
    if not paths.database().exists():
        return lost
    with store.Library.open() as library:
        sources = [Path(note.source) for note in store.notes(library) if note.kind == "audio" and note.source]
    lost += [f"the recording {path} is not kept" for path in sources if not _same_sound(path, place)]
    return lost


def _printed(out: Path) -> int:
    lines = out.read_text("utf-8").splitlines() if out.exists() else []
    return sum(line.startswith("{") and _whole(line) for line in lines)


def _whole(line: str) -> bool:
    try:
        json.loads(line)
    except ValueError:
        return False
    return True


def _same_sound(path: Path, place: Path) -> bool:
    return path.exists() and path.read_bytes() == (place / "notes" / "heard.flac").read_bytes()


def result_grading(place: Path, tell: Tell) -> Any:
    visible = sorted(path.name for path in paths.recordings().glob("[!.]*"))
    return {"recordings": visible, **book.contents(without=str(place))}


TRANSCRIBING = Kind(
    "transcribing", prepare_transcribing, work_transcribing, look_transcribing, result_transcribing
)
HEARING = Kind("hearing", prepare_real, work_real, look_real, result_real)
GRADING = Kind("grading", prepare_grading, work_grading, look_grading, result_grading, foresee_grading)
