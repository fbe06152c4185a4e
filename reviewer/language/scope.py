"""What the words around a term do to it: deny it, wish it, ask it, quote it, take it back."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from reviewer.language.analysis import Analysis
from reviewer.language.corrections import correction_between
from reviewer.language.figures import figure_words
from reviewer.language.tag import TermSpan
from reviewer.language.tokens import Token, base_form
from reviewer.language.vocabulary import word_classes

DIRECT = 3
"""Tokens before a deed in which a "never" or a "should have" undoes it for sure."""
NEGATION_REACH = 4
"""Tokens before a term in which a negation still denies it."""


@lru_cache(maxsize=1)
def _no_words() -> frozenset[str]:
    return frozenset(base_form(w) for w in word_classes()["no"])


_BREAKS = frozenset(["but", "except", "although", "though", "and", "so", "because", "then"])


def negated(analysis: Analysis, span: TermSpan) -> bool:
    """Whether a negation before the span, in its clause, denies it."""
    tokens = analysis.text.tokens
    clause = tokens[span.first].clause
    at = span.first - 1
    steps = 0
    while at >= 0 and tokens[at].clause == clause and steps < NEGATION_REACH:
        token = tokens[at]
        if token.text in _BREAKS:
            return False
        if token.norm in _no_words() and not _idle_negation(tokens, at):
            return True
        at -= 1
        steps += 1
    return False


def _idle_negation(tokens: Sequence[Token], at: int) -> bool:
    """ "not only", "no doubt", "no, he reaches him": a negation that denies nothing after it."""
    following = tokens[at + 1].text if at + 1 < len(tokens) else ""
    if following in {"only", "doubt", "question", "just", "wait", "problem"}:
        return True
    return tokens[at].text == "no" and at + 1 < len(tokens) and tokens[at + 1].comma


def not_done(analysis: Analysis, span: TermSpan) -> bool:
    """Whether the words right before say that the deed was not done: "never punches", "should have
    climbed"."""
    tokens = analysis.text.tokens
    near = [
        t for t in tokens[max(0, span.first - DIRECT) : span.first] if t.clause == tokens[span.first].clause
    ]
    if any(t.norm in _no_words() and t.text != "no" for t in near[-2:]) and negated(analysis, span):
        return True
    return any(
        cue.id == "missed"
        and tokens[cue.first].text in {"should", "ought", "could", "would"}
        and span.first - cue.last <= DIRECT
        for cue in analysis.cues(span.sentence, "hypothetical")
        if cue.last <= span.first
    )


def hypothetical(analysis: Analysis, span: TermSpan) -> bool:
    """Whether the span tells what should have been ("should have", "if he had")."""
    tokens = analysis.text.tokens
    for cue in analysis.cues(span.sentence, "hypothetical"):
        if cue.last <= span.first and span.first - cue.first <= 12:
            between = [t.text for t in tokens[cue.last : span.first]]
            if "but" not in between:
                return True
    return False


def quoted(analysis: Analysis, span: TermSpan) -> bool:
    """Whether the span reports somebody else's opinion."""
    return any(cue.first <= span.first for cue in analysis.cues(span.sentence, "opinion"))


def asked(analysis: Analysis, span: TermSpan) -> bool:
    """Whether the span stands in a question."""
    return analysis.text.sentences[span.sentence].question


def withdrawn(analysis: Analysis, span: TermSpan, same_group: Sequence[TermSpan]) -> bool:
    """Whether the speaker took the span back for a later one of its group ("Power. No. Duo.")."""
    tokens = analysis.text.tokens
    for other in same_group:
        if other.first < span.last or other.id == span.id:
            continue
        if correction_between(tokens, span.last, other.first):
            between = [t.text for t in tokens[span.last : other.first]]
            return between not in (["not"], ["and", "not"])
        if other.first - span.last > 10:
            break
    return False


def verdict_withdrawn(analysis: Analysis, span: TermSpan) -> bool:
    """Whether a verdict was taken back for another one ("loss, no, scratch that, win", "I had a minus,
    cross it out, plus")."""
    tokens = analysis.text.tokens
    last = min(span.sentence + 3, len(analysis.text.sentences))
    later = [
        s
        for k in range(span.sentence, last)
        for s in analysis.cues(k, "verdict")
        if s.first >= span.last and s.id != span.id
    ]
    if not later:
        return False
    between = [t.text for t in tokens[span.last : later[0].first]]
    if correction_between(tokens, span.last, later[0].first):
        return between not in (["not"], ["and", "not"])
    said = f" {' '.join(between)} "
    return any(f" {' '.join(phrase)} " in said for phrase in figure_words()["correction"]["of_verdict"])


def faked(analysis: Analysis, span: TermSpan) -> bool:
    """Whether a run is only shown ("fake the stretch", "off that inside zone look")."""
    tokens = analysis.text.tokens
    near = tokens[max(0, span.first - 4) : span.first]
    after = tokens[span.last : span.last + 2]
    clause_before = [t.norm for t in near if t.sentence == span.sentence]
    return any(n in {"fake", "off", "sell", "show", "look"} for n in clause_before) or any(
        t.norm in {"fake", "look", "action"} and t.sentence == span.sentence for t in after
    )
