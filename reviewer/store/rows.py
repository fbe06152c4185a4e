"""Rows as they stand, over many notes: what reports and exports are made from."""

from __future__ import annotations

from typing import Any

from reviewer.store.codec import load, load_row
from reviewer.store.fold import StoredRow
from reviewer.store.library import Library

_CONDITIONS = {
    "note": "row_now.note_id = ?",
    "player": "row_now.player = ?",
    "position": "row_now.position = ?",
    "verdict": "row_now.verdict = ?",
    "confirmed": "row_now.confirmed = ?",
    "game": "note.game_id = ?",
    "season": "game.season = ?",
    "opponent_team": "coalesce(note.opponent, team.name) = ? COLLATE NOCASE",
}

_QUERY = """
    SELECT row_now.row_id, row_now.note_id, rep_id, seq, row_now.grade, confirmed, corrected, comment,
           (SELECT grade FROM row_reading WHERE row_id = row_now.row_id AND reading_id <= row_now.reading_id
            ORDER BY reading_id LIMIT 1),
           (SELECT grade FROM row_reading WHERE row_id = row_now.row_id AND reading_id <= row_now.reading_id
            ORDER BY reading_id DESC LIMIT 1)
    FROM row_now JOIN note ON note.id = row_now.note_id
    LEFT JOIN game ON game.id = note.game_id LEFT JOIN team ON team.id = game.opponent_id
"""


def graded_rows(
    library: Library,
    *,
    note: int | None = None,
    player: str | None = None,
    position: str | None = None,
    verdict: str | None = None,
    confirmed: bool | None = None,
    game: int | None = None,
    season: str | None = None,
    opponent_team: str | None = None,
) -> list[StoredRow]:
    """The live rows for which everything given holds, by note, rep and spoken order.

    note, game: ids. player: jersey. opponent_team: the other team's name, case does not count.
    """
    given: dict[str, Any] = {
        "note": note, "player": player, "position": position, "verdict": verdict, "confirmed": confirmed,
        "game": game, "season": season, "opponent_team": opponent_team,
    }  # fmt: skip
    wanted = {name: value for name, value in given.items() if value is not None}
    condition = " AND ".join(_CONDITIONS[name] for name in wanted) or "1"
    query = f"{_QUERY} WHERE {condition} ORDER BY row_now.note_id, row_now.rep, row_now.seq, row_now.row_id"
    with library.reading():
        return [_row(record) for record in library.execute(query, tuple(wanted.values()))]


def _row(record: tuple[Any, ...]) -> StoredRow:
    number, note, rep, seq, grade, confirmed, corrected, comment, first, machine = record
    first_row = load_row(first) if first else None
    return StoredRow(
        number, note, rep, seq, load_row(grade), first_row,
        first_row if machine == first else load_row(machine),
        bool(confirmed), frozenset(load(corrected)), comment,
    )  # fmt: skip
