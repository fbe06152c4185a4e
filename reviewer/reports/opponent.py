"""The page of an opponent: what his men use, how often, and on whom it works.

Seen from the blocker's side: `wins` are our man's. A rep on which several defenders were worked
does not say whose move it was; it is counted for each of them, and such reps are counted apart as
`shared` so that nobody takes them for more than they are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from reviewer.cautions import CAUTION
from reviewer.errors import InputError
from reviewer.reports.document import Block, Cell, Document, Reps, Table
from reviewer.reports.layout import SHARE_ABOUT, TALLY_COLUMNS, bars, breakdown, grid
from reviewer.reports.matrix import Matrix, matrix
from reviewer.reports.reps import GradedRep, games_of, in_order
from reviewer.reports.tally import Group, Tally, groups, groups_by, tally_reps
from reviewer.reports.wording import FIELD_TITLES

USES: tuple[str, ...] = ("moves", "games", "alignment")
"""What a defender uses, as fields of the grade row."""

FEWEST = 3
"""A move is called one that works on a man only from so many reps won or lost."""


@dataclass(frozen=True, slots=True)
class Defender:
    """One man of the opponent. name "" when no roster says. shared: reps worked with another man."""

    jersey: str
    name: str
    tally: Tally
    shared: int
    uses: Mapping[str, tuple[Group, ...]]


@dataclass(frozen=True)
class OpponentPage:
    """Everything graded against an opponent (or one of his men).

    works: (our player, move) to the tally of his reps against that move.
    """

    name: str
    reps: tuple[GradedRep, ...]
    tally: Tally
    defenders: tuple[Defender, ...]
    uses: Mapping[str, tuple[Group, ...]]
    works: Matrix
    set_against_move: Matrix
    blockers: tuple[Group, ...]


def opponent_page(
    reps: Sequence[GradedRep], name: str, jersey: str | None = None, names: Mapping[str, str] | None = None
) -> OpponentPage:
    """The page over the reps against that opponent; jersey narrows it to one of his men.

    names: jersey to name, of the opponent's roster. Raises InputError when there is no such rep.
    """
    against = [rep for rep in reps if jersey is None or jersey in rep.row.opponents]
    if not against:
        who = f"{name} {jersey}" if jersey else name
        raise InputError(f"There are no graded reps against {who}; check the name, or grade a note first.")
    ordered = in_order(against)
    known = names or {}
    men = groups_by(ordered, lambda rep: rep.row.opponents, with_unsaid=False)
    wanted = [man for man in men if jersey in (None, man.name)]
    return OpponentPage(
        name=name,
        reps=tuple(ordered),
        tally=tally_reps(ordered),
        defenders=tuple(_defender(man, known) for man in wanted),
        uses=_uses(ordered),
        works=matrix(ordered, "player", "moves"),
        set_against_move=matrix(ordered, "set", "moves"),
        blockers=tuple(groups(ordered, "player")),
    )


def _defender(man: Group, names: Mapping[str, str]) -> Defender:
    shared = sum(len(rep.row.opponents) > 1 for rep in man.reps)
    return Defender(man.name, names.get(man.name, ""), man.tally, shared, _uses(man.reps))


def _uses(reps: Sequence[GradedRep]) -> dict[str, tuple[Group, ...]]:
    return {field: tuple(groups(reps, field, with_unsaid=False)) for field in USES}


def opponent_document(page: OpponentPage) -> Document:
    """The page laid out."""
    blocks: list[Block] = [_defenders(page)]
    for field in USES:
        if page.uses[field]:
            blocks.append(breakdown(field, page.uses[field], SHARE_ABOUT if field == "moves" else ""))
    if page.uses["moves"]:
        blocks.append(bars("moves", page.uses["moves"]))
    if page.works:
        blocks.append(grid(page.works, "On whom it works"))
    if page.set_against_move.rows != ("not said",) and page.set_against_move:
        blocks.append(grid(page.set_against_move, "Pass set against move"))
    blocks.append(breakdown("player", page.blockers))
    blocks.append(Reps("reps", "Every rep", page.reps))
    flagged = any(rep.row.safety for rep in page.reps)
    return Document(
        title=_title(page),
        subtitle="Opponent, as our graded reps show him",
        facts=_facts(page),
        remarks=_remarks(page),
        blocks=tuple(blocks),
        caution=CAUTION if flagged else "",
    )


def _title(page: OpponentPage) -> str:
    if len(page.defenders) == 1:
        man = page.defenders[0]
        return " ".join(filter(None, [page.name, man.jersey, man.name]))
    return page.name


def _facts(page: OpponentPage) -> list[tuple[str, Cell]]:
    games = games_of(page.reps)
    return [
        ("Games", ", ".join(game.title for game in games if game.date) or len(games)),
        ("Reps", len(page.reps)),
        ("Our men against him", page.tally),
    ]


def _remarks(page: OpponentPage) -> list[str]:
    remarks = ["Wins and losses are our men's: a loss is a rep that he won."]
    shared = sum(len(rep.row.opponents) > 1 for rep in page.reps)
    if shared:
        remarks.append(
            f"{shared} {'rep was' if shared == 1 else 'reps were'} worked against more than one man: "
            "whose move it was is not known, so it counts for each."
        )
    unconfirmed = sum(not rep.confirmed for rep in page.reps)
    if unconfirmed:
        remarks.append(f"{unconfirmed} of {len(page.reps)} rows are not confirmed by the coach.")
    return remarks + _working(page)


def _working(page: OpponentPage) -> list[str]:
    """The pairs of player and move where the interval leaves no doubt that the move wins."""
    found = []
    for (player, move), seen in page.works.cells.items():
        share = seen.share
        if move == "not said" or share.interval is None or share.total < FEWEST or share.interval.high >= 0.5:
            continue
        found.append(f"The {move} works on {player}: he won {seen.wins} of {share.total}.")
    return found


def _defenders(page: OpponentPage) -> Table:
    columns = {
        "opponent": "No.",
        "name": "Name",
        **TALLY_COLUMNS,
        "shared": "With another man",
        "uses": "Uses most",
        "alignment": "Lines up",
    }
    rows = [
        (
            man.jersey, man.name, man.tally.reps, man.tally.wins, man.tally.losses, man.tally.neutral,
            man.tally.share, man.shared, _most(man, ("moves", "games")), _most(man, ("alignment",)),
        )
        for man in page.defenders
    ]  # fmt: skip
    about = f"{FIELD_TITLES['opponents']}s named in the talk; {SHARE_ABOUT[0].lower()}{SHARE_ABOUT[1:]}"
    return Table("defenders", "His men", columns, rows, about)


def _most(man: Defender, fields: Sequence[str]) -> str:
    """The three most frequent, with how often: "bull rush ×4, spin ×2"."""
    found = sorted((g for field in fields for g in man.uses[field]), key=lambda g: (-g.tally.reps, g.name))
    return ", ".join(f"{g.name} ×{g.tally.reps}" for g in found[:3])
