"""The binary signs of each sentence by which a note is cut into reps."""

from __future__ import annotations

from reviewer.language.analysis import Analysis
from reviewer.language.vocabulary import FIELD_GROUPS

LONG_GAP_S = 0.55
"""Seconds of silence that may part two reps."""


def sentence_features(analysis: Analysis) -> list[list[str]]:
    """The binary features of every sentence."""
    own = [_own_features(analysis, k) for k in range(len(analysis.text.sentences))]
    grade_first = verdict_first(analysis)
    out = []
    last_situation: tuple[int | None, int | None, bool] | None = None
    earlier: set[tuple[int | None, int | None, bool]] = set()
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
            if key in earlier and key != last_situation:
                names.add("situation of an earlier rep")
                led = next((n for n in names if n.startswith("situation led by")), "")
                names.add(f"situation of an earlier rep, {'led' if led else 'plain'}")
            earlier.add(key)
            last_situation = key
            since_situation = 0
        else:
            since_situation += 1
            names.add(f"since situation {min(since_situation, 12) // 3}")
        names.add(f"ahead {content_ahead(analysis, k)}")
        names |= _joined(names)
        if k == 0:
            names.add("first sentence")
        left = len(own) - 1 - k
        if left < 4:
            names.add(f"left {left}")
        if grade_first and "verdict only" in names:
            names.add("verdict first speaker")
            if "situation+1" in names or "situation+2" in names:
                names.add("verdict first, situation next")
        elif "verdict only" in names and "situation+1" in names:
            names.add("verdict then situation")
        out.append(sorted(names))
    return out


AHEAD = 8
"""Sentences looked ahead, up to the next pause, for something that makes a rep."""


def content_ahead(analysis: Analysis, k: int) -> str:
    """How much of what makes a rep is said from sentence k to the next pause."""
    found = 0
    for j in range(k, min(k + AHEAD, len(analysis.text.sentences))):
        sentence = analysis.text.sentences[j]
        if j > k and (sentence.gap_s >= LONG_GAP_S or sentence.paragraph):
            break
        found += content(analysis, j)
    return "nothing" if not found else "little" if found <= 2 else "much"


def content(analysis: Analysis, k: int) -> int:
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
    for sign in (
        "situation at front",
        "opener",
        "concept at front",
        "same rep",
        "teaching",
        "framing",
        "verdict only",
    ):
        if sign in names:
            joined.add(f"{sign}, {'' if 'gap' in names else 'no '}gap")
            joined.add(
                f"{sign}, {'after' if {'verdict-1', 'verdict only-1'} & names else 'not after'} verdict"
            )
    if not joined and "gap" in names:
        joined.add("gap, no sign")
    if "situation" in names and "situation-1" in names:
        joined.add("situation after situation")
    return joined


_NEIGHBOUR = frozenset(
    {
        "situation",
        "opener",
        "same rep",
        "back reference",
        "teaching",
        "framing",
        "verdict only",
        "verdict",
        "gap",
        "concept",
        "field terms",
        "no field terms",
        "question",
        "short",
    }
)


def verdict_first(analysis: Analysis) -> bool:
    """Whether the speaker gives the grade before the situation: most verdict-only sentences stand
    right before one, and the first situation follows one."""
    before = after = 0
    for k in range(len(analysis.text.sentences)):
        if analysis.situations_in.get(k):
            before += k > 0 and verdict_only(analysis, k - 1)
            after += 1
    first = next((k for k in range(len(analysis.text.sentences)) if analysis.situations_in.get(k)), None)
    return (
        after > 2
        and before / after > 0.6
        and first is not None
        and first > 0
        and verdict_only(analysis, first - 1)
    )


def verdict_only(analysis: Analysis, k: int) -> bool:
    sentence = analysis.text.sentences[k]
    return sentence.last - sentence.first <= 8 and bool(analysis.cues(k, "verdict"))


def _own_features(analysis: Analysis, k: int) -> list[str]:
    sentence = analysis.text.sentences[k]
    tokens = analysis.text.tokens[sentence.first : sentence.last]
    spans = analysis.spans_in.get(k, ())
    names: list[str] = []
    groups = {s.group for s in spans}
    for group in (
        "opener",
        "same rep",
        "back reference",
        "teaching",
        "framing",
        "hypothetical",
        "opinion",
        "command",
    ):
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
        lead = tokens[at - 1].text if at > 0 else ""
        if lead in _LEADS_BACK:
            names += ["situation led", f"situation led by {lead}"]
    uses = {u.use for u in analysis.numbers_in.get(k, ())}
    names += [f"number {u}" for u in ("play", "clock", "score", "yards") if u in uses]
    if any(
        u.number.ordinal and _next_norm(analysis, u.number.last) in {"quarter", "half"}
        for u in analysis.numbers_in.get(k, ())
    ):
        names.append("quarter")
    people = analysis.mentions_in.get(k, ())
    names += [f"mention {'own' if m.own else m.how if m.how == 'same' else 'opp'}" for m in people]
    if "concepts" in groups:
        names.append("concept")
        if min(s.first for s in spans if s.group == "concepts") - sentence.first <= 3:
            names.append("concept at front")
    names += [
        g
        for g in ("set", "alignment", "phase", "side", "verdict", "praise", "blame", "play_result", "events")
        if g in groups
    ]
    terms = sum(s.group in FIELD_GROUPS for s in spans)
    names.append("field terms" if terms else "no field terms")
    if terms >= 2:
        names.append("many terms")
    if verdict_only(analysis, k):
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


_LEADS_BACK = frozenset(["the", "that", "on", "this", "a", "with", "from", "of", "in"])
"""Words right before a down by which it belongs to a rep told before ("that second and ten")."""

_FIRST_WORDS = frozenset(
    [
        "so",
        "and",
        "now",
        "then",
        "okay",
        "alright",
        "but",
        "look",
        "he",
        "you",
        "i",
        "that",
        "it",
        "the",
        "this",
        "last",
        "first",
        "next",
        "second",
        "third",
        "here",
        "let",
        "go",
        "hang",
        "wait",
        "oh",
        "yeah",
        "again",
    ]
)


def _next_norm(analysis: Analysis, at: int) -> str:
    return analysis.text.tokens[at].norm if at < len(analysis.text.tokens) else ""
