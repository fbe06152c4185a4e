"""The grade sheet of a player laid out as a document."""

from __future__ import annotations

from reviewer.cautions import CAUTION
from reviewer.reports.document import Block, Cell, Document, Line, Reps, Table
from reviewer.reports.layout import (
    SHARE_ABOUT,
    TALLY_COLUMNS,
    bars,
    breakdown,
    counts_table,
    courses_table,
    grid,
    marks_table,
)
from reviewer.reports.progress import Course
from reviewer.reports.sheet import Sheet
from reviewer.reports.wording import cutoff_words, p_words

MANY = "A rep with several of them stands in each line."


def sheet_document(sheet: Sheet) -> Document:
    """The whole sheet: the grade first, what it is made of next, every rep last."""
    blocks: list[Block] = [_overall(sheet)]
    if sheet.players:
        blocks.append(_players(sheet))
    blocks.append(marks_table(dict(sheet.marks)))
    if sheet.events:
        blocks.append(counts_table("events", "Counted events", "Event", dict(sheet.events), sheet.reps))
    if len(sheet.games) > 1:
        blocks += _game_blocks(sheet)
    for field, found in sheet.breakdowns.items():
        if found:
            blocks.append(breakdown(field, found, MANY if field in ("concepts", "moves", "games") else ""))
    blocks += [bars(f, sheet.breakdowns[f]) for f in ("set", "moves") if sheet.breakdowns[f]]
    if sheet.set_against_move:
        blocks.append(grid(sheet.set_against_move, "Pass set against move"))
    blocks += _terms(sheet)
    if any(course.found for course in sheet.courses):
        blocks.append(courses_table(sheet.courses))
    blocks += _showing(sheet)
    blocks.append(Reps("reps", "Every rep", sheet.reps, sheet.scores, sheet.scale.about))
    return Document(
        title=_title(sheet),
        subtitle="Grade sheet",
        facts=_facts(sheet),
        remarks=_remarks(sheet),
        blocks=tuple(blocks),
        caution=CAUTION if sheet.safety else "",
    )


def _title(sheet: Sheet) -> str:
    return " ".join(part for part in (sheet.player, sheet.name) if part) or "All players"


def _facts(sheet: Sheet) -> list[tuple[str, Cell]]:
    seasons = sorted({line.game.season for line in sheet.games if line.game and line.game.season})
    facts: list[tuple[str, Cell]] = [
        ("Position", sheet.position),
        ("Season", ", ".join(seasons)),
        ("Games" if len(sheet.games) > 1 else "Game", _games_fact(sheet)),
        ("Reps", len(sheet.reps)),
        ("Won and lost", sheet.tally),
        ("Grade", sheet.grade),
        ("Scale", f"{sheet.scale.title}: {cutoff_words(sheet.grade)}"),
    ]
    return [(label, value) for label, value in facts if value != ""]


def _games_fact(sheet: Sheet) -> Cell:
    return sheet.games[0].title if len(sheet.games) == 1 else len(sheet.games)


def _remarks(sheet: Sheet) -> list[str]:
    remarks = []
    if " / " in sheet.name:
        remarks.append(f"Number {sheet.player} changed hands in these games; name one man to see him alone.")
    remarks += _graded_twice(sheet)
    if sheet.unconfirmed:
        rows = "1 row is" if sheet.unconfirmed == 1 else f"{sheet.unconfirmed} rows are"
        remarks.append(f"{rows} the tool's own reading and not confirmed by the coach.")
    if sheet.listed:
        values = "1 value was" if sheet.listed == 1 else f"{sheet.listed} values were"
        remarks.append(f"{values} not said but filled from the game's play list.")
    disputed = sum(bool(rep.disputes) for rep in sheet.reps)
    if disputed:
        reps = "1 rep is" if disputed == 1 else f"{disputed} reps are"
        remarks.append(f"{reps} told otherwise by the game's play list; each says how.")
    inferred = sum(bool(rep.inferred) for rep in sheet.reps)
    if inferred:
        rows = "1 row has" if inferred == 1 else f"{inferred} rows have"
        remarks.append(f"{rows} values inferred from others, not said; each names them.")
    if sheet.overall is not None:
        remarks.append(_overall_trend(sheet.overall))
    for flag, count in sheet.safety.items():
        remarks.append(f"{count} {'rep is' if count == 1 else 'reps are'} flagged: {flag}.")
    return remarks


def _graded_twice(sheet: Sheet) -> list[str]:
    """A word on each game of which several notes grade the same man: two talks on one film count twice."""
    notes: dict[tuple[str, str | None], set[int]] = {}
    for rep in sheet.reps:
        if rep.game is not None:
            notes.setdefault((rep.game.title, rep.row.player), set()).add(rep.note_id)
    twice = dict.fromkeys(title for (title, _), found in notes.items() if len(found) > 1)
    return [
        f"Several notes grade the same man in {title}; where they are about the same snaps these count twice "
        "(--note takes one)."
        for title in twice
    ]


def _overall_trend(course: Course) -> str:
    if course.found is None or course.found.direction == "level":
        return "Over the games the share of wins shows no trend."
    way = "rises" if course.found.direction == "up" else "falls"
    chance = "which chance alone could do" if course.chance else "more than chance alone would do"
    return f"Over the games the share of wins {way} (p {p_words(course.found.p)}), {chance}."


def _overall(sheet: Sheet) -> Table:
    t = sheet.tally
    row = (t.reps, t.wins, t.losses, t.neutral, t.share, sheet.grade)
    return Table("overall", "Overall", {**TALLY_COLUMNS, "grade": "Grade"}, [row], SHARE_ABOUT)


def _players(sheet: Sheet) -> Table:
    columns = {"player": "No.", "name": "Name", **TALLY_COLUMNS, "grade": "Grade"}
    rows = [
        (
            p.jersey,
            p.name,
            p.tally.reps,
            p.tally.wins,
            p.tally.losses,
            p.tally.neutral,
            p.tally.share,
            p.grade,
        )
        for p in sheet.players
    ]
    return Table("by_player", "By player", columns, rows)


def _game_blocks(sheet: Sheet) -> list[Block]:
    columns = {"game": "Game", **TALLY_COLUMNS, "grade": "Grade"}
    rows = [
        (g.title, g.tally.reps, g.tally.wins, g.tally.losses, g.tally.neutral, g.tally.share, g.grade)
        for g in sheet.games
    ]
    line = Line("chart_games", "Grade by game", [(g.title, g.grade) for g in sheet.games])
    return [line, Table("by_game", "By game", columns, rows)]


def _terms(sheet: Sheet) -> list[Block]:
    blocks: list[Block] = []
    if sheet.techniques:
        blocks.append(
            counts_table("techniques", "Techniques", "Technique", dict(sheet.techniques), sheet.reps)
        )
    if sheet.faults:
        blocks.append(counts_table("faults", "Faults", "Fault", dict(sheet.faults), sheet.reps))
    return blocks


def _showing(sheet: Sheet) -> list[Block]:
    found = sheet.showing
    about = "" if found.balanced else "Not balanced: the reps at hand have too few of one kind."
    blocks: list[Block] = []
    if found.teach:
        blocks.append(Reps("show_teach", "Reps to show: to learn from", found.teach, (), about))
    if found.highlight:
        blocks.append(Reps("show_highlight", "Reps to show: to keep doing", found.highlight, (), about))
    return blocks
