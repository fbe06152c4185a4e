"""What each spoken number counts: jersey, down, distance, play, yards, alignment, clock, count.

Reads the tokens once; downs and distances first, since they claim their numbers for sure.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from reviewer.language.corrections import withdraw, withdraw_situations
from reviewer.language.figures import Figures, NumberUse, Situation, Use, figure_words
from reviewer.language.numbers import Number, read_numbers
from reviewer.language.tokens import Token, TokenText
from reviewer.records import NoteContext


def _before(tokens: Sequence[Token], at: int, phrases: Sequence[tuple[str, ...]]) -> int:
    """Length of the longest phrase that ends directly before token `at`, in its sentence; else 0."""
    for phrase in phrases:
        start = at - len(phrase)
        if start < 0 or (at < len(tokens) and tokens[start].sentence != tokens[at].sentence):
            continue
        if all(tokens[start + k].text == word for k, word in enumerate(phrase)):
            return len(phrase)
    return 0


def _after(tokens: Sequence[Token], at: int, phrases: Sequence[tuple[str, ...]]) -> int:
    """Length of the longest phrase that begins at token `at`, same sentence as the token before."""
    for phrase in phrases:
        if at + len(phrase) > len(tokens):
            continue
        if at and tokens[at].sentence != tokens[at - 1].sentence:
            continue
        if all(tokens[at + k].text == word for k, word in enumerate(phrase)):
            return len(phrase)
    return 0


def read_figures(text: TokenText, context: NoteContext) -> Figures:
    """Find the numbers of a note and tell what each one counts."""
    tokens = text.tokens
    numbers = read_numbers(tokens)
    by_first = {n.first: n for n in numbers}
    situations: list[Situation] = []
    taken: set[int] = set()
    for number in numbers:
        if number.first in taken:
            continue
        found = _situation_at(tokens, number, by_first)
        if found:
            situations.append(found)
            taken.update(range(found.first, found.last))
    roster = {entry.jersey for entry in context.roster}
    uses = [
        NumberUse(n, _use(tokens, n, roster))
        for n in _unfold(numbers, taken, by_first, situations)
        if n.first not in taken
    ]
    sides: dict[str, str] = {}
    for entry in context.roster:
        # a number that both teams have tells no side
        sides[entry.jersey] = entry.side if sides.get(entry.jersey, entry.side) == entry.side else "both"
    return Figures(withdraw(tokens, _clocks(tokens, uses), sides), withdraw_situations(tokens, situations))


def _clocks(tokens: Sequence[Token], uses: Sequence[NumberUse]) -> list[NumberUse]:
    """ "fourteen fifty-one" and "nine oh three": minutes and seconds of the clock."""
    out = list(uses)
    for k in range(len(out) - 1):
        minutes, seconds = out[k].number, out[k + 1].number
        touching = (
            minutes.last == seconds.first and _same(tokens, seconds.first) and not tokens[seconds.first].comma
        )
        if (
            (
                touching
                and minutes.value <= 15
                and seconds.value < 60
                and len(seconds.digits) == 2
                and not minutes.ordinal
            )
            and not seconds.ordinal
            and out[k].use not in {"play", "yards", "score"}
        ):
            out[k], out[k + 1] = replace(out[k], use="clock"), replace(out[k + 1], use="clock")
    return out


def _unfold(
    numbers: Sequence[Number],
    taken: set[int],
    by_first: Mapping[int, Number],
    situations: Sequence[Situation],
) -> list[Number]:
    """The numbers left when situations have claimed theirs."""
    return [n for n in numbers if not any(s.first <= n.first < s.last for s in situations)]


def _situation_at(
    tokens: Sequence[Token], number: Number, by_first: Mapping[int, Number]
) -> Situation | None:
    """The down and distance whose down is said at `number`, if it is one."""
    cues = figure_words()
    if not number.ordinal or not 1 <= number.value <= 4:
        return None
    at = number.last
    said_down = at < len(tokens) and tokens[at].text in {"down", "downs"} and _same(tokens, at)
    if said_down:
        at += 1
        if number.value == 1 and _before(tokens, number.first, cues["down_context"]["line_to_gain_before"]):
            joined = at < len(tokens) and tokens[at].text in {"and", "at", "from"} and _same(tokens, at)
            if not joined:
                return None
    joined = (
        at < len(tokens)
        and tokens[at].text in {"and", "an", "in", "&", "'n", "n", "with"}
        and _same(tokens, at)
    )
    if joined:
        distance = _distance_at(tokens, at + 1, by_first)
        if distance and not (tokens[at].text in {"in", "with"} and not distance[1] and not distance[2]):
            last, yards, goal = distance
            return Situation(number.first, last, number.value, yards, goal, True)
    elif at < len(tokens) and _same(tokens, at):
        length = _after(tokens, at, cues["distance_word"]["unknown"][:4] + cues["distance_word"]["goal"])
        if length and not said_down and tokens[at].text in {"long", "short", "goal", "medium"}:
            return Situation(number.first, at + length, number.value, None, tokens[at].text == "goal", True)
        direct = by_first.get(at)
        if (
            direct
            and not direct.ordinal
            and not direct.spelled
            and direct.value <= 30
            and tokens[at].comma
            and said_down
        ):
            following = at + (direct.last - direct.first)
            if following < len(tokens) and tokens[following].text in {"to", "yards", "yard"}:
                return Situation(number.first, following, number.value, direct.value, False, True)
    if said_down:
        return Situation(number.first, at, number.value)
    return None


def _same(tokens: Sequence[Token], at: int) -> bool:
    return 0 < at < len(tokens) and tokens[at].sentence == tokens[at - 1].sentence


def _distance_at(
    tokens: Sequence[Token], at: int, by_first: Mapping[int, Number]
) -> tuple[int, int | None, bool] | None:
    """(end, yards or None, goal) of the distance that begins at token `at`."""
    cues = figure_words()["distance_word"]
    if not _same(tokens, at):
        return None
    length = _after(tokens, at, cues["goal"])
    if length:
        return at + length, None, True
    length = _after(tokens, at, cues["one"])
    if length:
        return at + length, 1, False
    skip = at
    while _same(tokens, skip) and tokens[skip].text in {
        "a",
        "about",
        "long",
        "short",
        "full",
        "maybe",
        "like",
        "another",
        "the",
    }:
        skip += 1
    number = by_first.get(skip)
    if number and not number.ordinal and not number.plural:
        if number.spelled and len(number.digits) == 2 and number.digits[0] != "0" and number.value > 30:
            # "third and seven six" cannot be: the first digit is the distance
            return skip + 1, int(number.digits[0]), False
        if number.value > 45:
            return None
        end = number.last
        if _same(tokens, end) and tokens[end].text in {"yards", "yard"}:
            end += 1
        return end, number.value, False
    length = _after(tokens, at, cues["unknown"])
    if length:
        return at + length, None, False
    return None


def _use(tokens: Sequence[Token], number: Number, roster: set[str]) -> Use:
    """What a number that is no down or distance counts."""
    cues = figure_words()
    before, after = cues["number_before"], cues["number_after"]
    first, last = number.first, number.last
    if number.ordinal or number.plural or (number.value == 50 and _said_twice(tokens, number)):
        return "other"
    if number.value <= 2 and _after(tokens, last, after["one_on_one"]):
        return "other"
    if _before(tokens, first, before["jersey"]) and not _before(
        tokens, first, before["play"] + before["count"]
    ):
        return "jersey" if number.value < 100 else "other"
    if _before(tokens, first, before["play"]):
        return "play"
    if _after(tokens, last, after["yards"]):
        return "yards"
    if number.value == 45 and (
        _after(tokens, last, after["degrees"]) or number.digits not in roster or _of_a_set(tokens, first)
    ):
        return "degrees"
    if number.value <= 9 and _is_alignment(tokens, number):
        return "alignment"
    if _after(tokens, last, after["clock"]):
        return "clock"
    if number.value <= 20 and _after(tokens, last, after["count"]):
        return "count"
    if number.value <= 30 and _before(tokens, first, before["yards"]) and number.digits not in roster:
        return "yards"
    if _before(tokens, first, before["count"]):
        return "count"
    likely = number.value >= 50 or number.digits in roster
    if number.value <= 50 and _before(tokens, first, before["yardline"]) and number.digits not in roster:
        return "yardline"
    if number.value < 50 and _before(tokens, first, before["score"]) and number.digits not in roster:
        return "score"
    if 10 <= number.value < 100 and likely:
        return "jersey"
    if number.value < 10 and number.digits in roster and number.digits[0] == "0":
        return "jersey"
    if number.digits in roster and len(number.digits) <= 2:
        return "maybe jersey"
    return "other"


def _said_twice(tokens: Sequence[Token], number: Number) -> bool:
    """ "fifty fifty" is a share, no jersey."""
    around = (number.first - 1, number.last)
    return any(
        0 <= k < len(tokens) and tokens[k].text == tokens[number.first].text and _near(tokens, k, number)
        for k in around
    )


def _near(tokens: Sequence[Token], k: int, number: Number) -> bool:
    return tokens[k].sentence == tokens[number.first].sentence


def _of_a_set(tokens: Sequence[Token], at: int) -> bool:
    """ "angle set, forty-five": the number says how he set."""
    return any(
        t.text in {"set", "sets", "angle", "a"} and t.sentence == tokens[at].sentence
        for t in tokens[max(0, at - 2) : at]
    )


def _is_alignment(tokens: Sequence[Token], number: Number) -> bool:
    cues = figure_words()
    if _after(tokens, number.last, cues["number_after"]["alignment"]):
        return True
    return (
        number.value in {5, 9} and _before(tokens, number.first, cues["number_before"]["alignment_wide"]) > 0
    )


__all__ = ["Figures", "NumberUse", "Situation", "read_figures"]
