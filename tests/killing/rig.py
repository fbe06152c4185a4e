"""Kill one kind of work again and again, look after each kill, and let it go on to its end."""

from __future__ import annotations

import random
import shutil
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from statistics import median
from typing import Any

from tests.killing.child import Worker, done

TRIES = 6
"""Moments drawn for each kill that is wanted: one that comes after the end is drawn anew."""

AGAIN = 0.25
"""How often the work that goes on after a kill is killed as well."""


def _same(place: Path, tell: object) -> None:
    return None


def _nothing_beside(place: Path) -> Callable[[], None]:
    return lambda: None


@dataclass(frozen=True)
class Kind:
    """A kind of work. Its functions are called in child processes, as f(place, tell, ...).

    prepare: makes the place that each run begins with. work: what is killed; done again, it goes on.
    foresee: what `look` compares with, from a copy of the prepared place. look: called after each kill
    with everything told so far and what was foreseen; returns sentences about what is lost or broken.
    result: what stands at the end, as plain values. beside: called in this process when the work
    begins; what it returns is called when the process is gone, and ends what runs beside it; its
    answer is told too.
    """

    name: str
    prepare: Callable[..., None]
    work: Callable[..., None]
    look: Callable[..., list[str]]
    result: Callable[..., Any]
    foresee: Callable[..., Any] = _same
    beside: Callable[[Path], Callable[[], Any]] = _nothing_beside


@dataclass
class Tally:
    """What came of the kills. late: kills that came after the end, which do not count."""

    kind: str
    kills: int = 0
    late: int = 0
    lost: list[str] = field(default_factory=list)
    ends_s: list[float] = field(default_factory=list)
    seconds: float = 0.0

    @property
    def work_s(self) -> float:
        """How long the work takes when nothing disturbs it."""
        return median(self.ends_s)


def kill_often(kind: Kind, kills: int, seed: int, folder: Path) -> Tally:
    """Kill the work so many times while it is at it, at moments drawn from the seed."""
    began = time.monotonic()
    found = Tally(kind.name)
    draw = random.Random(f"{kind.name} {seed}")
    prepared = folder / "prepared"
    prepared.mkdir(parents=True)
    done(kind.prepare, prepared)
    foreseen = done(kind.foresee, _copy(prepared, folder / "foreseen"))
    _, wanted = _undisturbed(kind, prepared, folder)  # this one meets cold files
    seconds, again = _undisturbed(kind, prepared, folder)
    found.ends_s.append(seconds)
    if again != wanted:
        found.lost.append(f"two undisturbed runs differ: {_how(again, wanted)}")
    for number in count(1):
        if found.kills >= kills or found.kills + found.late >= TRIES * kills:
            break
        place = _copy(prepared, folder / f"kill-{number}")
        trial = _Trial(kind, place, foreseen, wanted)
        trial.run(draw, found, kills)
        shutil.rmtree(place)
    if found.kills < kills:
        found.lost.append(f"only {found.kills} of {kills} kills came while it was at work")
    found.seconds = time.monotonic() - began
    return found


def _undisturbed(kind: Kind, prepared: Path, folder: Path) -> tuple[float, Any]:
    """Seconds that the work takes, and what stands at its end."""
    place = _copy(prepared, folder / "undisturbed")
    seconds, fault = _to_its_end(kind, place)
    assert not fault, f"{kind.name}, undisturbed: {fault}"
    result = done(kind.result, place)
    shutil.rmtree(place)
    return seconds, result


def _copy(prepared: Path, place: Path) -> Path:
    shutil.copytree(prepared, place, symlinks=True)
    return place


def _to_its_end(kind: Kind, place: Path) -> tuple[float, str]:
    worker = Worker(kind.work, place)
    worker.wait_begin()
    began = time.monotonic()
    stop = kind.beside(place)
    try:
        worker.wait_end()
    except AssertionError as fault:
        return 0.0, str(fault)
    finally:
        seconds = time.monotonic() - began
        stop()
    return seconds, ""


@dataclass
class _Trial:
    """One place in which the work is killed once or twice and then comes to its end."""

    kind: Kind
    place: Path
    foreseen: Any
    wanted: Any
    told: list[Any] = field(default_factory=list)

    def run(self, draw: random.Random, found: Tally, most: int) -> None:
        moments = [draw.uniform(0.0, found.work_s) for _ in range(1 + (draw.random() < AGAIN))]
        killed = False
        for moment in moments:
            if found.kills >= most or not self._kill(moment, found):
                break
            killed = True
            self._looked(found, moment)
        if killed:
            self._gone_on(found, moments)

    def _kill(self, moment: float, found: Tally) -> bool:
        worker = Worker(self.kind.work, self.place)
        worker.wait_begin()
        stop = self.kind.beside(self.place)
        began = time.monotonic()
        worker.wait(moment)
        seconds = time.monotonic() - began
        hit = worker.kill()
        if not hit:
            found.ends_s.append(seconds)
        beside = stop()
        self.told += [*worker.told, *([beside] if beside is not None else [])]
        found.kills += hit
        found.late += not hit
        if worker.fault:
            found.lost.append(f"after {moment:.3f} s it had failed: {worker.fault}")
        return hit

    def _looked(self, found: Tally, moment: float) -> None:
        try:
            lost = done(self.kind.look, self.place, self.told, self.foreseen)
        except AssertionError as fault:
            lost = [str(fault)]
        found.lost += [f"killed after {moment:.3f} s: {one}" for one in lost]

    def _gone_on(self, found: Tally, moments: list[float]) -> None:
        said = ", ".join(f"{moment:.3f}" for moment in moments)
        _, fault = _to_its_end(self.kind, self.place)
        if fault:
            found.lost.append(f"killed after {said} s, the same again: {fault}")
            return
        try:
            result = done(self.kind.result, self.place)
        except AssertionError as problem:
            found.lost.append(f"killed after {said} s, after the end: {problem}")
            return
        if result != self.wanted:
            found.lost.append(f"killed after {said} s: the end differs: {_how(result, self.wanted)}")


def _how(result: Any, wanted: Any) -> str:
    if isinstance(result, dict) and isinstance(wanted, dict):
        apart = [key for key in {**result, **wanted} if result.get(key) != wanted.get(key)]
        return "; ".join(f"{key}: {_how(result.get(key), wanted.get(key))}" for key in apart)
    if isinstance(result, list) and isinstance(wanted, list):
        extra = [one for one in result if one not in wanted][:2]
        missing = [one for one in wanted if one not in result][:2]
        return f"{len(result)} for {len(wanted)}, too many {extra!r:.400}, missing {missing!r:.400}"
    return f"{result!r:.300} for {wanted!r:.300}"
