"""From a rep's sentences to drafts of its rows: who is graded, and what was said about each man.

A draft holds candidates with their features; `rows` decides with the judges. The same drafts are
what the judges are fitted on, so reading and fitting can never drift apart.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from reviewer.language import scope
from reviewer.language.analysis import Analysis
from reviewer.language.drafts import Candidate, Cue, RepDraft, RowDraft
from reviewer.language.focus import Focus, follow_focus, subject_of
from reviewer.language.graded import judged_men, relate_rows, row_features
from reviewer.language.lineup import shade_alignment
from reviewer.language.marks import Mark, read_marks
from reviewer.language.opponents import CARRIED, Opponent, find_opponents
from reviewer.language.people import people_words, position_of
from reviewer.language.situation import Situation
from reviewer.language.split import Cut
from reviewer.language.tag import TermSpan
from reviewer.language.vocabulary import FIELD_GROUPS

JUDGED = ("verdict", "praise", "blame", "mixed")
AGAINST = frozenset(
    {"pressure", "hurry", "quarterback hit", "sack", "tackle for loss", "holding", "false start"}
)
FOR = frozenset({"knockdown", "key block"})


STILL_TOLD_OF = "still told of"
"""Mark of a man whom the rep's own words do not name."""


def draft_reps(analysis: Analysis, cuts: Sequence[Cut]) -> list[RepDraft]:
    """Drafts of all reps of a note, in order."""
    default = analysis.context.player or main_man(analysis)
    drafts: list[RepDraft] = []
    named: list[str] = _named_before(analysis, cuts)
    facing: dict[str | None, str] = {}
    for index, cut in enumerate(cuts, 1):
        sentences = (*cut.sentences, *cut.back)
        focus = follow_focus(analysis, sentences, default, named)
        reviewed = default
        if not default and _men(analysis, focus, None) == [None]:
            reviewed = _still_told_of(analysis, drafts)
            focus = follow_focus(analysis, sentences, reviewed, named)
        draft = RepDraft(index, cut, focus, situation_of(analysis, cut.sentences))
        named += list(focus.named)
        for man in _men(analysis, focus, reviewed):
            row = _draft_row(analysis, cut, focus, man, reviewed, facing)
            if reviewed != default:
                row.features.append(STILL_TOLD_OF)
            if man is not None and man != reviewed and _ungraded(analysis, cut.sentences, focus, man):
                continue
            if row.default:
                _carry_over(analysis, row, drafts)
            draft.rows.append(row)
            on_him = next((o.jersey for o in row.opponents if "on him" in o.features), None)
            if on_him:
                facing[man] = facing[None] = on_him
        drafts.append(draft)
    relate_rows(drafts)
    return drafts


def _still_told_of(analysis: Analysis, drafts: Sequence[RepDraft]) -> str | None:
    """Whom a rep is about that names none of ours, in a note that singles nobody out: the lone man of
    the rep before, else the one of ours named most in the note."""
    before = [r.man for r in drafts[-1].rows if r.man is not None] if drafts else []
    if len(before) == 1:
        return before[0]
    counts = Counter(m.jersey for m in analysis.mentions if m.own and m.how != "group")
    able = [(n, j) for j, n in counts.items() if may_block(j, analysis)]
    most = max(able, default=None)
    return most[1] if most and most[0] > sum(n for n, _ in able) / 2 else None


def _ungraded(analysis: Analysis, sentences: Sequence[int], focus: Focus, man: str) -> bool:
    """Whether the speaker says that he gives this man no grade."""
    return any(focus.at(c.first) == {man} for k in sentences for c in analysis.cues(k, "ungraded"))


def _carry_over(analysis: Analysis, row: RowDraft, drafts: Sequence[RepDraft]) -> None:
    """A rush or a set is told of "he" and no defender is named: the last one of the rep before goes on."""
    if row.opponents or not drafts or not any(c.span.group in {"moves", "set"} for c in row.candidates):
        return
    before = next((r for r in drafts[-1].rows if r.default), None)
    faced = [o for o in before.opponents if "on him" in o.features] if before else []
    if faced:
        row.opponents.append(Opponent(faced[-1].jersey, faced[-1].mentions[:1], [CARRIED]))


def main_man(analysis: Analysis) -> str | None:
    """The one man under review where the note does not say it beforehand: the only one of ours
    who is named again and again."""
    counts: dict[str, int] = {}
    for mention in analysis.mentions:
        if mention.own and mention.how != "group":
            counts[mention.jersey] = counts.get(mention.jersey, 0) + 1
    if not counts:
        return None
    ranked = sorted(counts.items(), key=lambda item: -item[1])
    total = sum(counts.values())
    if len(ranked) == 1 or (ranked[0][1] >= 3 and ranked[0][1] / total >= 0.75):
        return ranked[0][0]
    return None


def _named_before(analysis: Analysis, cuts: Sequence[Cut]) -> list[str]:
    first = min((c.sentences[0] for c in cuts), default=0)
    return list(
        dict.fromkeys(
            m.jersey for m in analysis.mentions if m.own and analysis.text.tokens[m.first].sentence < first
        )
    )


def situation_of(analysis: Analysis, sentences: Sequence[int]) -> Situation | None:
    """The rep's down and distance: the first said, completed by a later one of the same down."""
    found = [s for k in sentences for s in analysis.situations_in.get(k, ())]
    if not found:
        return None
    first = found[0]
    if not first.distance_said:
        fuller = next((s for s in found[1:] if s.down == first.down and s.distance_said), None)
        return fuller or first
    return first


def _men(analysis: Analysis, focus: Focus, default: str | None) -> list[str | None]:
    """Who may be graded: the man under review, and every one of ours that the talk turned to."""
    turned = [
        m for m in focus.named if any(m in men for men in focus.men.values()) and may_block(m, analysis)
    ]
    men: list[str | None] = list(turned)
    if default and default not in men:
        men.insert(0, default)
    return men or [None]


def may_block(jersey: str, analysis: Analysis) -> bool:
    """Whether a man's position is one that blocks; passers and runners are named, not graded."""
    return position_of(jersey, analysis.context) not in {"QB", "WR", "RB"}


def _draft_row(
    analysis: Analysis,
    cut: Cut,
    focus: Focus,
    man: str | None,
    default: str | None,
    facing: dict[str | None, str],
) -> RowDraft:
    is_default = man is not None and man == default
    row = RowDraft(man, is_default, [])
    back = set(cut.back)
    for k in (*cut.sentences, *cut.back):
        sentence = analysis.text.sentences[k]
        if any(_concerns(focus, t, man) for t in range(sentence.first, sentence.last)):
            row.sentences.append(k)
        for span in analysis.spans_in.get(k, ()):
            men = focus.at(span.first)
            by_shade = span.group == "alignment cue"
            if by_shade:
                number = shade_alignment(span.id, position_of(man, analysis.context))
                if number is None:
                    continue
                span = replace(span, term=replace(span.term, id=number, group="alignment"))
            if span.group in FIELD_GROUPS or span.group in {"play_result", "side", "phase"}:
                if (
                    _taken_back(analysis, span)
                    or _judged(analysis, span)
                    or (not default and _elsewhere(analysis, span, men, man))
                ):
                    continue
                features = _span_features(analysis, span, focus, man, default, k in back)
                if span.group == "alignment":
                    features += _place_features(analysis, span, by_shade)
                row.candidates.append(Candidate(span, features))
            elif span.group in JUDGED and man in judged_men(analysis, span, men, man, default):
                if span.group == "verdict" and scope.verdict_withdrawn(analysis, span):
                    continue
                row.cues.append(_cue(analysis, span, focus, man))
            elif span.group.startswith("mark.") and k not in back and (man is None or man in men or not men):
                told = not (scope.asked(analysis, span) or scope.hypothetical(analysis, span))
                if told:
                    row.marks.append(Mark(span.group.removeprefix("mark."), span.id, span.first, span.last))
        said = read_marks(analysis.text.tokens, sentence.first, sentence.last)
        said = [m for m in said if man is None or man in focus.at(m.first) or not focus.at(m.first)]
        if said:
            row.marks = [m for m in row.marks if not sentence.first <= m.first < sentence.last] + said
    row.opponents = find_opponents(analysis, cut, focus, man, facing)
    _relate_games(analysis, row)
    row.features = row_features(analysis, row, focus, default)
    return row


def _relate_games(analysis: Analysis, row: RowDraft) -> None:
    """A game told of the play as a whole is his when a rusher named in it is the one he faced."""
    his = {o.jersey for o in row.opponents if "on him" in o.features}
    deeds = {
        c.span.id
        for c in row.candidates
        if c.span.group in {"techniques", "faults"} and f"{c.span.group}:on him" in c.features
    }
    for candidate in row.candidates:
        span = candidate.span
        if span.group != "games":
            continue
        rushers = {m.jersey for m in analysis.mentions_in.get(span.sentence, ()) if not m.own and m.jersey}
        where = "on the play" if "games:on the play" in candidate.features else "told"
        if rushers:
            candidate.features.append(f"games:{where}, {'his' if rushers & his else 'not his'} rusher")
        else:
            candidate.features.append(f"games:{where}, no rusher named")
        if deeds & {"pass off", "processing", "missed assignment", "fan"}:
            candidate.features.append(f"games:{where}, he sorts it out")


def _concerns(focus: Focus, token: int, man: str | None) -> bool:
    men = focus.at(token)
    return man is None or not men or man in men


def _span_features(
    analysis: Analysis, span: TermSpan, focus: Focus, man: str | None, default: str | None, back: bool
) -> list[str]:
    group = span.group
    men = focus.at(span.first)
    kind = "on the play" if not men else "on him" if man in men or man is None else "on another"
    found = [kind, f"{kind} {'explicit' if focus.explicit.get(span.first) else 'implied'}"]
    if len(men) > 1 and man in men:
        found.append("on several")
    subject = subject_of(analysis, span.first, men)
    found.append(f"subject {subject}")
    for name, test in (
        ("negated", scope.negated),
        ("hypothetical", scope.hypothetical),
        ("quoted", scope.quoted),
        ("asked", scope.asked),
        ("faked", scope.faked),
    ):
        if test(analysis, span):
            found.append(name)
    if kind == "on another" and any(m.jersey == man for m in analysis.mentions_in.get(span.sentence, ())):
        found.append("on another, he is named beside")
        if span.id == "combo":
            found.append("combo beside him")
    if back:
        found.append("back")
    if span.last - span.first == 1:
        found.append("one word")
    if analysis.cues(span.sentence, "same rep"):
        found.append("second look")
    if analysis.cues(span.sentence, "teaching"):
        found.append("teaching")
    if group == "events":
        found.append("event against" if span.id in AGAINST else "event for")
        found += [f"exonerated {k}" for k in _exonerated(analysis, span)]
    found.append(f"default {'yes' if default else 'no'}")
    return [f"{group}:{name}" for name in found] + [f"{group}|{span.id}", f"{group}"]


def _place_features(analysis: Analysis, span: TermSpan, by_shade: bool) -> list[str]:
    """Signs that words tell where a defender lined up, and not what somebody did there."""
    tokens = analysis.text.tokens
    clause = tokens[span.first].clause
    said = analysis.spans_in.get(span.sentence, ())
    before = [s for s in said if s.last <= span.first and tokens[s.first].clause == clause]
    kind = "by shade" if by_shade else "by number"
    found = [kind]
    if any(s.group in {"techniques", "faults", "moves", "events"} for s in before):
        found.append(f"{kind} after a deed")
    if any(not m.own for m in analysis.mentions_in.get(span.sentence, ())):
        found.append(f"{kind} with a defender")
    if any(s.group in {"techniques", "faults", "games", "events"} for s in said):
        found.append(f"{kind} among deeds")
    return [f"alignment:{name}" for name in found]


_SHARED = frozenset({"concepts", "play_result", "phase", "side"})
"""Fields that tell of the play and so hold for every man of the rep."""


def _elsewhere(analysis: Analysis, span: TermSpan, men: frozenset[str], man: str | None) -> bool:
    """Whether the span tells of another man only, where several are graded."""
    if not men or man in men or man is None or span.group in _SHARED:
        return False
    return not any(m.jersey == man for m in analysis.mentions_in.get(span.sentence, ()))


def _judged(analysis: Analysis, span: TermSpan) -> bool:
    """Whether the words are part of a longer judging phrase ("call it a draw")."""
    return any(
        s.group in {"verdict", "mixed"}
        and s.first <= span.first
        and span.last <= s.last
        and s.last - s.first > span.last - span.first
        for s in analysis.spans_in.get(span.sentence, ())
    )


def _taken_back(analysis: Analysis, span: TermSpan) -> bool:
    """Whether the speaker himself withdrew the term."""
    last = min(span.sentence + 3, len(analysis.text.sentences))
    rivals = [s for k in range(span.sentence, last) for s in analysis.cues(k, span.group)]
    if span.group == "techniques" and scope.not_done(analysis, span):
        return True
    return scope.withdrawn(analysis, span, rivals) or denied_later(analysis, span)


def denied_later(analysis: Analysis, span: TermSpan) -> bool:
    """ "Sneak's on. No, it's not the sneak": the same term is denied within the next sentences."""
    for k in range(span.sentence, min(span.sentence + 3, len(analysis.text.sentences))):
        for other in analysis.cues(k, span.group):
            if other.id == span.id and other.first > span.first:
                tokens = analysis.text.tokens[max(0, other.first - 4) : other.first]
                texts = [t.text for t in tokens if t.sentence == other.sentence]
                if "not" in texts and ("it" in texts or "that" in texts or "no" in texts):
                    return True
    return False


def _exonerated(analysis: Analysis, span: TermSpan) -> list[str]:
    """Signs near an event that it is not, or that it is, charged to him."""
    tokens = analysis.text.tokens
    words = people_words()["blame"]
    found = []
    for k in (span.sentence, span.sentence + 1):
        if k >= len(analysis.text.sentences):
            continue
        sentence = analysis.text.sentences[k]
        said = f" {' '.join(t.text for t in tokens[sentence.first : sentence.last])} "
        near = "here" if k == span.sentence else "next"
        if any(f" {phrase} " in said for phrase in words["not_his"]):
            found.append(near)
        if any(f" {phrase} " in said for phrase in words["his"]):
            found.append(f"charged {near}")
    return found


def _cue(analysis: Analysis, span: TermSpan, focus: Focus, man: str | None) -> Cue:
    base = {"praise": 1.0, "blame": -1.0, "mixed": 0.0}.get(span.group)
    explicit = span.group == "verdict"
    if base is None:
        base = {"win": 2.0, "loss": -2.0}.get(span.id, 0.0)
    value = base * span.term.weight
    marks = []
    if scope.negated(analysis, span):
        marks.append("negated")
        value = -value * 0.7
    for name, test in (
        ("hypothetical", scope.hypothetical),
        ("quoted", scope.quoted),
        ("asked", scope.asked),
    ):
        if test(analysis, span):
            marks.append(name)
            value = 0.0
    subject = subject_of(analysis, span.first, focus.at(span.first))
    if subject == "other" and not explicit and span.term.actor != "rusher":
        marks.append("of another")
        value = 0.0
    if analysis.cues(span.sentence, "irony"):
        marks.append("irony")
        value *= 0.3
    if analysis.cues(span.sentence, "rebuttal"):
        marks.append("rebuttal")
    return Cue(span, value, explicit and not marks, marks)
