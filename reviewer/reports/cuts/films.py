"""Which film a note talks about, and how to get from its recording to it: from options, from what was
kept before, from the note itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from reviewer.errors import InputError
from reviewer.reports.anonymous import Anonymizer
from reviewer.reports.cuts.moments import Film
from reviewer.reports.cuts.sync import SAME, SyncMark, fit, read_mark
from reviewer.reports.cuts.timecode import Rate, from_timecode, read_rate
from reviewer.reports.reps import GradedRep

if TYPE_CHECKING:
    from reviewer.store.films import NoteFilm
    from reviewer.store.library import Library

FILM_ENDINGS = frozenset({".mp4", ".mov", ".mkv", ".m4v", ".avi", ".mts"})

FINE = Rate(Fraction(240))
"""Stands in for the rate where only seconds are wanted (WebVTT)."""


@dataclass(frozen=True)
class FilmOptions:
    """What the user said of films. named: paths, or GAME=PATH where several games are cut. rate:
    "29.97df"; start: timecode of the first frame; sync: RECORDING=FILM marks."""

    named: Sequence[str] = ()
    rate: str | None = None
    start: str | None = None
    sync: Sequence[str] = ()

    @property
    def given(self) -> bool:
        return bool(self.named or self.rate or self.start or self.sync)


@dataclass(frozen=True)
class FilmsFound:
    """Films by note id, and sentences that the user should read."""

    films: Mapping[int, Film]
    remarks: tuple[str, ...]


def films_for(
    library: Library, reps: Sequence[GradedRep], options: FilmOptions, need_rate: bool = True
) -> FilmsFound:
    """The film of every note that the reps come from.

    Options come before what was kept, what was kept before what the film file says. Options for a
    single note are kept with it. Raises InputError when a rate is needed and nobody knows it, or
    sync marks are given for several notes at once.
    """
    from reviewer.store.films import film_of, save_film

    notes = {rep.note_id: rep for rep in reps}
    if len(notes) > 1 and options.sync:
        raise InputError(
            f"Sync marks belong to one recording, and these reps come from {len(notes)}; "
            "narrow to one note or game."
        )
    films: dict[int, Film] = {}
    remarks: list[str] = []
    unsynced: list[str] = []
    for note, rep in notes.items():
        kept = film_of(library, note)
        merged = _merged(kept, options, rep)
        film = _film(merged, rep, need_rate)
        films[note] = film
        if rep.film_s is None and film.line.residuals_s:
            remarks.append(f"{rep.note}: {film.line.words()}")
        elif rep.film_s is None:
            unsynced.append(rep.note)
        if len(notes) == 1 and options.given and merged != kept and not library.read_only:
            save_film(library, note, merged)
    if unsynced:
        which = unsynced[0] if len(unsynced) == 1 else f"{len(unsynced)} notes"
        remarks.append(
            f"{which}: no sync mark, so the film is taken to run along with the recording from its start; "
            "set one with --sync."
        )
    return FilmsFound(films, tuple(remarks))


def unnamed(reps: Sequence[GradedRep], films: Mapping[int, Film]) -> tuple[list[GradedRep], dict[int, Film]]:
    """Reps and films for sharing: men replaced, games and films counted, no path. What a cut list needs,
    the moments on the film, stays."""
    hand = Anonymizer()
    hidden = [replace(hand.rep(rep), film_s=rep.film_s) for rep in reps]
    names: dict[str, str] = {}
    for film in films.values():
        names.setdefault(film.name, f"film {len(names) + 1:02}")
    return hidden, {
        hand.note(note): replace(film, name=names[film.name], path=None) for note, film in films.items()
    }


def _merged(kept: NoteFilm, options: FilmOptions, rep: GradedRep) -> NoteFilm:
    from reviewer.store.films import NoteFilm

    path = _named(options.named, rep) or kept.path or _own_film(rep)
    rate = options.rate or kept.rate
    marks = kept.marks
    if options.sync:
        exact = read_rate(rate) if rate else _file_rate(path) or FINE
        marks = tuple((m.recording_s, m.film_s) for m in (read_mark(text, exact) for text in options.sync))
    return NoteFilm(path, rate, options.start or kept.start, marks)


def _named(named: Sequence[str], rep: GradedRep) -> str:
    """The path that the user named for the rep's game: GAME=PATH, or a path for all."""
    whole = ""
    for text in named:
        game, equals, path = text.partition("=")
        if not equals or Path(text).exists():
            whole = text
        elif rep.game is not None and game.strip().casefold() in (
            rep.game.opponent.casefold(),
            rep.game.date,
            rep.game.title.casefold(),
            str(rep.game.id),
        ):
            return path
    return whole


def _own_film(rep: GradedRep) -> str:
    """The note's own recording where that is a film: the talk is then the film's sound."""
    if rep.audio is not None and rep.audio.suffix.lower() in FILM_ENDINGS and rep.audio.is_file():
        return str(rep.audio)
    return ""


def _film(known: NoteFilm, rep: GradedRep, need_rate: bool) -> Film:
    path = Path(known.path).expanduser() if known.path else None
    rate = read_rate(known.rate) if known.rate else _file_rate(known.path)
    if rate is None and need_rate:
        raise InputError(
            f"The frame rate of the film of {rep.game_title} is not known; name the film with --film or the "
            "rate with --rate."
        )
    rate = rate or FINE
    marks = [SyncMark(*mark) for mark in known.marks]
    return Film(
        name=path.stem if path else rep.game_title,
        rate=rate,
        path=path,
        start=_start(known, path, rate),
        line=fit(marks) if marks else SAME,
    )


def _file_rate(path: str) -> Rate | None:
    from reviewer.reports.cuts.clips import film_rate

    if not path:
        return None
    where = Path(path).expanduser()
    if not where.is_file():
        raise InputError(f"The film {where} is not there; name where it is with --film.")
    return film_rate(where)


def _start(known: NoteFilm, path: Path | None, rate: Rate) -> int:
    from reviewer.reports.cuts.clips import film_start

    if known.start:
        return from_timecode(known.start, rate)
    said = film_start(path) if path is not None and path.is_file() else ""
    try:
        return from_timecode(said, rate) if said else 0
    except InputError:
        # The file's own label does not fit the rate that the user gave: his word counts, from zero.
        return 0
