"""The signs that a man is graded in a rep and not only mentioned, and whom a verdict is about."""

from __future__ import annotations

from collections.abc import Sequence

from reviewer.language.analysis import Analysis
from reviewer.language.drafts import RepDraft, RowDraft
from reviewer.language.focus import NOBODY, Focus
from reviewer.language.people import LINE, position_of
from reviewer.language.tag import TermSpan


def judged_men(
    analysis: Analysis, span: TermSpan, men: frozenset[str], man: str | None, default: str | None = None
) -> set[str | None]:
    """Whom a verdict is about: the man named after it ("plus for sixty-six", "win, Dre"), else those
    in focus."""
    tokens = analysis.text.tokens
    if span.group == "verdict" and span.last < len(tokens) and default:
        after = tokens[span.last]
        if after.text in {"me", "you"} and after.sentence == span.sentence:
            return {default}
    for mention in analysis.mentions_in.get(span.sentence, ()):
        if not mention.own or mention.first < span.last or mention.first - span.last > 4:
            continue
        between = [t.text for t in tokens[span.last : mention.first]]
        led = bool(between) and between[0] in {"for", "from", "on", "by", "to"}
        bare = not between and span.group == "verdict" and _ends_clause(analysis, mention.last)
        if bare or (led and not {"and", "but"} & set(between)):
            same = [m for m in analysis.mentions_in[span.sentence] if m.own and m.first == mention.first]
            return {m.jersey for m in same}
    if not men:
        return {man}
    return set(men)


def _ends_clause(analysis: Analysis, token: int) -> bool:
    """Whether the clause ends before this token."""
    tokens = analysis.text.tokens
    return token >= len(tokens) or tokens[token].clause != tokens[token - 1].clause


def row_features(analysis: Analysis, row: RowDraft, focus: Focus, default: str | None) -> list[str]:
    """Signs that this man is graded here and not only mentioned."""
    mine = [t for t, men in focus.men.items() if row.man in men and focus.explicit.get(t)]
    sole = [t for t in mine if len(focus.men[t]) == 1]
    found = [f"default {'self' if row.default else 'other' if default else 'none'}"]
    position = position_of(row.man, analysis.context)
    found.append(f"plays {'line' if position in LINE else position}")
    told = set(mine)
    explicit = sum(
        c.span.group == "verdict"
        and (c.span.first in told or bool(default))
        and (row.default or row.man in judged_men(analysis, c.span, NOBODY, None) or c.span.first in told)
        for c in row.cues
    )
    found.append(f"verdicts {min(explicit, 2)}")
    judged = sum(c.polarity != 0 and c.span.first in told for c in row.cues)
    found.append(f"judged {min(judged, 3)}")
    deeds = sum(c.span.group in {"techniques", "faults"} and c.span.first in told for c in row.candidates)
    found.append(f"deeds {min(deeds, 3)}")
    found.append(f"opponents {min(2, sum('on him' in o.features for o in row.opponents))}")
    found.append(f"tokens {min(len(sole) // 6, 4)}")
    if not mine:
        found.append("never in focus")
    if row.marks:
        found.append("marks")
    found += _telling(analysis, row, focus, sole)
    sign = "default " if default else "open "
    return found + [sign + f for f in found]


def _telling(analysis: Analysis, row: RowDraft, focus: Focus, sole: Sequence[int]) -> list[str]:
    """How he is told of: by name in a judging sentence, as who does something, how long, and beside whom."""
    tokens = analysis.text.tokens
    named = {
        k
        for k in sorted({tokens[t].sentence for t in focus.men})
        if any(m.own and m.jersey == row.man for m in analysis.mentions_in.get(k, ()))
    }
    judged = [c for c in row.cues if c.polarity and c.span.sentence in named]
    alone = [
        c
        for c in judged
        if {m.jersey for m in analysis.mentions_in.get(c.span.sentence, ()) if m.own} == {row.man}
    ]
    whole = {tokens[t].sentence for t in sole}
    told = sum(c.polarity != 0 and len(focus.at(c.span.first)) == 1 for c in row.cues)
    deeds = any(
        c.span.group in {"techniques", "faults"} and f"{c.span.group}:on him explicit" in c.features
        for c in row.candidates
    )
    faced = any("on him" in o.features for o in row.opponents)
    signs = (bool(judged)) + deeds + faced
    found = [
        f"named in {min(len(named), 3)}",
        f"judged by name {min(len(judged), 2)}",
        f"judged by name alone {min(len(alone), 2)}",
        f"sentences {min(len(whole), 4)}",
        f"signs {signs}",
        f"judged alone {min(told, 3)}",
    ]
    if deeds and (told or judged):
        found.append("deed and judged")
    if faced and (told or judged):
        found.append("faced and judged")
    return found


def relate_rows(drafts: Sequence[RepDraft]) -> None:
    """A speaker who grades neighbours does so again: how often he judges others in his other reps."""
    strong = [
        sum(
            not r.default and r.man is not None and {"signs 2", "signs 3"} & set(r.features) != set()
            for r in d.rows
        )
        for d in drafts
    ]
    reps = [n > 0 for n in strong]
    for k, draft in enumerate(drafts):
        others = sum(reps) - reps[k]
        share = others / max(1, len(drafts) - 1)
        sign = "none" if not others else "few" if share < 0.25 else "some" if share < 0.6 else "most"
        for row in draft.rows:
            row.features.append(f"neighbours told elsewhere: {sign}")
            if row.default is False:
                row.features.append(f"{_signs(row)}, neighbours told elsewhere: {sign}")


def _signs(row: RowDraft) -> str:
    return next((f for f in row.features if f.startswith("signs ")), "signs 0")
