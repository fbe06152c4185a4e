"""The grade sheet of a player, as data: for a game, a span of games or a season."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from reviewer.errors import InputError
from reviewer.records import Phase
from reviewer.reports.matrix import Matrix, matrix
from reviewer.reports.progress import Course, courses, overall
from reviewer.reports.reps import GameInfo, GradedRep, by_game, games_of, in_order
from reviewer.reports.scale import Grade, RepScore, Scale, grade, score
from reviewer.reports.showing import Showing, to_show
from reviewer.reports.tally import Group, MarkTally, Tally, count_terms, groups, marks, tally_reps

BREAKDOWNS: tuple[str, ...] = ("phase", "concepts", "set", "alignment", "side", "down", "moves", "games")
"""The fields a sheet breaks the reps down by, in its order."""

ONLY_IN: Mapping[str, Phase] = {"set": "pass", "moves": "pass", "side": "run"}
"""Fields that only a pass or a run can have: reps of the other phase are no "not said" there."""


@dataclass(frozen=True, slots=True)
class GameLine:
    """One game of the sheet."""

    title: str
    game: GameInfo | None
    tally: Tally
    grade: Grade


@dataclass(frozen=True, slots=True)
class PlayerLine:
    """One man of a sheet of several. jersey "" where no number was said."""

    jersey: str
    name: str
    tally: Tally
    grade: Grade


@dataclass(frozen=True)
class Sheet:
    """A player's grade sheet.

    player: jersey; name and position "" when not known or for several men; a number that changed hands
    has both names. reps: all of them, by game and rep, with
    `scores` beside them (None for a rep the scale does not grade). unconfirmed: how many of them
    the coach has not confirmed; listed: how many values came from a play list instead of the talk.
    safety: how many reps carry each safety flag. players: a line a man where there are several, the most
    reps first.
    """

    player: str
    name: str
    position: str
    scale: Scale
    reps: tuple[GradedRep, ...]
    scores: tuple[RepScore | None, ...]
    tally: Tally
    grade: Grade
    marks: Mapping[str, MarkTally]
    events: Mapping[str, int]
    faults: Mapping[str, int]
    techniques: Mapping[str, int]
    breakdowns: Mapping[str, tuple[Group, ...]]
    games: tuple[GameLine, ...]
    set_against_move: Matrix
    overall: Course | None
    courses: tuple[Course, ...]
    showing: Showing
    unconfirmed: int
    listed: int
    safety: Mapping[str, int]
    players: tuple[PlayerLine, ...] = ()


def grade_sheet(reps: Sequence[GradedRep], scale: Scale, player: str, show: int = 10) -> Sheet:
    """The sheet of a player over the reps given (his only).

    Raises InputError when there is none, for an empty sheet would look like a verdict.
    """
    if not reps:
        raise InputError(f"There are no graded reps of {player or 'this player'} here; grade a note first.")
    ordered = in_order(reps)
    rows = [rep.row for rep in ordered]
    one = len({row.player for row in rows}) == 1
    return Sheet(
        player=player,
        name=" / ".join(dict.fromkeys(rep.name for rep in ordered if rep.name)) if one else "",
        position=_most_common(row.position or "" for row in rows) if one else "",
        scale=scale,
        reps=tuple(ordered),
        scores=tuple(score(row, scale) for row in rows),
        tally=tally_reps(ordered),
        grade=grade(rows, scale),
        marks=marks(ordered),
        events=_counts(ordered, "events"),
        faults=_counts(ordered, "faults"),
        techniques=_counts(ordered, "techniques"),
        breakdowns={field: tuple(groups(_possible(ordered, field), field)) for field in BREAKDOWNS},
        games=_game_lines(ordered, scale),
        set_against_move=matrix(_possible(ordered, "set")),
        overall=overall(ordered),
        courses=tuple(courses(ordered)),
        showing=to_show(ordered, show),
        unconfirmed=sum(not rep.confirmed for rep in ordered),
        listed=sum(len(rep.listed) for rep in ordered),
        safety=_counts(ordered, "safety"),
        players=() if one else _player_lines(ordered, scale),
    )


def _player_lines(reps: Sequence[GradedRep], scale: Scale) -> tuple[PlayerLine, ...]:
    men: dict[tuple[str, str], list[GradedRep]] = {}
    for rep in reps:
        men.setdefault((rep.row.player or "", rep.name), []).append(rep)
    ordered = sorted(men.items(), key=lambda item: (-len(item[1]), item[0]))
    return tuple(
        PlayerLine(jersey, name, tally_reps(found), grade([rep.row for rep in found], scale))
        for (jersey, name), found in ordered
    )


def _possible(reps: Sequence[GradedRep], field: str) -> list[GradedRep]:
    phase = ONLY_IN.get(field)
    return [rep for rep in reps if phase is None or rep.row.phase in (phase, None)]


def _game_lines(reps: Sequence[GradedRep], scale: Scale) -> tuple[GameLine, ...]:
    known = {game.title: game for game in games_of(reps)}
    return tuple(
        GameLine(title, known.get(title), tally_reps(found), grade([r.row for r in found], scale))
        for title, found in by_game(reps).items()
    )


def _counts(reps: Sequence[GradedRep], field: str) -> dict[str, int]:
    found = count_terms(reps, field)
    return dict(sorted(found.items(), key=lambda item: (-item[1], item[0])))


def _most_common(values: Iterable[str]) -> str:
    counts = Counter(value for value in values if value)
    return counts.most_common(1)[0][0] if counts else ""
