"""Which man of the roster a note is about, by his number or his name."""

from __future__ import annotations

from collections.abc import Sequence

from reviewer.errors import InputError
from reviewer.intake.tables import meaning
from reviewer.intake.values import read_jersey
from reviewer.records import RosterEntry

_NEAREST = 3
_ALIKE = 60.0
"""From this likeness (0..100) a name is offered as one that may have been meant."""


def find_player(said: str, roster: Sequence[RosterEntry]) -> tuple[str, str | None]:
    """The jersey and position (None when not known) of the man under review.

    said: a jersey ("76", "#76"), or a name of the roster, whole or in part. Without a roster of one's
    own men any jersey is taken. Raises InputError, naming the nearest men, when he is not there.
    """
    own = [man for man in roster if man.side == "own"]
    jersey = read_jersey(said)
    fitting = [man for man in own if man.jersey == jersey] if jersey else _named(said, own)
    if jersey and (fitting or not own):
        return jersey, next((man.position for man in fitting if man.position), None)
    if len({man.jersey for man in fitting}) == 1:
        return fitting[0].jersey, fitting[0].position or None
    if fitting:
        raise InputError(f"{said!r} fits several men ({_listed(fitting)}); give the number")
    if not own:
        raise InputError(
            f"{said!r} is no jersey number and there is no roster to look a name up in; give the number, or "
            "the roster with --roster"
        )
    raise _unknown(said, jersey, own, roster)


def known_position(said: str) -> str:
    """A position's standard abbreviation. Raises InputError for one that is not known."""
    found = meaning("positions", said)
    if found is None:
        raise InputError(
            f"{said!r} is no position that is known; give LT, LG, C, RG, RT, TE, FB, RB, QB or WR"
        )
    return found


def _named(said: str, own: Sequence[RosterEntry]) -> list[RosterEntry]:
    plain = " ".join(said.casefold().split())
    whole = [man for man in own if man.name.casefold() == plain]
    return whole or [man for man in own if plain and plain in man.name.casefold().split()]


def _unknown(
    said: str, jersey: str | None, own: Sequence[RosterEntry], roster: Sequence[RosterEntry]
) -> InputError:
    other = next((man for man in roster if man.side == "opp" and man.jersey == jersey), None)
    also = f" ({_man(other)} is an opponent)" if other else ""
    near = _nearest_numbers(jersey, own) if jersey else _nearest_names(said, own)
    offer = f"nearest: {_listed(near)}" if near else f"there are {_listed(own[:_NEAREST])} and others"
    return InputError(f"{said} is not among the own men of the roster{also}; {offer}")


def _nearest_numbers(jersey: str, own: Sequence[RosterEntry]) -> list[RosterEntry]:
    """A digit mistaken or exchanged comes before a number that is only close by."""

    def far(man: RosterEntry) -> tuple[int, int, str]:
        differing = sum(a != b for a, b in zip(man.jersey.zfill(2), jersey.zfill(2), strict=True))
        exchanged = man.jersey.zfill(2) == jersey.zfill(2)[::-1]
        return (0 if exchanged else differing, abs(int(man.jersey) - int(jersey)), man.jersey)

    return sorted(own, key=far)[:_NEAREST]


def _nearest_names(said: str, own: Sequence[RosterEntry]) -> list[RosterEntry]:
    from rapidfuzz import fuzz, process, utils

    names = [man.name for man in own]
    found = process.extract(
        said, names, scorer=fuzz.WRatio, processor=utils.default_process, limit=_NEAREST, score_cutoff=_ALIKE
    )
    return [own[index] for _, _, index in found]


def _listed(men: Sequence[RosterEntry]) -> str:
    return ", ".join(_man(man) for man in men)


def _man(man: RosterEntry) -> str:
    return " ".join(filter(None, (man.jersey, man.name, f"({man.position})" if man.position else "")))
