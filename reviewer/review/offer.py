"""The pick list that belongs to a slot of the row in hand."""

from __future__ import annotations

from typing import Any

from reviewer import store
from reviewer.errors import InputError
from reviewer.review import lineup
from reviewer.review.picking import Picker
from reviewer.review.picks import Entry, definition_lines, man_entries, plain_entries, term_entries
from reviewer.review.session import Session
from reviewer.review.slots import SLOTS, Slot

_SEARCH_NAMES = {
    "techniques": "technique", "faults": "fault", "moves": "move", "games": "line_game",
    "concepts": "concept", "events": "event", "opponents": "opponent", "labels": "label",
}  # fmt: skip
"""Fields of the grade row whose name in the search is another one."""

PICKED = frozenset({"man", "men", "term", "terms", "choice"})
"""Kinds of slot that are fixed by a pick list."""


def picker_for(session: Session, slot: Slot, replacing: bool = False) -> Picker:
    """The pick list of a slot, holding what the row in hand holds there."""
    row = session.row
    if row is None:
        raise InputError("There is no row here yet; add one to a rep first.")
    if slot.kind not in PICKED:
        raise InputError(f"{slot.label} has no list to pick from; press {slot.key} for its next value.")
    value: Any = getattr(row.current, slot.field)
    held = tuple(value) if slot.many else () if value is None else (str(value),)
    return Picker(slot, _entries(session, slot), held, slot.kind in {"man", "men"}, replacing)


def _entries(session: Session, slot: Slot) -> list[Entry]:
    uses = dict(store.known_values(session.library, _SEARCH_NAMES.get(slot.field, slot.field)))
    if slot.kind == "man":
        return man_entries(session.roster, "own", uses)
    if slot.kind == "men":
        return man_entries(session.roster, "opp", uses)
    if slot.kind == "choice":
        worn = (man.position for man in session.roster if man.side == "own" and man.position)
        return plain_entries(dict.fromkeys((*lineup.own_positions(), *worn)))
    return term_entries(session.vocabulary.group(slot.group), uses, spoken_base(session))


def spoken_base(session: Session) -> list[str]:
    """The words of the rep in hand in base form."""
    from reviewer.language.tokens import tokenize

    row = session.row
    rep = session.state.rep(row.rep_id) if row else None
    words = [session.words[i] for a, b in (rep.stretches if rep else ()) for i in range(a, b)]
    return [token.norm for token in tokenize(words).tokens]


def definitions(session: Session) -> str:
    """What the terms of the row mean: those of the slot under the cursor first."""
    row = session.row
    if row is None:
        return "There is no row here."
    slots = [session.slot, *(slot for slot in SLOTS if slot is not session.slot)]
    lines: list[str] = []
    for slot in slots:
        if not slot.group:
            continue
        value = getattr(row.current, slot.field)
        for name in value if isinstance(value, list) else filter(None, [value]):
            term = session.vocabulary.find(str(name), slot.group)
            lines.append(f"{slot.label}: {name}")
            lines += [
                f"  {line}" for line in (definition_lines(term) if term else ["Not in the vocabulary."])
            ]
            lines.append("")
    return "\n".join(lines) or "No term stands in this row."
