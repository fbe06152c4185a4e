"""Cut a note into reps: each sentence begins a rep, goes on with it, looks back, or is no rep.

The labels are decided together over the whole note (see `chain`). B begins a rep, I goes on with
the rep before, A is a remark back to an earlier rep, O is talk that belongs to no rep.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reviewer.language.analysis import Analysis
from reviewer.language.chain import Chain
from reviewer.language.judge import load_weights
from reviewer.language.split_features import (
    LONG_GAP_S,
    content,
    sentence_features,
    verdict_first,
    verdict_only,
)
from reviewer.language.tokens import Sentence
from reviewer.language.vocabulary import FIELD_GROUPS

LABELS = ("B", "I", "A", "O")


@dataclass(frozen=True)
class Cut:
    """Sentences of one rep in spoken order; `back` are those of later remarks on it.

    confidence: how sure its beginning is, 0..1.
    """

    sentences: tuple[int, ...]
    back: tuple[int, ...] = ()
    confidence: float = 1.0


def sentence_chain() -> Chain:
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
    told, kept = _without_idle_talk(analysis)
    found, marginals = sentence_chain().decode(sentence_features(told))
    labels = ["O"] * len(analysis.text.sentences)
    begins = np.zeros(len(labels))
    for place, k in enumerate(kept):
        labels[k], begins[k] = found[place], marginals[place, 0]
    labels = _close_empty(analysis, _grade_first(analysis, labels))
    return build_cuts(analysis, labels, begins)


def _without_idle_talk(analysis: Analysis) -> tuple[Analysis, list[int]]:
    """The note without its talk of other things, so that this changes nothing around it, and the
    sentences that are left, by their places in the note."""
    sentences = analysis.text.sentences
    idle: set[int] = set()
    k = 0
    while k < len(sentences):
        last = _stretch_end(analysis, k)
        if k > 0 and last < len(sentences) and _idle(analysis, k, last):
            idle.update(range(k, last))
        k = last
    kept = [k for k in range(len(sentences)) if k not in idle]
    if not idle:
        return analysis, kept
    told = replace(
        analysis,
        text=replace(
            analysis.text,
            sentences=tuple(
                replace(sentences[k], index=place, gap_s=_gap(sentences, k, idle))
                for place, k in enumerate(kept)
            ),
        ),
        spans_in={place: analysis.spans_in.get(k, ()) for place, k in enumerate(kept)},
        mentions_in={place: analysis.mentions_in.get(k, ()) for place, k in enumerate(kept)},
        situations_in={place: analysis.situations_in.get(k, ()) for place, k in enumerate(kept)},
        numbers_in={place: analysis.numbers_in.get(k, ()) for place, k in enumerate(kept)},
    )
    return told, kept


def _gap(sentences: Sequence[Sentence], k: int, idle: Collection[int]) -> float:
    """Seconds of silence before a sentence, those around the idle talk before it included."""
    gap = sentences[k].gap_s
    while k and k - 1 in idle:
        k -= 1
        gap += sentences[k].gap_s
    return gap


def _idle(analysis: Analysis, first: int, last: int) -> bool:
    """Whether a stretch between two pauses is of nothing that a rep is made of, and of no man."""
    if any(content(analysis, k) or analysis.mentions_in.get(k) for k in range(first, last)):
        return False
    groups = {s.group for k in range(first, last) for s in analysis.spans_in.get(k, ())}
    if groups & {"praise", "same rep", "command", "framing", "play_result", "phase", "side"}:
        return False
    a, b = analysis.text.sentences[first].first, analysis.text.sentences[last - 1].last
    words = {t.text for t in analysis.text.tokens[a:b]}
    if words & {"he", "him", "his", "they", "them"}:
        return False
    return b - a > 5 and ("teaching" in groups or not words & {"you", "your", "i", "my", "me", "we"})


def _grade_first(analysis: Analysis, labels: list[str]) -> list[str]:
    """Where the speaker gives the grade before the situation, a rep begins with its grade."""
    if not verdict_first(analysis):
        return labels
    out = list(labels)
    for k, label in enumerate(labels):
        if label != "B" or verdict_only(analysis, k):
            continue
        for back in (1, 2):
            if k - back >= 0 and verdict_only(analysis, k - back) and labels[k - back] != "B":
                if back == 2 and analysis.situations_in.get(k - 1):
                    break
                out[k - back : k + 1] = ["B", *["I"] * back]
                break
    return out


def _close_empty(analysis: Analysis, labels: list[str]) -> list[str]:
    """Talk between two pauses that holds nothing of a rep begins none, unless it says so ("next one")."""
    out = list(labels)
    for k in range(len(labels)):
        if (
            k
            and analysis.text.sentences[k].gap_s < LONG_GAP_S
            and not analysis.text.sentences[k].paragraph
            and labels[k] != "B"
        ):
            continue
        last = _stretch_end(analysis, k)
        if any(content(analysis, j) for j in range(k, last)):
            continue
        said = {c.group for j in range(k, last) for c in analysis.spans_in.get(j, ()) if c.term.weight >= 1}
        label = labels[k]
        if (
            (label == "B" and last < len(labels) and "opener" not in said)
            or (label == "A" and "back reference" not in said)
            or (
                label == "I"
                and "same rep" not in said
                and last - k > 1
                and not _about_a_man(analysis, k, last)
            )
        ):
            out[k:last] = ["O" if x == label or x == "I" else x for x in out[k:last]]
    return out


def _about_a_man(analysis: Analysis, first: int, last: int) -> bool:
    """Whether sentences first..last (exclusive) speak of anybody who can be the man under review."""
    a, b = analysis.text.sentences[first].first, analysis.text.sentences[last - 1].last
    if any(analysis.mentions_in.get(k) for k in range(first, last)):
        return True
    return any(
        t.text in {"he", "him", "his", "you", "your", "i", "my", "me", "they"}
        for t in analysis.text.tokens[a:b]
    )


def _stretch_end(analysis: Analysis, k: int) -> int:
    """The first sentence after k that a pause stands before."""
    sentences = analysis.text.sentences
    j = k + 1
    while j < len(sentences) and sentences[j].gap_s < LONG_GAP_S and not sentences[j].paragraph:
        j += 1
    return j


def build_cuts(
    analysis: Analysis, labels: Sequence[str], sure: Sequence[float] | NDArray[np.float64]
) -> list[Cut]:
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
    return [c for c in cuts if sum(content(analysis, k) for k in c.sentences)]


def _looked_back_at(
    analysis: Analysis, sentences: Sequence[int], reps: Sequence[Sequence[int]]
) -> int | None:
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
    """ "that first one", "the second snap": the rep's place, from 0; an "opening" one is 0."""
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
        found.update(
            f"play|{u.number.value}" for u in analysis.numbers_in.get(k, ()) if u.use in {"play", "count"}
        )
    return found
