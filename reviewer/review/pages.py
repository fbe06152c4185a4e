"""Reports one key away: a player's sheet, the table of an opponent, as plain lines."""

from __future__ import annotations

from reviewer.errors import InputError
from reviewer.review.plain import plain
from reviewer.review.session import Session

NARROWEST = 72
"""Columns that the tables of a report need; on a narrower screen they are scrolled to the side."""


def sheet_text(session: Session, width: int) -> str:
    """The sheet of the player in hand over all his graded reps of the season of this note's game."""
    from reviewer.reports.formats.as_text import text
    from reviewer.reports.gather import Selection, gather
    from reviewer.reports.scale import load_scale
    from reviewer.reports.sheet import grade_sheet
    from reviewer.reports.sheet_document import sheet_document

    row = session.row
    if row is None or row.current.player is None:
        raise InputError("This row has no number yet; give it one to see his sheet.")
    player = row.current.player
    wanted = Selection(player=player, season=_season(session))
    reps = gather(session.library, wanted) or gather(session.library, Selection(player=player))
    return _harmless(text(sheet_document(grade_sheet(reps, load_scale(None), player)), width))


def opponent_text(session: Session, width: int) -> str:
    """The page of the opponent of this note."""
    from reviewer.reports.formats.as_text import text
    from reviewer.reports.gather import Selection, gather, of_opponent, opponent_names
    from reviewer.reports.opponent import opponent_document, opponent_page

    name = _opponent(session)
    if not name:
        raise InputError("This note names no opponent; say it when grading: --opponent NAME.")
    reps, team = of_opponent(gather(session.library, Selection()), name)
    names = opponent_names(session.library, reps)
    return _harmless(text(opponent_document(opponent_page(reps, team, None, names)), width))


def _season(session: Session) -> str | None:
    from reviewer import store

    game = session.note.game_id
    return store.game_of(session.library, game).season if game is not None else None


def _opponent(session: Session) -> str | None:
    from reviewer import store

    if session.note.opponent:
        return session.note.opponent
    game = session.note.game_id
    return store.game_of(session.library, game).opponent if game is not None else None


def _harmless(text: str) -> str:
    return "\n".join(plain(line) for line in text.splitlines())
