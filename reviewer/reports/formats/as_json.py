"""A report as JSON: every table by its key, every rep whole. `ReportData` is its schema."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

from reviewer.records import GradeRow
from reviewer.reports.document import Bars, Document, Grid, Line, Reps, Table
from reviewer.reports.formats.cells import Plain, grid_table, parts, plain_table
from reviewer.reports.reps import GradedRep
from reviewer.reports.scale import RepScore
from reviewer.review.plain import plain_json


class _Data(BaseModel):
    model_config = ConfigDict(extra="forbid")


class FactData(_Data):
    """A fact of the report's head. A value of several numbers has a name for each."""

    label: str
    value: dict[str, Plain] | Plain


class TableData(_Data):
    """A table: rows map a column's key to a plain value. Shares are fractions, 0..1; `low` and
    `high` are the ends of the 95 % interval; null where there is no number."""

    title: str
    about: str = ""
    rows: list[dict[str, Plain]]


class RepData(_Data):
    """A rep: the grade row whole, and what stands around it."""

    game: str
    date: str = ""
    opponent: str = ""
    season: str = ""
    note: str
    name: str = ""
    confirmed: bool
    points: float | None = None
    words: str = ""
    coach_note: str = ""
    list_play: str = ""
    from_play_list: list[str] = []
    play_list_says: dict[str, str | int | bool | list[str]] = {}
    inferred: list[str] = []
    row: GradeRow


class ReportData(_Data):
    """A whole report. `tables` and `reps` are keyed by the name of the part."""

    title: str
    subtitle: str = ""
    facts: list[FactData] = []
    remarks: list[str] = []
    caution: str = ""
    tables: dict[str, TableData] = {}
    reps: dict[str, list[RepData]] = {}


def report_data(document: Document) -> ReportData:
    """The document as data. Charts carry nothing that the tables lack and are left out."""
    tables: dict[str, TableData] = {}
    reps: dict[str, list[RepData]] = {}
    for block in document.blocks:
        match block:
            case Table():
                tables[block.key] = _table(block)
            case Grid():
                tables[block.key] = _table(grid_table(block))
            case Reps():
                scores = block.scores or [None] * len(block.reps)
                reps[block.key] = [_rep(r, s) for r, s in zip(block.reps, scores, strict=True)]
            case Bars() | Line():
                pass
    facts = []
    for label, value in document.facts:
        taken = parts(value)
        facts.append(FactData(label=label, value=taken[""] if list(taken) == [""] else taken))
    return ReportData(
        title=document.title,
        subtitle=document.subtitle,
        facts=facts,
        remarks=list(document.remarks),
        caution=document.caution,
        tables=tables,
        reps=reps,
    )


def json_text(document: Document) -> str:
    """The document as indented JSON with a line end."""
    return plain_json(report_data(document).model_dump_json(indent=2)) + "\n"


def _table(table: Table) -> TableData:
    columns, rows = plain_table(table)
    keys = [key for key, _, _ in columns]
    return TableData(
        title=table.title, about=table.about, rows=[dict(zip(keys, row, strict=True)) for row in rows]
    )


def _rep(rep: GradedRep, score: RepScore | None) -> RepData:
    game = rep.game
    return RepData(
        game=rep.game_title,
        date=game.date if game else "",
        opponent=game.opponent if game else "",
        season=game.season if game else "",
        note=rep.note,
        name=rep.name,
        confirmed=rep.confirmed,
        points=score.points if score else None,
        words=rep.words,
        coach_note=rep.coach_note,
        list_play=rep.play,
        from_play_list=sorted(rep.listed),
        play_list_says=dict(rep.disputes),
        inferred=sorted(rep.inferred),
        row=rep.row,
    )
