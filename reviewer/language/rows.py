"""Decide the drafts: which rows there are and what fills each field, with evidence and doubt."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

from reviewer import paths
from reviewer.language.analysis import Analysis
from reviewer.language.decided import Decided
from reviewer.language.draft import AGAINST, STILL_TOLD_OF
from reviewer.language.drafts import Candidate, Cue, RepDraft, RowDraft
from reviewer.language.judge import load_judge
from reviewer.language.lineup import side_by_direction
from reviewer.language.opponents import CARRIED
from reviewer.language.people import position_of
from reviewer.language.tag import TermSpan
from reviewer.records import Evidence, GradeRow

TERM_LISTS = ("concepts", "techniques", "faults", "moves", "games", "events", "safety", "labels")
HALF = 0.5
CARRIED_OVER = 0.55
"""How sure a man is, or a defender, whom the rep before named and this one only calls "he"."""
FACED = 0.5
"""From which probability on a named defender is one he worked on."""
LIKELIEST = 0.2
"""A lone defender is taken from this probability on, as one is nearly always faced."""


@lru_cache(maxsize=1)
def phase_words() -> Mapping[str, Mapping[str, Any]]:
    """What concepts, techniques, results, events and games say about run or pass."""
    return tomllib.loads((paths.vocabulary() / "phases.toml").read_text("utf-8"))


def decide_rows(analysis: Analysis, rep: RepDraft) -> list[GradeRow]:
    """The rows of one rep, in the order their men were named."""
    graded = [row for row in rep.rows if row_probability(row, rep) >= HALF]
    if not graded and rep.rows:
        graded = [max(rep.rows, key=lambda r: row_probability(r, rep))]
    return [_decide_row(analysis, rep, row) for row in graded]


def row_probability(row: RowDraft, rep: RepDraft) -> float:
    """How likely this man is graded in this rep."""
    if STILL_TOLD_OF in row.features:
        return CARRIED_OVER
    if row.default or row.man is None:
        return 0.99
    return load_judge("row").probability(row.features)


def accepted(candidates: Sequence[Candidate], group: str) -> dict[str, Decided]:
    """Terms of a group that count for the man, with their best probability."""
    judge = load_judge("term")
    found: dict[str, Decided] = {}
    for candidate in candidates:
        if candidate.span.group != group:
            continue
        p = judge.probability(candidate.features)
        span = (candidate.span.first, candidate.span.last)
        known = found.get(candidate.span.id)
        if known is None:
            found[candidate.span.id] = Decided(candidate.span.id, p, [span])
        else:
            known.probability = max(known.probability, p)
            known.spans.append(span)
    return found


def _decide_row(analysis: Analysis, rep: RepDraft, row: RowDraft) -> GradeRow:
    decided: dict[str, Decided] = {}
    lists: dict[str, list[Decided]] = {}
    for group in TERM_LISTS:
        lists[group] = taken_terms(row, group)
    decided["set"] = _single(row, "set")
    decided["alignment"] = _single(row, "alignment")
    decided["side"] = _single(row, "side")
    decided["play_result"] = _single(row, "play_result")
    opponents = _opponents(row)
    verdict = load_judge("verdict").probabilities(verdict_features(analysis, row, lists))
    label = max(verdict, key=lambda k: verdict[k])
    cue_spans = [
        (c.span.first, c.span.last) for c in row.cues if c.polarity or c.span.group in {"verdict", "mixed"}
    ]
    decided["verdict"] = Decided(label, verdict[label], cue_spans)
    if label == "win":
        lists["events"] = [d for d in lists["events"] if d.value not in AGAINST]
    phase = _phase(row, lists, decided)
    decided["phase"] = phase
    position = position_of(row.man, analysis.context)
    if phase.value != "run":
        decided["side"] = Decided(None, 1.0, [])
    elif decided["side"].value is None:
        decided["side"] = side_by_direction(analysis, rep.cut.sentences, position)
    for mark in ("assignment", "technique", "finish"):
        decided[mark] = _mark(row, mark)
    return _row(analysis, rep, row, decided, lists, opponents)


MORE_EXACT = {
    "stunt": frozenset({"T-E stunt", "E-T stunt", "twist"}),
    "loop": frozenset({"T-E stunt", "E-T stunt", "twist"}),
    "blitz": frozenset({"delayed blitz", "simulated pressure"}),
    "chop": frozenset({"cross chop"}),
}
"""A general name adds nothing where a more exact one of the same rush was said."""


def taken_terms(row: RowDraft, group: str) -> list[Decided]:
    """The terms of a list field that count for the man."""
    taken = [d for d in accepted(row.candidates, group).values() if d.probability >= HALF]
    if group == "concepts":
        return one_play(taken)
    if group in {"games", "moves"}:
        said = {d.value for d in taken}
        taken = [d for d in taken if not MORE_EXACT.get(d.value, frozenset()) & said]
    return taken


def one_play(taken: Sequence[Decided]) -> list[Decided]:
    """The concepts that can be one play: the earliest said, and what may stand beside it."""
    words = phase_words()["together"]
    pairs = {frozenset(p) for p in words["pairs"]}
    protections = set(words["protections"])
    passes = set(phase_words()["concepts"]["pass"])
    beaten = {b for a, b in words["prefer"] if any(d.value == a for d in taken)}
    kept: list[Decided] = []

    def stand_together(a: str, b: str) -> bool:
        one_protects = (a in protections) != (b in protections)
        return frozenset((a, b)) in pairs or (one_protects and a in passes and b in passes)

    for item in sorted(taken, key=lambda d: (d.value in beaten, d.spans[0])):
        if all(stand_together(item.value, k.value) for k in kept):
            kept.append(item)
    return sorted(kept, key=lambda d: d.spans[0])


def _opponents(row: RowDraft) -> list[Decided]:
    """The defenders he worked on. Where none is likely but one was named on him, the likeliest."""
    judge = load_judge("opponent")
    found = [
        Decided(
            o.jersey,
            CARRIED_OVER if CARRIED in o.features else judge.probability(o.features),
            [(m.first, m.last) for m in o.mentions],
        )
        for o in row.opponents
    ]
    taken = [d for d in found if d.probability >= FACED]
    if not taken:
        taken = sorted((d for d in found if d.probability >= LIKELIEST), key=lambda d: -d.probability)[:1]
    return taken


def _single(row: RowDraft, group: str) -> Decided:
    """The one value of a field that holds one: the likeliest, the last of equals."""
    found = [d for d in accepted(row.candidates, group).values() if d.probability >= HALF]
    if not found:
        return Decided(None, 1.0, [])
    if group == "play_result":
        return min(found, key=lambda d: RESULT_ORDER.index(d.value))
    best = max(
        found,
        key=lambda d: (round(d.probability, 1), d.spans[0][0] if group == "alignment" else -d.spans[0][0]),
    )
    return best


RESULT_ORDER = ("touchdown", "turnover", "sack", "incomplete", "complete", "loss", "no gain", "gain")
"""Of several results named in one rep the play had the first of these: the others led up to it."""


def _mark(row: RowDraft, name: str) -> Decided:
    marks = [m for m in row.marks if m.name == name]
    if not marks:
        return Decided(None, 1.0, [])
    return Decided(marks[-1].sign, 0.85, [(marks[-1].first, marks[-1].last)])


def _phase(row: RowDraft, lists: Mapping[str, Sequence[Decided]], decided: Mapping[str, Decided]) -> Decided:
    """Run or pass by all that points to it, each sign with its weight."""
    score = 0.0
    spans: list[tuple[int, int]] = []
    words = phase_words()

    def add(sign: float, where: Sequence[tuple[int, int]]) -> None:
        nonlocal score
        score += sign
        spans.extend(where[:1])

    for group, weight in (("concepts", 4.0), ("techniques", 0.7), ("events", 0.6), ("games", 1.0)):
        for item in lists[group]:
            for name, sign in (("run", 1.0), ("pass", -1.0)):
                if item.value in words.get(group, {}).get(name, ()):
                    add(sign * weight, item.spans)
    if decided["set"].value:
        add(-2.0, decided["set"].spans)
    if decided["play_result"].value in words["results"]["pass"]:
        add(-2.0, decided["play_result"].spans)
    if decided["side"].value:
        add(1.0, decided["side"].spans)
    for item in accepted(row.candidates, "phase").values():
        if item.probability >= HALF:
            add(1.5 if item.value == "run" else -1.5, item.spans)
    if lists["moves"]:
        add(-0.6, ())
    if score == 0:
        return Decided(None, 0.5, [])
    probability = 1 / (1 + 2.718281828 ** -min(abs(score), 6))
    return Decided("run" if score > 0 else "pass", probability, spans)


def verdict_features(
    analysis: Analysis, row: RowDraft, lists: Mapping[str, Sequence[Decided]]
) -> dict[str, float]:
    """Features of the judgement about one man, from its cues in spoken order."""
    out: dict[str, float] = {}
    cues = sorted(row.cues, key=lambda c: c.span.first)
    explicit = [c for c in cues if c.explicit]
    if explicit:
        out[f"last explicit {explicit[-1].span.id}"] = 1
        out[f"first explicit {explicit[0].span.id}"] = 1
        for name in ("win", "loss", "neutral"):
            out[f"explicit {name}"] = min(2, sum(c.span.id == name for c in explicit))
    else:
        out["no explicit"] = 1
    signed = [c for c in cues if c.polarity]
    if signed:
        last = signed[-1]
        out[f"last sign {_sign(last.polarity)}"] = 1
        out["last value"] = last.polarity
        sentence = last.span.sentence
        out["last sentence"] = _squash(sum(c.polarity for c in signed if c.span.sentence == sentence))
        out["late half"] = _squash(sum(c.polarity for c in signed[len(signed) // 2 :]))
        if not explicit:
            out[f"no explicit, last sign {_sign(last.polarity)}"] = 1
    else:
        out["no sign"] = 1
    out["positive"] = _squash(sum(c.polarity for c in signed if c.polarity > 0))
    out["negative"] = _squash(sum(c.polarity for c in signed if c.polarity < 0))
    out["mixed"] = min(2, sum(c.span.group == "mixed" and "negated" not in c.features for c in cues))
    if cues and cues[-1].span.group == "mixed":
        out["last mixed"] = 1
    _fact_features(row, lists, out)
    if any(analysis.cues(k, "irony") for k in row.sentences):
        out["irony"] = 1
    return out


def _fact_features(row: RowDraft, lists: Mapping[str, Sequence[Decided]], out: dict[str, float]) -> None:
    against = [d for d in lists["events"] if d.value in AGAINST]
    out["against"] = min(2, len(against))
    out["knockdown"] = float(any(d.value == "knockdown" for d in lists["events"]))
    out["key block"] = float(any(d.value == "key block" for d in lists["events"]))
    out["faults"] = min(3, len(lists["faults"]))
    out["techniques"] = min(4, len(lists["techniques"]))
    if lists["faults"] and not lists["techniques"]:
        out["only faults"] = 1
    if lists["techniques"] and not lists["faults"]:
        out["only techniques"] = 1
    for item in (*lists["faults"], *lists["techniques"], *against):
        out[f"has {item.value}"] = 1
    if lists["faults"] and lists["techniques"]:
        fault = max(s[0] for d in lists["faults"] for s in d.spans)
        deed = max(s[0] for d in lists["techniques"] for s in d.spans)
        out["deed last" if deed > fault else "fault last"] = 1
    for name in ("assignment", "technique", "finish"):
        mark = _mark(row, name).value
        if mark:
            out[f"mark {name} {mark}"] = 1
    if any(d.value == "teach" for d in lists["labels"]):
        out["teach"] = 1
    if any(d.value == "highlight" for d in lists["labels"]):
        out["highlight"] = 1


def _sign(value: float) -> str:
    return "+" if value > 0 else "-"


def _squash(value: float) -> float:
    return max(-3.0, min(3.0, value))


def _row(
    analysis: Analysis,
    rep: RepDraft,
    row: RowDraft,
    decided: Mapping[str, Decided],
    lists: Mapping[str, Sequence[Decided]],
    opponents: Sequence[Decided],
) -> GradeRow:
    text = analysis.text
    sentences = [text.sentences[k] for k in rep.cut.sentences]
    start = text.words[text.tokens[sentences[0].first].word].start
    end = text.words[text.tokens[sentences[-1].last - 1].word].end
    evidence: dict[str, list[Evidence]] = {}
    confidence: dict[str, float] = {}
    values: dict[str, Any] = {}

    def tell(name: str, spans: Sequence[tuple[int, int]]) -> None:
        if spans:
            evidence[name] = [analysis.evidence(a, b) for a, b in sorted(set(spans))]

    for name, item in decided.items():
        values[name] = item.value
        confidence[name] = round(item.probability, 3)
        if item.value is not None:
            tell(name, item.spans)
    for name, items in (*lists.items(), ("opponents", opponents)):
        ordered = sorted(items, key=lambda d: d.spans[0])
        values[name] = [d.value for d in ordered]
        confidence[name] = round(min((d.probability for d in ordered), default=1.0), 3)
        tell(name, [s for d in ordered for s in d.spans])
    situation = rep.situation
    if situation:
        values.update(down=situation.down, distance=situation.distance, goal_to_go=situation.goal_to_go)
        for name in ("down", "distance", "goal_to_go"):
            if values[name] not in (None, False):
                tell(name, [(situation.first, situation.last)])
    mine = [
        (m.first, m.last)
        for k in row.sentences
        for m in analysis.mentions_in.get(k, ())
        if m.own and m.jersey == row.man
    ]
    tell("player", mine)
    confidence["player"] = round(row_probability(row, rep), 3)
    confidence["rep"] = round(rep.cut.confidence, 3)
    grade = GradeRow(
        rep=rep.index,
        start=start,
        end=end,
        player=row.man,
        position=position_of(row.man, analysis.context),
        evidence=evidence,
        field_confidence=confidence,
        **values,
    )
    grade.confidence = round(load_judge("confidence").probability(confidence_features(grade)), 3)
    return grade


def confidence_features(row: GradeRow) -> dict[str, float]:
    """What a row's confidence is judged by: the doubt of each field that a coach would have to fix."""
    found = {f"doubt {name}": 1 - row.field_confidence.get(name, 1.0) for name in DOUBTED}
    found["rep doubt"] = 1 - row.field_confidence.get("rep", 1.0)
    found["no down"] = float(row.down is None)
    found["no opponent"] = float(not row.opponents)
    found["no phase"] = float(row.phase is None)
    found["no concept"] = float(not row.concepts)
    found["opponents"] = min(3.0, len(row.opponents))
    found["neutral"] = float(row.verdict == "neutral")
    return found


DOUBTED = ("verdict", "player", "phase", "opponents", "set", "alignment", "concepts")


def cue_text(analysis: Analysis, cue: Cue | TermSpan) -> str:
    """The words of a cue, for logs and tests."""
    span = cue.span if isinstance(cue, Cue) else cue
    return " ".join(t.text for t in analysis.text.tokens[span.first : span.last])
