"""The pieces reports share: tallies, courses and reps laid out as document blocks."""

from __future__ import annotations

from collections.abc import Sequence

from reviewer.reports.document import Bars, Cell, Grid, Table
from reviewer.reports.matrix import Matrix
from reviewer.reports.progress import Course
from reviewer.reports.reps import GradedRep
from reviewer.reports.tally import Group, MarkTally
from reviewer.reports.trend import P
from reviewer.reports.wording import FIELD_TITLES

SHARE_ABOUT = "Share of wins among the reps won or lost, with its 95 % interval; neutral reps take no side."

TALLY_COLUMNS = {
    "reps": "Reps",
    "wins": "Wins",
    "losses": "Losses",
    "neutral": "Neutral",
    "share": "Share won (95 %)",
}


def breakdown(field: str, groups: Sequence[Group], about: str = "") -> Table:
    """Reps by the values of a field, a line each."""
    title = FIELD_TITLES.get(field, field)
    rows = [
        (g.name, g.tally.reps, g.tally.wins, g.tally.losses, g.tally.neutral, g.tally.share) for g in groups
    ]
    return Table(f"by_{field}", f"By {title.lower()}", {field: title, **TALLY_COLUMNS}, rows, about)


def bars(field: str, groups: Sequence[Group]) -> Bars:
    """Wins and losses by the values of a field; reps where nothing was said are left out."""
    title = FIELD_TITLES.get(field, field)
    found = [(g.name, g.tally) for g in groups if g.name != "not said"]
    return Bars(f"chart_{field}", f"Wins and losses by {title.lower()}", found)


def grid(found: Matrix, title: str) -> Grid:
    """A matrix as a grid; its fields named as people name them."""
    return Grid(
        f"{found.row_field}_against_{found.column_field}",
        title,
        found,
        FIELD_TITLES.get(found.row_field, found.row_field),
        FIELD_TITLES.get(found.column_field, found.column_field),
        "Wins–losses(–neutral), share won (95 % interval). A cell is shaded, or has ▲ or ▼, only when its "
        "interval lies wholly on one side of one half.",
    )


def marks_table(marks: dict[str, MarkTally]) -> Table:
    """The three marks of the sheet."""
    names = {"assignment": "Assignment", "technique": "Technique", "finish": "Finish"}
    columns = {
        "mark": "Mark",
        "plus": "Plus",
        "minus": "Minus",
        "unmarked": "Not marked",
        "share": "Share plus (95 %)",
    }
    rows = [(names.get(k, k), m.plus, m.minus, m.unmarked, m.share) for k, m in marks.items()]
    return Table("marks", "Marks", columns, rows)


def counts_table(key: str, title: str, name: str, counts: dict[str, int], reps: Sequence[GradedRep]) -> Table:
    """How often each term was said; `reps` is what they are counted in."""
    rows = list(counts.items())
    return Table(key, title, {key: name, "reps": "Reps"}, rows, f"Counted in {len(reps)} reps.")


def courses_table(courses: Sequence[Course]) -> Table:
    """Techniques and faults over time, surest change first."""
    columns = {
        "term": "Term",
        "field": "Kind",
        "measure": "Measure",
        "early": "First half of the games",
        "late": "Second half",
        "direction": "Direction",
        "p": "p (adjusted)",
        "judgement": "Could it be chance?",
    }
    tested = [course for course in courses if course.found is not None]
    rows = [_course_row(course) for course in tested]
    about = (
        "Cochran–Armitage trend over the games in order, p adjusted for the number of terms looked at; "
        "below .05 it is called a change."
    )
    if len(tested) < len(courses):
        about += f" {len(courses) - len(tested)} more terms never varied."
    return Table("over_time", "Techniques and faults over time", columns, rows, about)


def _course_row(course: Course) -> tuple[Cell, ...]:
    middle = len(course.games) // 2
    early = _of(sum(course.hits[:middle]), sum(course.totals[:middle]))
    late = _of(sum(course.hits[middle:]), sum(course.totals[middle:]))
    title = FIELD_TITLES.get(course.field, course.field)
    judgement = "yes, it could" if course.chance else "hardly: a change"
    direction = course.found.direction if course.found else ""
    p = None if course.p is None else P(course.p)
    return (course.term, title, course.measure, early, late, direction, p, judgement)


def _of(hits: int, total: int) -> str:
    return f"{hits} of {total}"
