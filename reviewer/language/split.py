"""Cut a note into reps: each sentence begins a rep, goes on with it, looks back, or is no rep.

The labels are decided together over the whole note (see `chain`). B begins a rep, I goes on with
the rep before, A is a remark back to an earlier rep, O is talk that belongs to no rep.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reviewer.language.analysis import Analysis
from reviewer.language.chain import Chain
from reviewer.language.judge import load_weights
from reviewer.language.vocabulary import FIELD_GROUPS

LABELS = ("B", "I", "A", "O")
LONG_GAP_S = 0.55


@dataclass(frozen=True)
class Cut:
    """Sentences of one rep in spoken order; `back` are those of later remarks on it.

    confidence: how sure its beginning is, 0..1.
    """

    sentences: tuple[int, ...]
    back: tuple[int, ...] = ()
    confidence: float = 1.0


def _chain() -> Chain:
    data = load_weights("split")
    return Chain(
        tuple(data["labels"]),
        {name: k for k, name in enumerate(data["features"])},
        np.array(data["state"]),
        np.array(data["move"]),
        np.array(data["start"]),
    )


def split_reps(analysis: Analysis) -> list[Cut]:
    """The reps of a note."""
    labels, marginals = _chain().decode(sentence_features(analysis))
    labels = _close_empty(analysis, _grade_first(analysis, labels))
    return build_cuts(analysis, labels, marginals[:, 0] if len(labels) else np.zeros(0))


def _grade_first(analysis: Analysis, labels: list[str]) -> list[str]:
    """Where the speaker gives the grade before the situation, a rep begins with its grade."""
    if not _verdict_first(analysis):
        return labels
    out = list(labels)
    for k, label in enumerate(labels):
        if label != "B" or _verdict_only(analysis, k):
            continue
        for back in (1, 2):
            if k - back >= 0 and _verdict_only(analysis, k - back) and labels[k - back] != "B":
                if back == 2 and analysis.situations_in.get(k - 1):
                    break
                out[k - back : k + 1] = ["B", *["I"] * back]
                break
    return out


def _close_empty(analysis: Analysis, labels: list[str]) -> list[str]:
    """Talk between two pauses that holds nothing of a rep begins none, unless it says so ("next one")."""
    out = list(labels)
    for k in range(len(labels)):
        if k and analysis.text.sentences[k].gap_s < LONG_GAP_S and not analysis.text.sentences[k].paragraph and labels[k] != "B":
            continue
        last = _stretch_end(analysis, k)
        if any(_content(analysis, j) for j in range(k, last)):
            continue
        said = {c.group for j in range(k, last) for c in analysis.spans_in.get(j, ()) if c.term.weight >= 1}
        label = labels[k]
        if (
            (label == "B" and last < len(labels) and "opener" not in said)
            or (label == "A" and "back reference" not in said)
            or (label == "I" and "same rep" not in said and last - k > 1 and not _about_a_man(analysis, k, last))
        ):
            out[k:last] = ["O" if x == label or x == "I" else x for x in out[k:last]]
    return out


def _about_a_man(analysis: Analysis, first: int, last: int) -> bool:
    """Whether sentences first..last (exclusive) speak of anybody who can be the man under review."""
    a, b = analysis.text.sentences[first].first, analysis.text.sentences[last - 1].last
    if any(analysis.mentions_in.get(k) for k in range(first, last)):
        return True
    return any(t.text in {"he", "him", "his", "you", "your", "i", "my", "me", "they"} for t in analysis.text.tokens[a:b])


def _stretch_end(analysis: Analysis, k: int) -> int:
    """The first sentence after k that a pause stands before."""
    sentences = analysis.text.sentences
    j = k + 1
    while j < len(sentences) and sentences[j].gap_s < LONG_GAP_S and not sentences[j].paragraph:
        j += 1
    return j


def build_cuts(analysis: Analysis, labels: Sequence[str], sure: Sequence[float] | NDArray[np.float64]) -> list[Cut]:
    """Reps from labels; remarks back are given to the rep they speak of."""
    current: list[list[int]] = []
    begun: list[float] = []
    backs: list[list[int]] = []
    pending: list[int] = []

    def flush() -> None:
        if pending and current:
            target = _looked_back_at(analysis, pending, current)
            if target is not None:
                backs[target].extend(pending)
        pending.clear()

    for k, label in enumerate(labels):
        if label != "A":
            flush()
        if label == "B":
            current.append([k])
            backs.append([])
            begun.append(float(sure[k]))
        elif label == "I" and current:
            current[-1].append(k)
        elif label == "A":
            pending.append(k)
    flush()
    cuts = [Cut(tuple(c), tuple(b), p) for c, b, p in zip(current, backs, begun, strict=True)]
    return [c for c in cuts if sum(_content(analysis, k) for k in c.sentences)]


def _looked_back_at(analysis: Analysis, sentences: Sequence[int], reps: Sequence[Sequence[int]]) -> int | None:
    """Index of the rep that a remark back speaks of: the one whose terms and numbers it shares."""
    wanted = _fingerprint(analysis, sentences)
    order = _said_order(analysis, sentences[:2])
    best, best_score = None, 0.0
    seen = [_fingerprint(analysis, rep) for rep in reps]
    for index, found in enumerate(seen):
        score = sum(2.0 / sum(item in other for other in seen) for item in wanted & found)
        if order == index:
            score += 2.5
        if order is not None and order < 0 and index == len(reps) + order:
            score += 1.0
        score += 0.01 * index / len(reps)
        if score > best_score:
            best, best_score = index, score
    if best_score < 0.3:
        return len(reps) - 1
    return best


def _said_order(analysis: Analysis, sentences: Sequence[int]) -> int | None:
    """"that first one", "the second snap": the rep's place, from 0; an "opening" one is 0."""
    for k in sentences:
        sentence = analysis.text.sentences[k]
        tokens = analysis.text.tokens[sentence.first : sentence.last]
        for use in analysis.numbers_in.get(k, ()):
            number = use.number
            after = analysis.text.tokens[number.last : number.last + 2]
            if number.ordinal and any(t.norm in {"one", "snap", "rep", "play", "clip"} for t in after):
                return number.value - 1
        if any(t.norm == "open" for t in tokens):
            return 0
    return None


def _fingerprint(analysis: Analysis, sentences: Sequence[int]) -> set[str]:
    found: set[str] = set()
    for k in sentences:
        found.update(f"{s.group}|{s.id}" for s in analysis.spans_in.get(k, ()) if s.group in FIELD_GROUPS)
        found.update(f"man|{m.jersey}" for m in analysis.mentions_in.get(k, ()) if m.jersey and not m.own)
        found.update(f"down|{s.down}|{s.distance}" for s in analysis.situations_in.get(k, ()))
        found.update(f"play|{u.number.value}" for u in analysis.numbers_in.get(k, ()) if u.use in {"play", "count"})
    return found


def sentence_features(analysis: Analysis) -> list[list[str]]:
    """The binary features of every sentence."""
    own = [_own_features(analysis, k) for k in range(len(analysis.text.sentences))]
    verdict_first = _verdict_first(analysis)
    out = []
    last_situation: tuple[int | None, int | None, bool] | None = None
    since_situation = 99
    for k, features in enumerate(own):
        names = set(features)
        for near, mark in ((k - 1, "-1"), (k + 1, "+1"), (k + 2, "+2")):
            if 0 <= near < len(own):
                names.update(f"{n}{mark}" for n in own[near] if n in _NEIGHBOUR)
        situations = analysis.situations_in.get(k, ())
        if situations:
            first = situations[0]
            key = (first.down, first.distance, first.goal_to_go)
            names.add("situation same" if key == last_situation else "situation new")
            last_situation = key
            since_situation = 0
        else:
            since_situation += 1
            names.add(f"since situation {min(since_situation, 12) // 3}")
        names.add(f"ahead {_content_ahead(analysis, k)}")
        names |= _joined(names)
        if k == 0:
            names.add("first sentence")
        left = len(own) - 1 - k
        if left < 4:
            names.add(f"left {left}")
        if verdict_first and "verdict only" in names:
            names.add("verdict first speaker")
            if "situation+1" in names or "situation+2" in names:
                names.add("verdict first, situation next")
        elif "verdict only" in names and "situation+1" in names:
            names.add("verdict then situation")
        out.append(sorted(names))
    return out


AHEAD = 8
"""Sentences looked ahead, up to the next pause, for something that makes a rep."""


def _content_ahead(analysis: Analysis, k: int) -> str:
    """How much of what makes a rep is said from sentence k to the next pause."""
    found = 0
    for j in range(k, min(k + AHEAD, len(analysis.text.sentences))):
        sentence = analysis.text.sentences[j]
        if j > k and (sentence.gap_s >= LONG_GAP_S or sentence.paragraph):
            break
        found += _content(analysis, j)
    return "nothing" if not found else "little" if found <= 2 else "much"


def _content(analysis: Analysis, k: int) -> int:
    """What a sentence holds that makes a rep: situation, plays and deeds, a defender, a verdict."""
    terms = sum(s.group in FIELD_GROUPS for s in analysis.spans_in.get(k, ()))
    people = sum(not m.own for m in analysis.mentions_in.get(k, ()))
    return 2 * len(analysis.situations_in.get(k, ())) + terms + people + len(analysis.cues(k, "verdict"))


def _joined(names: set[str]) -> set[str]:
    """Signs that mean more together than each by itself."""
    joined = set()
    situation = "situation" in names
    if "back reference" in names:
        joined.add(f"back reference, {'' if situation else 'no '}situation")
        joined.add(f"back reference, {'' if 'concept' in names else 'no '}concept")
        names.difference_update({n for n in names if n.startswith("opener") and not situation})
    for sign in ("gap", "opener", "teaching", "back reference"):
        if sign in names:
            joined |= {f"{sign}, {n}" for n in names if n.startswith("ahead ")}
    for sign in ("situation at front", "opener", "concept at front", "same rep", "teaching", "framing", "verdict only"):
        if sign in names:
            joined.add(f"{sign}, {'' if 'gap' in names else 'no '}gap")
            joined.add(f"{sign}, {'after' if 'verdict-1' in names or 'verdict only-1' in names else 'not after'} verdict")
    if not joined and "gap" in names:
        joined.add("gap, no sign")
    if "situation" in names and "situation-1" in names:
        joined.add("situation after situation")
    return joined


_NEIGHBOUR = frozenset(
    {"situation", "opener", "same rep", "back reference", "teaching", "framing", "verdict only", "verdict", "gap", "concept", "field terms", "no field terms", "question", "short"}
)


def _verdict_first(analysis: Analysis) -> bool:
    """Whether the speaker gives the grade before the situation: most verdict-only sentences stand
    right before one, and the first situation follows one."""
    before = after = 0
    for k in range(len(analysis.text.sentences)):
        if analysis.situations_in.get(k):
            before += k > 0 and _verdict_only(analysis, k - 1)
            after += 1
    first = next((k for k in range(len(analysis.text.sentences)) if analysis.situations_in.get(k)), None)
    return after > 2 and before / after > 0.6 and first is not None and first > 0 and _verdict_only(analysis, first - 1)


def _verdict_only(analysis: Analysis, k: int) -> bool:
    sentence = analysis.text.sentences[k]
    return sentence.last - sentence.first <= 8 and bool(analysis.cues(k, "verdict"))


def _own_features(analysis: Analysis, k: int) -> list[str]:
    sentence = analysis.text.sentences[k]
    tokens = analysis.text.tokens[sentence.first : sentence.last]
    spans = analysis.spans_in.get(k, ())
    names: list[str] = []
    groups = {s.group for s in spans}
    for group in ("opener", "same rep", "back reference", "teaching", "framing", "hypothetical", "opinion", "command"):
        hits = [s for s in spans if s.group == group]
        if hits:
            names.append(group)
            names.append(f"{group} {min(2, round(max(s.term.weight for s in hits)))}")
            if min(s.first for s in hits) - sentence.first <= 2:
                names.append(f"{group} at front")
            names += [f"command {s.id}" for s in hits if group == "command"]
    if analysis.situations_in.get(k):
        names.append("situation")
        at = analysis.situations_in[k][0].first - sentence.first
        names.append("situation at front" if at <= 3 else "situation later")
    uses = {u.use for u in analysis.numbers_in.get(k, ())}
    names += [f"number {u}" for u in ("play", "clock", "score", "yards") if u in uses]
    if any(u.number.ordinal and _next_norm(analysis, u.number.last) in {"quarter", "half"} for u in analysis.numbers_in.get(k, ())):
        names.append("quarter")
    people = analysis.mentions_in.get(k, ())
    names += [f"mention {'own' if m.own else m.how if m.how == 'same' else 'opp'}" for m in people]
    if "concepts" in groups:
        names.append("concept")
        if min(s.first for s in spans if s.group == "concepts") - sentence.first <= 3:
            names.append("concept at front")
    names += [g for g in ("set", "alignment", "phase", "side", "verdict", "praise", "blame", "play_result", "events") if g in groups]
    terms = sum(s.group in FIELD_GROUPS for s in spans)
    names.append("field terms" if terms else "no field terms")
    if terms >= 2:
        names.append("many terms")
    if _verdict_only(analysis, k):
        names.append("verdict only")
    if sentence.gap_s >= LONG_GAP_S:
        names.append("gap")
    if sentence.gap_s >= 1.5:
        names.append("long gap")
    if sentence.paragraph:
        names += ["paragraph", "gap"]
    if sentence.question:
        names.append("question")
    length = len(tokens)
    names.append("short" if length <= 4 else "middle" if length <= 14 else "long")
    texts = [t.text for t in tokens]
    names += [f"says {w}" for w in ("he", "you", "i", "we", "they", "his", "your") if w in texts]
    if texts and texts[0] in _FIRST_WORDS:
        names.append(f"first word {texts[0]}")
    return list(dict.fromkeys(names))


_FIRST_WORDS = frozenset("so and now then okay alright but look he you i that it the this last first next second third here let go hang wait oh yeah again".split())


def _next_norm(analysis: Analysis, at: int) -> str:
    return analysis.text.tokens[at].norm if at < len(analysis.text.tokens) else ""
