"""The players under review, a line each: numbers, games, rows, share of wins."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING

from reviewer.reports.document import Cell, Document, Table
from reviewer.reports.layout import SHARE_ABOUT, TALLY_COLUMNS
from reviewer.reports.reps import GradedRep
from reviewer.reports.tally import Tally, tally_reps

if TYPE_CHECKING:
    from reviewer.store.library import Library
    from reviewer.store.rosters import Spot


@dataclass(frozen=True)
class Player:
    """A man of one's own. jerseys: his numbers, oldest first. until: the first day that he is off the
    newest roster, None while he is on it; listed: whether a roster has him at all."""

    name: str
    jerseys: tuple[str, ...]
    position: str
    seasons: tuple[str, ...]
    games: int
    tally: Tally
    unconfirmed: int
    until: date | None
    listed: bool


def own_spots(library: Library, season: str | None = None) -> list[Spot]:
    """Every spot on the rosters of one's own teams, oldest season first; of one season where given."""
    from reviewer.store.rosters import spots, teams

    with library.reading() as db:
        years = [year for (year,) in db.execute("SELECT DISTINCT season FROM roster_spot ORDER BY season")]
    wanted = [year for year in years if season in (None, year)]
    return [
        s for year in wanted for team in teams(library) if team.own for s in spots(library, team.name, year)
    ]


def players(reps: Sequence[GradedRep], spots: Sequence[Spot]) -> list[Player]:
    """The men graded or on a roster, by number; who is on no roster goes by his number alone."""
    men: dict[str, _Man] = {}
    for spot in spots:
        men.setdefault(spot.entry.name, _Man(spot.entry.name)).spots.append(spot)
    for rep in reps:
        if rep.row.player is not None:
            name = rep.name or f"#{rep.row.player}"
            men.setdefault(name, _Man(rep.name)).reps.append(rep)
    return sorted(map(_player, men.values()), key=lambda p: (_number(p), p.until is not None, p.name))


@dataclass
class _Man:
    name: str
    spots: list[Spot] = field(default_factory=list)
    reps: list[GradedRep] = field(default_factory=list)


def _player(man: _Man) -> Player:
    places = [s.entry.position for s in man.spots] or [r.row.position for r in man.reps if r.row.position]
    newest = [s for s in man.spots if s.season == man.spots[-1].season]
    days = [s.until for s in newest]
    return Player(
        name=man.name,
        jerseys=_each([*(s.entry.jersey for s in man.spots), *(r.row.player or "" for r in man.reps)]),
        position=Counter(places).most_common(1)[0][0] if places else "",
        seasons=_each([*(s.season for s in man.spots), *(r.game.season for r in man.reps if r.game)]),
        games=len({rep.game_title for rep in man.reps}),
        tally=tally_reps(man.reps),
        unconfirmed=sum(not rep.confirmed for rep in man.reps),
        until=None if None in days or not days else max(day for day in days if day),
        listed=bool(man.spots),
    )


def _each(values: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(filter(None, values)))


def _number(player: Player) -> tuple[int, str]:
    last = player.jerseys[-1]
    return (int(last) if last.isdigit() else 100, last)


def players_document(
    found: Sequence[Player], *, retired: bool = False, nameless: int = 0, shared: bool = False
) -> Document:
    """The list laid out. retired: with those who are off the roster. nameless: rows that say no number.
    shared: nobody is named, so nothing is said of rosters."""
    shown = [p for p in found if retired or p.until is None]
    columns = {
        "player": "No.",
        "name": "Name",
        "position": "Position",
        "season": "Season",
        "games": "Games",
        **{**TALLY_COLUMNS, "reps": "Rows"},
        "until": "Off from",
    }
    years = _each(year for p in shown for year in p.seasons)
    if len(years) < 2:
        del columns["season"]
    if not any(p.until for p in shown):
        del columns["until"]
    rows: list[tuple[Cell, ...]] = [
        (
            ", ".join(p.jerseys),
            p.name,
            p.position,
            *([", ".join(p.seasons)] if "season" in columns else []),
            p.games,
            p.tally.reps,
            p.tally.wins,
            p.tally.losses,
            p.tally.neutral,
            p.tally.share,
            *([p.until.isoformat() if p.until else ""] if "until" in columns else []),
        )
        for p in shown
    ]
    return Document(
        title="Players",
        subtitle="Under review",
        facts=[
            ("Season", ", ".join(years)),
            ("Players", len(shown)),
            ("Rows", sum(p.tally.reps for p in shown)),
        ],
        remarks=_remarks(found, len(found) - len(shown), nameless, shared),
        blocks=(Table("players", "Players", columns, rows, SHARE_ABOUT),),
    )


def _remarks(found: Sequence[Player], hidden: int, nameless: int, shared: bool) -> list[str]:
    remarks = []
    strangers = [p.jerseys[-1] for p in found if not p.listed]
    if strangers and not shared:
        are = "is" if len(strangers) == 1 else "are"
        remarks.append(f"Graded, but on no roster of yours {are}: {', '.join(strangers)}.")
    if hidden:
        men = "1 man is" if hidden == 1 else f"{hidden} men are"
        remarks.append(f"{men} off the roster and left out here; --all shows them.")
    if open_ := sum(p.unconfirmed for p in found):
        rows = "1 row is" if open_ == 1 else f"{open_} rows are"
        remarks.append(f"{rows} the tool's own reading and not confirmed by the coach.")
    if nameless:
        remarks.append(f"{nameless} {'row names' if nameless == 1 else 'rows name'} no player.")
    return remarks
