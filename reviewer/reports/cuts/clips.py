"""The clips themselves and a reel with chapters, cut to the frame (PyAV).

A cut between two key frames needs decoding and encoding again: about three times real time. Every
file is written under another name and moved into place when whole, and a folder of clips keeps a
record of what each was cut from: a stopped pass leaves no half file and goes on where it stopped.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from reviewer.errors import InputError, Stopped
from reviewer.reports.cuts.encode import Encoder, Frames, open_film
from reviewer.reports.cuts.moments import Moment
from reviewer.reports.cuts.timecode import Rate, rate_of, seconds_of

RECORD = "clips.json"
"""The record in a folder of clips: file name to what it was cut from."""

Progress = Callable[[int, int, str], None]
"""Called with clips done, all clips, and the title of the one begun (or "" at the end)."""


@dataclass(frozen=True)
class Cut:
    """What a pass over the clips did."""

    made: tuple[Path, ...]
    kept: tuple[Path, ...]


def film_rate(path: Path) -> Rate:
    """The frame rate of a film file; drop-frame where its own timecode says so.

    Raises InputError when the file is no film.
    """
    with open_film(path) as container:
        stream = container.streams.video[0]
        fps = stream.average_rate or stream.base_rate or Fraction(30)
        code = {**container.metadata, **stream.metadata}.get("timecode", "")
    try:
        return rate_of(Fraction(fps), ";" in code)
    except ValueError as problem:
        raise InputError(
            f"The film {path} has an unusable frame rate ({problem}); name one with --rate."
        ) from problem


def film_start(path: Path) -> str:
    """The timecode of the film's first frame as its file says, "" where it says none."""
    with open_film(path) as container:
        places = [container.metadata, *(stream.metadata for stream in container.streams)]
        return next((place["timecode"] for place in places if "timecode" in place), "")


def cut_clips(
    moments: Sequence[Moment],
    folder: Path,
    progress: Progress | None = None,
    stop: Callable[[], bool] | None = None,
) -> Cut:
    """Cut each moment into a file of its own; those already there and unchanged are kept.

    stop: asked often; when it says True the pass ends with Stopped, whole clips stay. Raises
    InputError when a film is not at hand or a place cannot be written.
    """
    _check(moments)
    _make(folder)
    record = _read_record(folder)
    made: list[Path] = []
    kept: list[Path] = []
    names = clip_names(moments)
    for number, (moment, name) in enumerate(zip(moments, names, strict=True)):
        out = folder / name
        source = _source(moment)
        if record.get(name) == source and out.is_file():
            kept.append(out)
            continue
        if progress is not None:
            progress(number, len(moments), moment.title)
        _write(out, [moment], False, stop)
        record[name] = source
        _write_record(folder, record)
        made.append(out)
    if progress is not None:
        progress(len(moments), len(moments), "")
    return Cut(tuple(made), tuple(kept))


def cut_reel(
    moments: Sequence[Moment],
    out: Path,
    progress: Progress | None = None,
    stop: Callable[[], bool] | None = None,
) -> Path:
    """All moments in one film, a chapter each, at the first film's size and rate.

    Raises as `cut_clips`; a stopped reel leaves nothing.
    """
    _check(moments)
    _make(out.parent)

    def told(number: int) -> None:
        if progress is not None:
            progress(number, len(moments), moments[number].title if number < len(moments) else "")

    _write(out, moments, True, stop, told)
    return out


def clip_names(moments: Sequence[Moment]) -> list[str]:
    """File names that sort in order and say what is shown: "001 rep 3, 74 loss.mp4"."""
    names = []
    for number, moment in enumerate(moments, 1):
        plain = re.sub(r"[^\w ,.+-]", " ", moment.title)
        names.append(f"{number:03} {' '.join(plain.split())[:70].rstrip(' .')}".rstrip() + ".mp4")
    return names


def _check(moments: Sequence[Moment]) -> None:
    if not moments:
        raise InputError("There is nothing to cut: no rep fits; widen the search.")
    for moment in moments:
        path = moment.film.path
        if path is None:
            raise InputError(f"The film of {moment.film.name} is not known; name it with --film.")
        if not path.is_file():
            raise InputError(f"The film {path} is not there; name where it is with --film.")


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise InputError(f"{folder} cannot be made ({problem.strerror}); choose another place.") from problem


def _source(moment: Moment) -> str:
    """Tells whether a clip is still what it would be cut to now."""
    assert moment.film.path is not None
    facts = moment.film.path.stat()
    parts = [str(moment.film.path.resolve()), facts.st_size, facts.st_mtime_ns, moment.first, moment.end]
    return hashlib.sha256(json.dumps([*parts, str(moment.film.rate)]).encode()).hexdigest()


def _read_record(folder: Path) -> dict[str, str]:
    try:
        found = json.loads((folder / RECORD).read_text("utf-8"))
    except (OSError, ValueError, RecursionError):
        # Without a record every clip is cut again, which is always right.
        return {}
    return {str(k): str(v) for k, v in found.items()} if isinstance(found, dict) else {}


def _write_record(folder: Path, record: dict[str, str]) -> None:
    from reviewer.reports.files import write_whole

    write_whole(folder / RECORD, json.dumps(record, indent=1, ensure_ascii=False) + "\n")


def _write(
    out: Path,
    moments: Sequence[Moment],
    chapters: bool,
    stop: Callable[[], bool] | None,
    told: Callable[[int], None] | None = None,
) -> None:
    part = out.with_name(f".{out.stem}.part{out.suffix}")
    try:
        _encode(part, moments, chapters, stop, told)
        part.replace(out)
    except OSError as problem:
        raise InputError(
            f"{out} could not be written ({problem}); check the film and the place."
        ) from problem
    finally:
        part.unlink(missing_ok=True)


def _encode(
    part: Path,
    moments: Sequence[Moment],
    chapters: bool,
    stop: Callable[[], bool] | None,
    told: Callable[[int], None] | None,
) -> None:
    first = moments[0].film
    assert first.path is not None
    with open_film(first.path) as container:
        encoder = Encoder(part, container, first.rate, _chapters(moments, first.rate) if chapters else [])
    with encoder:
        for number, moment in enumerate(moments):
            if told is not None:
                told(number)
            assert moment.film.path is not None
            encoder.begin_moment(moment.film.rate)
            with open_film(moment.film.path) as container:
                for piece in Frames(container, moment.film.rate, moment.first, moment.end):
                    if stop is not None and stop():
                        raise Stopped("The cutting was stopped; what was whole stays, run it again to go on.")
                    encoder.add(piece)
            encoder.close_moment(moment.frames)
        if told is not None:
            told(len(moments))


def _chapters(moments: Sequence[Moment], rate: Rate) -> list[dict[str, Any]]:
    """The chapters of a reel, in thousandths of a second."""
    chapters, at = [], 0
    for number, moment in enumerate(moments, 1):
        length = round(Fraction(moment.frames) / moment.film.rate.exact * rate.exact)
        chapters.append(
            {
                "id": number,
                "start": round(1000 * seconds_of(at, rate)),
                "end": round(1000 * seconds_of(at + length, rate)),
                "time_base": Fraction(1, 1000),
                "metadata": {"title": moment.title},
            }
        )
        at += length
    return chapters
