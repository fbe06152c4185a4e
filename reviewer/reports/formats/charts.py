"""Charts a coach reads at a glance, as small SVG pictures: wins and losses, grade by game.

Blue is won, orange is lost, grey is neutral: a pair that colour-blind readers tell apart; every
part carries its count, so that the picture needs no colour at all. All sizes are in pixels.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape

from reviewer.reports.document import Bars, Line
from reviewer.reports.scale import Grade
from reviewer.reports.tally import Tally
from reviewer.reports.wording import number, percent, span

WON, LOST, NEUTRAL, INK, FAINT = "#2b6cb0", "#dd7527", "#b8bec6", "#1f2933", "#8a94a0"
WIDTH = 640
ROW = 26
BESIDE = 150
"""Room right of the bars, for the share."""

EDGE = 62
"""Room right of the grades, for the cut-off's name."""
FONT = 'font-family="Helvetica, Arial, DejaVu Sans, sans-serif"'
LABEL_CHARACTER = 6.6

LONGEST_LABEL = 24

_Scale = Callable[[float], float]


def bars_svg(chart: Bars) -> str:
    """Wins, neutral reps and losses as one bar a name, with the share won beside it."""
    left = 16 + LABEL_CHARACTER * max((len(name) for name, _ in chart.bars), default=0)
    room = WIDTH - left - BESIDE
    longest = max((tally.reps for _, tally in chart.bars), default=1)
    top = 26
    parts = [_legend(left)]
    for place, (name, tally) in enumerate(chart.bars):
        parts.append(_bar(name, tally, left, top + place * ROW, room / longest))
    return _svg(top + len(chart.bars) * ROW + 6, parts, chart.title)


def _legend(left: float) -> str:
    items = (("won", WON), ("neutral", NEUTRAL), ("lost", LOST))
    parts = []
    for place, (name, colour) in enumerate(items):
        x = left + place * 80
        parts.append(f'<rect x="{x:.0f}" y="6" width="11" height="11" fill="{colour}"/>')
        parts.append(_text(x + 16, 16, name, size=11))
    return "".join(parts)


def _bar(name: str, tally: Tally, left: float, y: float, scale: float) -> str:
    parts = [_text(left - 8, y + 15, name, anchor="end")]
    x = left
    for count, colour, ink in (
        (tally.wins, WON, "#fff"),
        (tally.neutral, NEUTRAL, INK),
        (tally.losses, LOST, "#fff"),
    ):
        if not count:
            continue
        wide = count * scale
        parts.append(f'<rect x="{x:.1f}" y="{y + 2}" width="{wide:.1f}" height="18" fill="{colour}"/>')
        if wide >= 7 * len(str(count)) + 4:
            middle = x + wide / 2
            parts.append(_text(middle, y + 15, str(count), size=11, anchor="middle", fill=ink))
        x += wide
    share = tally.share
    if share.value is not None and share.interval is not None:
        parts.append(_text(x + 8, y + 15, f"{percent(share.value)} ({span(share.interval)})", size=11))
    return "".join(parts)


def line_svg(chart: Line) -> str:
    """The grade of each game as a dot with its interval, and the cut-off as a dashed line."""
    graded = [(name, g) for name, g in chart.points if g.value is not None]
    height, left, top, bottom = 300, 76, 14, 96
    low, high = _range([g for _, g in graded])
    step = (WIDTH - left - EDGE) / max(1, len(graded))

    def y_of(value: float) -> float:
        return top + (high - value) / (high - low) * (height - top - bottom)

    parts = [_axis(low, high, left, y_of, graded[0][1].show if graded else "percent")]
    if graded:
        cut = y_of(graded[0][1].cutoff)
        parts.append(_dashes(left, cut))
    names = _short([name for name, _ in graded])
    for place, (name, (_, grade)) in enumerate(zip(names, graded, strict=True)):
        parts.append(_point(name, grade, left + step * (place + 0.5), y_of, height - bottom))
    return _svg(height, parts, chart.title)


def _short(names: Sequence[str]) -> list[str]:
    """The names without a year that all of them begin with, cut to what fits a slanted label."""
    years = {name[:5] for name in names}
    same = len(years) == 1 and years.pop()[4:] == "-"
    cut = [name[5:] if same else name for name in names]
    return [name if len(name) <= LONGEST_LABEL else name[: LONGEST_LABEL - 1] + "…" for name in cut]


def _range(grades: Sequence[Grade]) -> tuple[float, float]:
    if not grades or grades[0].show == "percent":
        return 0.0, 1.0
    values = [grades[0].cutoff]
    for grade in grades:
        values.append(grade.value or 0.0)
        if grade.interval:
            values += [grade.interval.low, grade.interval.high]
    low, high = min(values), max(values)
    edge = (high - low) * 0.05 or 1.0
    return low - edge, high + edge


def _axis(low: float, high: float, left: float, y_of: _Scale, show: str) -> str:
    parts = []
    for place in range(5):
        value = low + (high - low) * place / 4
        y = y_of(value)
        label = percent(value) if show == "percent" else number(value)
        parts.append(f'<path d="M{left} {y:.1f}H{WIDTH - EDGE}" stroke="#e3e7eb"/>')
        parts.append(_text(left - 8, y + 4, label, size=11, anchor="end", fill=FAINT))
    return "".join(parts)


def _dashes(left: float, y: float) -> str:
    line = f'<path d="M{left} {y:.1f}H{WIDTH - EDGE}" stroke="{LOST}" stroke-dasharray="5 4"/>'
    return line + _text(WIDTH - EDGE + 6, y + 4, "cut-off", size=11, fill=LOST)


def _point(name: str, grade: Grade, x: float, y_of: _Scale, floor: float) -> str:
    assert grade.value is not None
    parts = []
    if grade.interval:
        top, foot = y_of(grade.interval.high), y_of(grade.interval.low)
        parts.append(
            f'<path d="M{x:.1f} {top:.1f}V{foot:.1f}" stroke="{WON}" stroke-width="2" opacity=".55"/>'
        )
    parts.append(f'<circle cx="{x:.1f}" cy="{y_of(grade.value):.1f}" r="5" fill="{WON}"/>')
    parts.append(
        f'<text transform="translate({x + 4:.1f},{floor + 14:.1f}) rotate(-35)" text-anchor="end" {FONT} '
        f'font-size="10.5" fill="{INK}">{escape(name)}</text>'
    )
    return "".join(parts)


def _text(x: float, y: float, text: str, size: int = 12, anchor: str = "start", fill: str = INK) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" {FONT} font-size="{size}" text-anchor="{anchor}" '
        f'fill="{fill}">{escape(text)}</text>'
    )


def _svg(height: float, parts: Sequence[str], title: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:.0f}" width="{WIDTH}" '
        f'height="{height:.0f}" role="img" aria-label="{escape(title, quote=True)}">{"".join(parts)}</svg>'
    )
