"""What a library holds beside its notes, brought into another one: teams, rosters, games, play lists,
films, lessons, saved searches. Nothing of mine is changed; where theirs says otherwise it is told.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from typing import Any

from reviewer.store.library import Library
from reviewer.store.merge_side import Ids

Tell = Callable[[str], None]


class Book:
    """Their book beside mine. added: what came, by name. left: sentences on what was not taken."""

    def __init__(self, library: Library, other: Library) -> None:
        self.db, self.there = library.connection, other.connection
        self.added: Counter[str] = Counter()
        self.left: list[str] = []
        self.lessons: dict[int, int] = {}
        self._teams: dict[int, int] = {}
        self.games: dict[int, int] = {}

    def bring(self) -> None:
        """Teams, rosters, games and play lists: what notes rest on."""
        self._bring_teams()
        self._bring_rosters()
        self._bring_games()
        self._bring_plays()

    def _insert(self, what: str, sql: str, values: tuple[Any, ...]) -> int:
        number = self.db.execute(sql, values).lastrowid
        assert number is not None
        self.added[what] += 1
        return number

    def _bring_teams(self) -> None:
        for number, name, own in self.there.execute("SELECT id, name, own FROM team ORDER BY id").fetchall():
            found = self.db.execute("SELECT id, own FROM team WHERE name = ?", (name,)).fetchone()
            if found is None:
                sql = "INSERT INTO team (name, own) VALUES (?, ?)"
                self._teams[number] = self._insert("teams", sql, (name, own))
                continue
            self._teams[number] = found[0]
            if own and not found[1]:
                self.db.execute("UPDATE team SET own = 1 WHERE id = ?", (found[0],))
                self.added["own teams"] += 1

    def _bring_rosters(self) -> None:
        players: dict[int, int] = {}
        for number, team, name in self.there.execute(
            "SELECT id, team_id, name FROM player ORDER BY id"
        ).fetchall():
            key = (self._teams[team], name)
            found = self.db.execute("SELECT id FROM player WHERE team_id = ? AND name = ?", key).fetchone()
            sql = "INSERT INTO player (team_id, name) VALUES (?, ?)"
            players[number] = found[0] if found else self._insert("players", sql, key)
        for team, player, season, jersey, position, since, until in self.there.execute(
            "SELECT team_id, player_id, season, jersey, position, since, until FROM roster_spot ORDER BY id"
        ).fetchall():
            spot = (self._teams[team], players[player], season, jersey)
            found = self.db.execute(
                "SELECT id, position, until FROM roster_spot WHERE team_id = ? AND player_id = ? "
                "AND season = ? AND jersey = ? AND since IS ?",
                (*spot, since),
            ).fetchone()
            if found is None:
                self._insert(
                    "roster lines",
                    "INSERT INTO roster_spot (team_id, player_id, season, jersey, position, since, until) "
                    "VALUES (?, ?, ?, ?, ?, ?, ?)",
                    (*spot, position, since, until),
                )
                continue
            if found[2] is None and until is not None:
                self.db.execute("UPDATE roster_spot SET until = ? WHERE id = ?", (until, found[0]))
                self.added["roster lines"] += 1
            elif until is not None and until != found[2]:
                self.left.append(
                    f"Number {jersey} of {season} ends on {until} there; yours stays {found[2]}."
                )
            if position != found[1]:
                self.left.append(
                    f"Number {jersey} of {season} plays {position} there; yours stays {found[1]}."
                )

    def _bring_games(self) -> None:
        columns = ("title", "season", "date", "team_id", "opponent_id", "place", "level")
        query = f"SELECT id, {', '.join(columns)} FROM game ORDER BY id"
        mine = {number: dict(zip(columns, rest, strict=True)) for number, *rest in self.db.execute(query)}
        for number, *rest in self.there.execute(query).fetchall():
            theirs = dict(zip(columns, rest, strict=True))
            for side in ("team_id", "opponent_id"):
                theirs[side] = self._teams.get(theirs[side])
            same = next(
                (n for n, game in mine.items() if n not in self.games.values() and _same_game(game, theirs)),
                None,
            )
            if same is None:
                same = self._insert(
                    "games",
                    f"INSERT INTO game ({', '.join(columns)}) VALUES (?, ?, ?, ?, ?, ?, ?)",
                    tuple(theirs.values()),
                )
            else:
                self._fill_game(same, mine[same], theirs)
            self.games[number] = same

    def _fill_game(self, number: int, mine: Mapping[str, Any], theirs: Mapping[str, Any]) -> None:
        for name, value in theirs.items():
            if value is None or mine[name] == value:
                continue
            if mine[name] is None:
                self.db.execute(f"UPDATE game SET {name} = ? WHERE id = ?", (value, number))
                self.added["details of games"] += 1
            else:
                self.left.append(
                    f"The game {mine['title']} has another {name.removesuffix('_id')} there; yours stays."
                )

    def _bring_plays(self) -> None:
        self.same_plays: set[int] = set()
        for there, here in self.games.items():
            query = "SELECT place, data FROM play WHERE game_id = ? ORDER BY place"
            theirs = self.there.execute(query, (there,)).fetchall()
            mine = self.db.execute(query, (here,)).fetchall()
            if theirs and not mine:
                sql = "INSERT INTO play (game_id, place, data) VALUES (?, ?, ?)"
                self.db.executemany(sql, [(here, *play) for play in theirs])
                self.added["plays"] += len(theirs)
                mine = theirs
            if theirs == mine:
                self.same_plays.add(there)
            elif theirs:
                (title,) = self.db.execute("SELECT title FROM game WHERE id = ?", (here,)).fetchone()
                self.left.append(f"The play list of {title} is another one there; yours stays.")

    def bring_of_note(self, ids: Ids, there: int) -> None:
        """What hangs on a note beside its log: its matched plays and its film."""
        for rep, game, place, probability, jumped in self.there.execute(
            "SELECT rep_id, game_id, place, probability, out_of_order FROM rep_play "
            "JOIN rep ON rep.id = rep_id WHERE note_id = ?",
            (there,),
        ).fetchall():
            number = ids.reps[rep]
            known = self.db.execute("SELECT 1 FROM rep_play WHERE rep_id = ?", (number,)).fetchone()
            if game in self.same_plays and known is None:
                self._insert(
                    "matched plays",
                    "INSERT INTO rep_play (rep_id, game_id, place, probability, out_of_order) "
                    "VALUES (?, ?, ?, ?, ?)",
                    (number, self.games[game], place, probability, jumped),
                )
        query = "SELECT path, rate, start, marks FROM film WHERE note_id = ?"
        theirs = self.there.execute(query, (there,)).fetchone()
        mine = self.db.execute(query, (ids.note,)).fetchone()
        if theirs is not None and mine is None:
            sql = "INSERT INTO film (note_id, path, rate, start, marks) VALUES (?, ?, ?, ?, ?)"
            self._insert("films", sql, (ids.note, *theirs))
        elif theirs is not None and theirs != mine:
            (title,) = self.db.execute("SELECT title FROM note WHERE id = ?", (ids.note,)).fetchone()
            self.left.append(f"The film of {title} has other marks there; yours stay.")

    def bring_lessons(self, notes: Mapping[int, int], rows: Mapping[int, int]) -> None:
        """What was learned; `lessons` then maps the numbers of those that came."""
        for number, kind, term, form, at, note, row in self.there.execute(
            "SELECT id, kind, term, form, at, note_id, row_id FROM learned ORDER BY id"
        ).fetchall():
            key = (kind, term, form)
            query = "SELECT 1 FROM learned WHERE kind = ? AND term = ? AND form = ?"
            if self.db.execute(query, key).fetchone() is None:
                self.lessons[number] = self._insert(
                    "lessons",
                    "INSERT INTO learned (kind, term, form, at, note_id, row_id) VALUES (?, ?, ?, ?, ?, ?)",
                    (*key, at, notes.get(note), rows.get(row)),
                )

    def bring_searches(self) -> None:
        """Saved searches; one of a name that is taken comes under a further one."""
        mine = {
            name.casefold(): typed for name, typed in self.db.execute("SELECT name, typed FROM saved_search")
        }
        for name, typed, at in self.there.execute(
            "SELECT name, typed, at FROM saved_search ORDER BY name"
        ).fetchall():
            free, count = name, 1
            while free.casefold() in mine and mine[free.casefold()] != typed:
                count += 1
                free = f"{name} ({count})"
            if free.casefold() not in mine:
                mine[free.casefold()] = typed
                sql = "INSERT INTO saved_search (name, typed, at) VALUES (?, ?, ?)"
                self._insert("saved searches", sql, (free, typed, at))


def _same_game(mine: Mapping[str, Any], theirs: Mapping[str, Any]) -> bool:
    """One season, no two dates or teams that differ, and the title, or the date and the opponent, alike."""
    if mine["season"] != theirs["season"]:
        return False
    if any(mine[n] and theirs[n] and mine[n] != theirs[n] for n in ("date", "opponent_id", "team_id")):
        return False
    titled = mine["title"].casefold() == theirs["title"].casefold()
    dated = mine["date"] is not None and mine["date"] == theirs["date"]
    met = mine["opponent_id"] is not None and mine["opponent_id"] == theirs["opponent_id"]
    return titled or (dated and met)
