"""How values are written for people, the same in every format."""

from __future__ import annotations

from collections.abc import Iterable

from reviewer.records import GradeRow
from reviewer.reports.document import Cell
from reviewer.reports.intervals import Interval, Share
from reviewer.reports.kappa import Kappa
from reviewer.reports.reps import GradedRep
from reviewer.reports.scale import Grade, RepScore
from reviewer.reports.tally import Tally
from reviewer.reports.trend import P

ORDINALS = {1: "1st", 2: "2nd", 3: "3rd", 4: "4th"}
FIELD_TITLES: dict[str, str] = {
    "phase": "Run or pass",
    "concepts": "Play",
    "set": "Pass set",
    "alignment": "Alignment over him",
    "side": "Side of the run",
    "down": "Down",
    "moves": "Move he faced",
    "games": "Line game",
    "techniques": "Technique",
    "faults": "Fault",
    "events": "Event",
    "opponents": "Opponent",
    "position": "Position",
    "verdict": "Verdict",
    "player": "Player",
    "distance": "Distance",
    "goal_to_go": "Goal to go",
    "assignment": "Assignment",
    "technique": "Technique mark",
    "finish": "Finish",
    "play_result": "Result of the play",
    "safety": "Safety flag",
    "labels": "Label",
}
"""Fields of a grade row as headings."""


def percent(value: float) -> str:
    """A fraction as whole per cent, "70 %"."""
    return f"{100 * value:.0f} %"


def clock(seconds: float) -> str:
    """Seconds as m:ss or h:mm:ss."""
    whole = max(0, int(seconds))
    hours, minutes, left = whole // 3600, whole // 60 % 60, whole % 60
    return f"{hours}:{minutes:02}:{left:02}" if hours else f"{minutes}:{left:02}"


def number(value: float) -> str:
    """A number without needless zeros, two decimals at most."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def share_words(share: Share) -> str:
    """A share with its count and interval: "70 % of 10 (40–89)"; "" for no trials."""
    if share.value is None or share.interval is None:
        return ""
    return f"{percent(share.value)} of {share.total} ({span(share.interval)})"


def span(interval: Interval) -> str:
    """An interval of shares in per cent, "40–89"."""
    return f"{100 * interval.low:.0f}–{100 * interval.high:.0f}"


def tally_words(tally: Tally) -> str:
    """Wins, losses, neutral: "7–3" or "7–3–2"."""
    base = f"{tally.wins}–{tally.losses}"
    return f"{base}–{tally.neutral}" if tally.neutral else base


def tally_cell(tally: Tally) -> str:
    """A tally with the share of wins: "7–3, 70 % (40–89)"."""
    share = tally.share
    if share.value is None or share.interval is None:
        return tally_words(tally)
    return f"{tally_words(tally)}, {percent(share.value)} ({span(share.interval)})"


def side_sign(tally: Tally) -> str:
    """ "▲" where the interval of the share of wins lies wholly above one half, "▼" below, else ""."""
    around = tally.share.interval
    if around is None:
        return ""
    return "▲" if around.low > 0.5 else "▼" if around.high < 0.5 else ""


def grade_words(grade: Grade) -> str:
    """A grade with its interval and count: "76 % (66–84) of 80 reps"."""
    if grade.value is None:
        return "not graded"
    if grade.show == "percent":
        value = percent(grade.value)
        around = f" ({span(grade.interval)})" if grade.interval else ""
    else:
        value = number(grade.value)
        around = f" ({number(grade.interval.low)} to {number(grade.interval.high)})" if grade.interval else ""
    return f"{value}{around} of {grade.reps} {'rep' if grade.reps == 1 else 'reps'}"


def cutoff_words(grade: Grade) -> str:
    """Whether the grade is a winning one, and whether that is sure."""
    if grade.value is None:
        return "no grade"
    line = percent(grade.cutoff) if grade.show == "percent" else number(grade.cutoff)
    side = "above" if grade.winning else "below"
    doubt = "" if grade.sure else "; the reps are too few to be sure"
    return f"{side} the cut-off of {line}{doubt}"


def kappa_words(kappa: Kappa) -> str:
    """A kappa with its interval and customary word; "undefined" where only one value occurs."""
    if kappa.value is None:
        return "undefined"
    value = _two_places(kappa.value)
    if kappa.interval is None or kappa.interval.low == kappa.interval.high:
        # with every pair alike, or every pair apart, the standard error is zero and says nothing
        return f"{value} (all the same)" if value == "1.00" else f"{value} (no interval)"
    low, high = map(_two_places, (kappa.interval.low, kappa.interval.high))
    return f"{value} ({low} to {high}), {kappa.words}"


def _two_places(value: float) -> str:
    return f"{value + 0.0:.2f}" if abs(value) >= 0.005 else "0.00"


def p_words(p: float) -> str:
    """A p value: ".034", "< .001"."""
    if p < 0.001:
        return "< .001"
    return "1" if p > 0.9995 else f"{p:.3f}".removeprefix("0")


def cell_words(cell: Cell) -> str:
    """Any cell as text."""
    match cell:
        case None:
            return ""
        case str():
            return cell
        case int():
            return str(cell)
        case float():
            return number(cell)
        case Tally():
            return tally_cell(cell)
        case Share():
            return share_words(cell)
        case Grade():
            return grade_words(cell)
        case Kappa():
            return kappa_words(cell)
        case Interval():
            return span(cell)
        case P():
            return p_words(cell.value)


def situation(row: GradeRow) -> str:
    """Down and distance as spoken: "2nd and 8", "1st and goal", "3rd down"."""
    if row.down is None:
        return "and goal" if row.goal_to_go else ""
    down = ORDINALS[row.down]
    if row.goal_to_go:
        return f"{down} and goal"
    return f"{down} and {row.distance}" if row.distance is not None else f"{down} down"


def marks_words(row: GradeRow) -> str:
    """The three marks in their order, "+ − ·"; a dot where none was given."""
    signs = {"+": "+", "-": "−", None: "·"}
    return " ".join(signs[mark] for mark in (row.assignment, row.technique, row.finish))


def points_words(score: RepScore | None) -> str:
    """A rep's points on the scale; "" when it is not graded."""
    return "" if score is None else number(score.points).replace("-", "−")


def what_he_did(row: GradeRow) -> str:
    """Set, techniques and faults, faults set apart: "45-degree, punch; fault: lunge"."""
    done = ", ".join(filter(None, [f"{row.set} set" if row.set else "", *row.techniques]))
    faults = f"fault: {', '.join(row.faults)}" if row.faults else ""
    return "; ".join(filter(None, [done, faults]))


def what_he_faced(row: GradeRow) -> str:
    """The men over him and what they did: "94 in 3: bull rush, T-E stunt"."""
    men = " and ".join(row.opponents)
    where = f"in {row.alignment}" if row.alignment else ""
    did = ", ".join([*row.moves, *row.games])
    who = " ".join(filter(None, [men, where]))
    return ": ".join(filter(None, [who, did]))


def play_words(row: GradeRow) -> str:
    """The play: phase where no concept says it, concepts, side, result."""
    play = ", ".join(row.concepts) or (row.phase or "")
    return ", ".join(filter(None, [play, row.side or "", row.play_result or ""]))


def rep_remarks(rep: GradedRep) -> str:
    """What a reader must know of a rep: not confirmed, values from a play list, flags, labels."""
    parts = [*rep.row.events, *(f"label: {label}" for label in rep.row.labels), *rep.row.safety]
    if not rep.confirmed:
        parts.append("not confirmed")
    if rep.listed:
        parts.append(f"from the play list: {_titles(rep.listed)}")
    for field, value in rep.disputes:
        listed = ", ".join(value) if isinstance(value, list) else "yes" if value is True else value
        parts.append(f"the play list says {FIELD_TITLES.get(field, field).lower()}: {listed}")
    if rep.inferred:
        parts.append(f"inferred, not said: {_titles(rep.inferred)}")
    return "; ".join(parts)


def _titles(fields: Iterable[str]) -> str:
    return ", ".join(FIELD_TITLES.get(field, field).lower() for field in sorted(fields))
