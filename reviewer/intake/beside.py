"""Lay a game's play list beside a note: which play is each rep, what the list adds, where they disagree.

Reps and plays are aligned over the whole note (`reviewer.alignment`): a rep's situation, phase, play
and result weigh for or against each play, film time where it is known, and the order of both binds
them. A rep that the coach took out of order is then matched only where its situation fits one play
left over far better than any other. A list in no order of play is matched rep by rep, by looks and film
time alone. Only a match that is as good as certain fills anything in.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reviewer.alignment import align
from reviewer.intake.play_order import follows
from reviewer.playlist import EMPTY, GOOD_FOR_US, disputes, missing_values, said_fields
from reviewer.records import GradeRow
from reviewer.store.plays import PLAY_LIST, Play, PlayMatch

if TYPE_CHECKING:
    from reviewer.store.library import Library

SURE = 0.9
"""From this probability a match fills in what was not said."""

LEAST = 0.5
"""Below this a rep has no match."""

SKIP_REP = -3.0
"""Score of a rep that is on no list: one in twenty (a guess; lists do have holes)."""

JUMP_SCORE = 4.0
JUMP_MARGIN = 2.0
"""A rep out of order is matched from this score on, and this far ahead of the next best play."""

FILM_SPREAD_S = 8.0
"""How far the talk about a snap begins from the snap on the film, roughly, where both run along."""

# Logarithms of likelihood ratios: how much likelier an agreement or a difference is when rep and play
# are one than when they are not. From the shares of downs, distances and calls in a game and the share
# of slips of the tongue and of the pen; rough, no source. (agree, differ)
WEIGHTS: Mapping[str, tuple[float, float]] = {
    "down": (0.9, -3.0),
    "phase": (0.65, -2.8),
    "concepts": (1.8, -1.2),
    "play_result": (0.6, -1.5),
    "goal_to_go": (2.5, -2.5),
}
TEN_AGREES, DISTANCE_AGREES, DISTANCE_NEAR, DISTANCE_DIFFERS = 0.7, 2.6, -0.3, -2.9


@dataclass(frozen=True)
class SaidRep:
    """A rep as it stands before matching. rows: (row id, grade row, fields said or decided).
    film_s: the film's second at which its talk begins, where sync marks tell."""

    rep_id: int
    number: int
    rows: tuple[tuple[int, GradeRow, frozenset[str]], ...]
    film_s: float | None = None

    def value(self, field: str) -> Any:
        """What most rows say of a field, the first of them on a tie; None when no row says it."""
        values = [getattr(row, field) for _, row, said in self.rows if field in said]
        told = [value for value in values if value not in EMPTY]
        return max(told, key=told.count, default=None)


@dataclass(frozen=True)
class Dispute:
    """A field in which talk and list disagree."""

    row_id: int
    rep: int
    player: str | None
    field: str
    said: Any
    listed: Any
    place: int


@dataclass(frozen=True)
class Beside:
    """A play list laid beside a note.

    matches: by rep. fills: row id to the values that the list adds (from sure matches only).
    unmatched: numbers of the reps without a match; unsure: of those matched, but not surely enough to
    fill anything.
    """

    matches: tuple[PlayMatch, ...]
    fills: Mapping[int, Mapping[str, Any]]
    disputes: tuple[Dispute, ...]
    unmatched: tuple[int, ...]
    unsure: tuple[int, ...]


def lay_beside(reps: Sequence[SaidRep], plays: Sequence[Play]) -> Beside:
    """Match the reps of a note, in spoken order, with the plays of its game, in game order."""
    usable = [play for play in plays if play.phase != "other"]
    scores = [[score(rep, play) for play in usable] for rep in reps]
    if follows(usable):
        pairs = {p.first: (p.second, p.probability, False) for p in align(scores, SKIP_REP, 0.0, LEAST)}
        _jumps(scores, pairs)
    else:
        pairs = _alone(scores)
    matches = [
        PlayMatch(reps[i].rep_id, usable[j].place, round(p, 4), jumped)
        for i, (j, p, jumped) in sorted(pairs.items())
    ]
    fills: dict[int, Mapping[str, Any]] = {}
    found: list[Dispute] = []
    for i, (j, probability, _) in sorted(pairs.items()):
        if probability < SURE:
            continue
        for row_id, row, said in reps[i].rows:
            if added := missing_values(row, said, usable[j]):
                fills[row_id] = added
            found += [
                Dispute(
                    row_id, reps[i].number, row.player, field, getattr(row, field), listed, usable[j].place
                )
                for field, listed in disputes(row, said, usable[j]).items()
            ]
    return Beside(
        tuple(matches),
        fills,
        tuple(found),
        tuple(rep.number for i, rep in enumerate(reps) if i not in pairs),
        tuple(reps[i].number for i, (_, p, _) in sorted(pairs.items()) if p < SURE),
    )


def score(rep: SaidRep, play: Play) -> float:
    """How much likelier rep and play look as they do when they are one snap (a logarithm)."""
    total = 0.0
    for field, (agree, differ) in WEIGHTS.items():
        alike = _alike(field, rep, play)
        if alike is not None:
            total += agree if alike else differ
    total += _distance_score(rep.value("distance"), None if play.goal_to_go else play.distance)
    if rep.film_s is not None and play.film_s is not None:
        total += max(-4.0, 2.0 - 0.5 * ((rep.film_s - play.film_s) / FILM_SPREAD_S) ** 2)
    return total


def _alike(field: str, rep: SaidRep, play: Play) -> bool | None:
    """Whether both say the same of a field; None where one of them says nothing."""
    said = rep.value(field)
    if field == "goal_to_go":
        if not said or (play.down is None and not play.goal_to_go):
            return None
        return play.goal_to_go
    listed = {"down": play.down, "phase": play.phase, "concepts": play.concept, "play_result": play.result}[
        field
    ]
    if not said or listed is None:
        return None
    if field == "concepts":
        return listed in said
    if field == "play_result":
        return (said in GOOD_FOR_US) == (listed in GOOD_FOR_US)
    return bool(said == listed)


def _distance_score(said: int | None, listed: int | None) -> float:
    if said is None or listed is None:
        return 0.0
    if said == listed:
        return TEN_AGREES if said == 10 else DISTANCE_AGREES
    return DISTANCE_NEAR if abs(said - listed) == 1 else DISTANCE_DIFFERS


def _alone(scores: Sequence[Sequence[float]]) -> dict[int, tuple[int, float, bool]]:
    """Each rep's play by its own looks, for a list in no order; of two reps with one play the surer."""
    found: dict[int, tuple[int, float, bool]] = {}
    holder: dict[int, int] = {}
    for i, row in enumerate(scores):
        j = max(range(len(row)), key=row.__getitem__, default=None)
        if j is None:
            continue
        weights = [math.exp(value) for value in row]
        probability = weights[j] / (sum(weights) + math.exp(-SKIP_REP))
        rival = holder.get(j)
        if probability < LEAST or (rival is not None and found[rival][1] >= probability):
            continue
        if rival is not None:
            del found[rival]
        found[i], holder[j] = (j, probability, True), i
    return found


def _jumps(scores: Sequence[Sequence[float]], pairs: dict[int, tuple[int, float, bool]]) -> None:
    """Add matches out of order for reps without one: the one play left that stands far out."""
    for i, row in enumerate(scores):
        if i in pairs:
            continue
        taken = {j for j, _, _ in pairs.values()}
        left = sorted(((row[j], j) for j in range(len(row)) if j not in taken), reverse=True)
        if not left or left[0][0] < JUMP_SCORE:
            continue
        if len(left) == 1 or left[0][0] - left[1][0] >= JUMP_MARGIN:
            # Leaving the order is as rare as a rep that is on no list, so it has to earn that first.
            weights = [math.exp(value) for value, _ in left]
            pairs[i] = (left[0][1], weights[0] / (sum(weights) + math.exp(-SKIP_REP)), True)


def lay_plays(
    library: Library,
    note: int,
    *,
    film_of: Callable[[float], float] | None = None,
    fill: bool = True,
) -> Beside:
    """Lay the play list of a note's game beside it and keep the matches; with `fill`, put what was
    not said into the rows as one action that can be undone.

    film_of: from seconds of the recording to seconds of the film, where sync marks tell. Raises
    InputError when the note has no game, or the game no play list.
    """
    from reviewer.errors import InputError
    from reviewer.store.journal import editing, state_of
    from reviewer.store.notes import note as note_of
    from reviewer.store.plays import plays_of, save_matches

    found = note_of(library, note)
    if found.game_id is None:
        raise InputError(f"The note {found.title!r} is tied to no game; say which game it is about first.")
    plays = plays_of(library, found.game_id)
    if not plays:
        raise InputError(f"The game of {found.title!r} has no play list; import one first.")
    with library.writing():
        state = state_of(library, note)
        filled = _filled(library, note)
        reps = said_reps(state.rows, filled, film_of)
        beside = lay_beside(reps, plays)
        save_matches(library, note, found.game_id, beside.matches)
        if fill and beside.fills:
            with editing(library, note, PLAY_LIST, None) as edit:
                for row, values in beside.fills.items():
                    edit.set_row(row, **values)
    return beside


def said_reps(
    rows: Sequence[Any],
    filled: Collection[tuple[int, str]] = (),
    film_of: Callable[[float], float] | None = None,
) -> list[SaidRep]:
    """A note's stored rows as reps to match, in order. filled: (row id, field) that came from a play
    list before, which nobody said."""
    reps: dict[int, list[Any]] = {}
    for row in rows:
        reps.setdefault(row.rep_id, []).append(row)
    result = []
    for rep_id, members in reps.items():
        first = members[0].current
        result.append(
            SaidRep(
                rep_id,
                first.rep,
                tuple(
                    (
                        m.id,
                        m.current,
                        said_fields(m.current, {f for f in m.corrected if (m.id, f) not in filled}),
                    )
                    for m in members
                ),
                film_of(first.start) if film_of else None,
            )
        )
    return result


def _filled(library: Library, note: int) -> set[tuple[int, str]]:
    """(row, field) whose newest change in force came from a play list."""
    newest: dict[tuple[int, str], str] = {}
    for row, field, kind, new in library.execute(
        "SELECT subject_id, field, kind, new FROM change_log "
        "WHERE note_id = ? AND subject = 'row' AND undone = 0 ORDER BY id",
        (note,),
    ):
        newest[row, field] = kind if new is not None else ""
    return {key for key, kind in newest.items() if kind == PLAY_LIST}
