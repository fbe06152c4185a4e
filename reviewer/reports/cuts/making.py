"""Write a cut list, or cut the clips, and say where they are."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import click

from reviewer.errors import InputError
from reviewer.reports.cuts.lists import by_film, edl, otio, vtt
from reviewer.reports.cuts.moments import Moment
from reviewer.reports.files import write_whole

ENDINGS = {"vtt": ".vtt", "edl": ".edl", "otio": ".otio"}


def make(moments: Sequence[Moment], format_: str, out: Path | None, reel: bool = False) -> list[Path]:
    """Write the moments in a format; returns the files. A list of one film goes to `out` or stdout, of
    several films into the folder `out`, one file each; clips always go into a folder.

    Raises InputError when there is nothing to cut or the place does not fit.
    """
    if not moments:
        raise InputError("There is nothing to cut: no rep fits; widen the search.")
    if format_ == "clips":
        return _clips(moments, out, reel)
    films = by_film(moments)
    if len(films) == 1 and out is None:
        click.echo(list_text(moments, format_, moments[0].film.name), nl=False)
        return []
    if out is None:
        raise InputError(
            f"These are moments of {len(films)} films; name a folder for their lists with --out."
        )
    return _lists(films, format_, out)


def list_text(moments: Sequence[Moment], format_: str, title: str) -> str:
    """The list of one film's moments as text."""
    if format_ == "vtt":
        return vtt(moments)
    return edl(moments, title) if format_ == "edl" else otio(moments, title)


def _lists(films: dict[str, list[Moment]], format_: str, out: Path) -> list[Path]:
    from reviewer.commands.terminal import remark

    ending = ENDINGS[format_]
    if len(films) == 1 and not out.is_dir():
        files = {out: next(iter(films.items()))}
    else:
        _folder(out)
        files = {out / f"{_file_name(name)}{ending}": (name, found) for name, found in films.items()}
    texts = {path: list_text(found, format_, name) for path, (name, found) in files.items()}
    for path, text in texts.items():
        write_whole(path, text)
        remark(f"Written: {path}")
    return list(texts)


def _clips(moments: Sequence[Moment], out: Path | None, reel: bool) -> list[Path]:
    from reviewer.commands.terminal import remark, stoppable
    from reviewer.reports.cuts.clips import cut_clips, cut_reel

    if out is None:
        raise InputError("Clips need a folder; name one with --out.")
    with stoppable() as stop, _telling("cutting") as tell:
        cut = cut_clips(moments, out, tell, stop)
        files = [*cut.made, *cut.kept]
        if reel:
            files.append(cut_reel(moments, out / "reel.mp4", tell, stop))
    remark(f"{len(cut.made)} clips cut, {len(cut.kept)} were there: {out}")
    return files


@contextmanager
def _telling(what: str) -> Iterator[Callable[[int, int, str], None] | None]:
    """A bar on stderr where that is a terminal."""
    from reviewer.commands.terminal import counting

    with counting(what) as count:
        yield None if count is None else lambda done, total, _title: count(done, total)


def _folder(out: Path) -> None:
    if out.is_file():
        raise InputError(f"{out} is a file, and these are moments of several films; name a folder.")
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise InputError(f"{out} cannot be made ({problem.strerror}); choose another place.") from problem


def _file_name(name: str) -> str:
    return " ".join(re.sub(r"[^\w ,.+-]", " ", name).split()) or "film"
