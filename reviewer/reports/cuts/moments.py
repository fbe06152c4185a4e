"""Moments: stretches of film that a cut-up shows, made from graded reps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from reviewer.reports.cuts.sync import SAME, SyncLine
from reviewer.reports.cuts.timecode import Rate, end_frame, first_frame
from reviewer.reports.reps import GradedRep, in_order
from reviewer.reports.wording import situation

BEFORE_S = 2.0
AFTER_S = 1.0
"""Film shown before and after what was talked about, by default."""

SNAP_S = 7.0
"""How long a play is shown when its list says only where it begins (common practice, no source)."""

TITLE_CHARACTERS = 100


@dataclass(frozen=True)
class Film:
    """The film that a note talks about.

    name: what to call it in a list. path: the file, None when it is not at hand. start: the frame
    number of its first frame's timecode. line: from the note's recording to the film.
    """

    name: str
    rate: Rate
    path: Path | None = None
    start: int = 0
    line: SyncLine = SAME


@dataclass(frozen=True)
class Moment:
    """A stretch of one film: frames from its first frame, `end` exclusive.

    title: one line. remarks: what else a list may carry. verdict: "mixed" where men differ.
    """

    film: Film
    first: int
    end: int
    title: str
    verdict: str
    remarks: tuple[str, ...] = ()

    @property
    def frames(self) -> int:
        return self.end - self.first


def moments(
    reps: Sequence[GradedRep],
    films: Mapping[int, Film],
    *,
    before_s: float = BEFORE_S,
    after_s: float = AFTER_S,
) -> list[Moment]:
    """One moment a snap, by note and time; several men graded on a snap share it.

    films: by note id; reps of other notes are left out. A rep that was matched to a play with a film
    time is shown from there, whatever the sync line says. A moment that begins before the last one of
    its film has ended begins where that ends.
    """
    found: list[Moment] = []
    for members in _snaps(reps):
        rep = members[0]
        film = films.get(rep.note_id)
        if film is None:
            continue
        start_s, end_s = _on_film(rep, film)
        first = first_frame(max(0.0, start_s - before_s), film.rate)
        end = end_frame(end_s + after_s, film.rate)
        found.append(
            Moment(film, first, max(end, first + 1), _title(members), _verdict(members), _remarks(members))
        )
    return _apart(found)


def _on_film(rep: GradedRep, film: Film) -> tuple[float, float]:
    """Where on the film a rep begins and ends."""
    if rep.film_s is not None:
        return rep.film_s, rep.film_s + SNAP_S
    return film.line.film(rep.row.start), film.line.film(rep.row.end)


def _snaps(reps: Sequence[GradedRep]) -> list[list[GradedRep]]:
    snaps: dict[tuple[int, int], list[GradedRep]] = {}
    for rep in in_order(reps):
        snaps.setdefault((rep.note_id, rep.row.rep), []).append(rep)
    return list(snaps.values())


def _apart(found: list[Moment]) -> list[Moment]:
    """The moments of each film in film order, none overlapping; one wholly inside another joins it."""
    films = {m.film.name: n for n, m in reversed(list(enumerate(found)))}
    result: list[Moment] = []
    for moment in sorted(found, key=lambda m: (films[m.film.name], m.first, m.end)):
        last = result[-1] if result and result[-1].film.name == moment.film.name else None
        if last is None or moment.first >= last.end:
            result.append(moment)
        elif moment.end <= last.end:
            title = _cut(f"{last.title} / {moment.title}")
            verdict = last.verdict if last.verdict == moment.verdict else "mixed"
            result[-1] = Moment(
                last.film, last.first, last.end, title, verdict, last.remarks + moment.remarks
            )
        else:
            result.append(
                Moment(moment.film, last.end, moment.end, moment.title, moment.verdict, moment.remarks)
            )
    return result


def _title(members: Sequence[GradedRep]) -> str:
    row = members[0].row
    men = ", ".join(dict.fromkeys(f"{m.row.player or '?'} {m.row.verdict}" for m in members))
    what = ", ".join(row.concepts) or (row.phase or "")
    return _cut(", ".join(filter(None, [f"rep {row.rep}", men, situation(row), what])))


def _cut(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= TITLE_CHARACTERS else text[: TITLE_CHARACTERS - 1] + "…"


def _verdict(members: Sequence[GradedRep]) -> str:
    verdicts = {member.row.verdict for member in members}
    return verdicts.pop() if len(verdicts) == 1 else "mixed"


def _remarks(members: Sequence[GradedRep]) -> tuple[str, ...]:
    lines = []
    for rep in members:
        row = rep.row
        terms = [*row.techniques, *(f"fault {f}" for f in row.faults), *row.moves, *row.games, *row.events]
        if terms or row.labels:
            lines.append(f"{row.player or '?'}: {', '.join([*terms, *row.labels])}")
    return tuple(lines)
