"""The speaker takes back what he said: "ninety-four, no, ninety-five", "scratch that"."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from reviewer.language.figures import NumberUse, Situation, figure_words
from reviewer.language.tokens import Token


def correction_between(tokens: Sequence[Token], first: int, last: int) -> bool:
    """Whether the tokens first..last (exclusive) only take back what stood before."""
    if not 0 < last - first <= 7:
        return False
    marks = figure_words()["correction"]["marks"]
    at, marked = first, False
    while at < last:
        length = next(
            (
                len(p)
                for p in marks
                if at + len(p) <= last and all(tokens[at + k].text == w for k, w in enumerate(p))
            ),
            0,
        )
        if length:
            marked = True
            at += length
        elif tokens[at].text in _FILLER:
            at += 1
        else:
            return False
    return marked


_FILLER = frozenset(
    [
        "it",
        "'s",
        "its",
        "is",
        "that",
        "was",
        "he",
        "be",
        "number",
        "a",
        "the",
        "of",
        "um",
        "uh",
        "er",
        "ah",
        "oh",
        "i",
        "well",
        "make",
        "say",
        "let",
        "me",
        "so",
        "jersey",
        "yes",
        "yeah",
        "on",
        "see",
        "my",
        "eyes",
        "what",
        "am",
        "saying",
        "look",
        "at",
        "mean",
        "there",
        "no",
        "bad",
        "this",
        "again",
        "guess",
        "them",
        "or",
        "they",
    ]
)


def withdraw(
    tokens: Sequence[Token], uses: Sequence[NumberUse], sides: Mapping[str, str] | None = None
) -> list[NumberUse]:
    """Mark the first of "ninety-four, no, ninety-five" as withdrawn, and give the second its use.

    sides: "own" or "opp" by jersey, as far as known. "Sixty-nine, no. Ninety-two swims him": a judged
    man of ours is not taken back for a defender whom a new sentence names.
    """
    out = list(uses)
    for k in range(1, len(out)):
        this, following = out[k - 1], out[k]
        between = (this.number.last, following.number.first)
        if (
            not correction_between(tokens, *between)
            or _not_only(tokens, *between)
            or _other_side(tokens, this, following, sides or {})
        ):
            _withdraw_restarted(tokens, out, k)
            continue
        if this.use != following.use and following.use == "jersey":
            _withdraw_restarted(tokens, out, k)
        elif this.use == following.use or following.use in {"other", "maybe jersey"} or this.use == "jersey":
            out[k - 1] = replace(this, withdrawn=True)
            if following.use in {"other", "maybe jersey"} and this.use == "jersey":
                out[k] = replace(following, use="jersey")
    return out


def _other_side(
    tokens: Sequence[Token], this: NumberUse, following: NumberUse, sides: Mapping[str, str]
) -> bool:
    """Whether a new sentence names a man of the other side."""
    one, two = sides.get(this.number.digits), sides.get(following.number.digits)
    apart = tokens[this.number.first].sentence != tokens[following.number.first].sentence
    return apart and one is not None and two is not None and one != two


def _withdraw_restarted(tokens: Sequence[Token], out: list[NumberUse], k: int) -> None:
    """A sentence that begins by taking back and naming a jersey takes back the jersey before it."""
    following = out[k]
    before = next((j for j in range(k - 1, -1, -1) if out[j].use == "jersey"), None)
    if following.use != "jersey" or before is None or out[before].number.digits == following.number.digits:
        return
    if _restarted(tokens, out[before].number.last, following.number.first):
        out[before] = replace(out[before], withdrawn=True)


def _restarted(tokens: Sequence[Token], first: int, last: int) -> bool:
    """ "... in a wide nine. No, hang on. Fifty-two.": a new sentence takes the number back."""
    if last - first > 16:
        return False
    starts = [k for k in range(first + 1, last) if tokens[k].sentence != tokens[k - 1].sentence]
    return any(correction_between(tokens, k, last) for k in starts)


def _not_only(tokens: Sequence[Token], first: int, last: int) -> bool:
    """ "ninety-four, not ninety-five": here the second is denied, not the first."""
    between = [t.text for t in tokens[first:last]]
    return between == ["not"] or between == ["and", "not"]


def withdraw_situations(tokens: Sequence[Token], situations: Sequence[Situation]) -> list[Situation]:
    """Drop a situation that is taken back by the next one."""
    return [
        s
        for k, s in enumerate(situations)
        if not (k + 1 < len(situations) and correction_between(tokens, s.last, situations[k + 1].first))
    ]
