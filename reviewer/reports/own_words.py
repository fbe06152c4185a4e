"""A man's own words: the part of a rep's talk that is about him, where several men are graded on it.

The talk is cut at the ends of sentences and, inside one, where the words that carry one man's values
give way to another's. Words that carry what all men share (the situation, the play), or nothing, go
with everybody or with the words before them. Nothing is guessed: a part that cannot be told is his too.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from reviewer.records import GradeRow, Word

OF_THE_PLAY = frozenset({"down", "distance", "goal_to_go", "phase", "concepts", "play_result"})
"""Fields that are the play's, not a man's."""

GAP = "…"
"""Stands where words about other men are left out."""

SLACK_S = 0.02
"""Rounded times may miss the words they are about by so much."""

Men = frozenset[int]

PLAY: Men = frozenset()
"""Whose words are that carry what is the play's: nobody's alone."""


def own_words(
    words: Sequence[Word], stretches: Sequence[tuple[int, int]], rows: Mapping[int, GradeRow]
) -> dict[int, str]:
    """What was said of each row of one rep, by the key of `rows`.

    stretches: (first, last) indices into words, last exclusive. A rep of one row has all the words; so
    has a row of which no word can be told.
    """
    everybody: Men = frozenset(rows)
    carried = _carried(words, stretches, rows)
    pieces: list[tuple[Sequence[int], Men]] = []
    for sentence in _sentences(words, stretches):
        for piece, men in _by_men(words, sentence, carried):
            before = pieces[-1][1] if pieces else everybody
            pieces.append((piece, before if men is None else men or everybody))
    found = {row: _joined(words, [piece if row in men else () for piece, men in pieces]) for row in rows}
    told = {row for row in rows if any(row in men for men in carried.values())}
    whole = _joined(words, [piece for piece, _ in pieces])
    return {row: text if row in told else whole for row, text in found.items()}


def _carried(
    words: Sequence[Word], stretches: Sequence[tuple[int, int]], rows: Mapping[int, GradeRow]
) -> dict[int, Men]:
    """Word index to the men whose values it carries; PLAY where only the play's."""
    carried: dict[int, Men] = {}
    indices = [index for first, last in stretches for index in range(first, last)]
    for row, grade in rows.items():
        for field, places in grade.evidence.items():
            men = PLAY if field in OF_THE_PLAY else frozenset({row})
            for place in places:
                said = (index for index in indices if _inside(words[index], place.start, place.end))
                carried |= {index: carried.get(index, PLAY) | men for index in said}
    return carried


def _inside(word: Word, start: float, end: float) -> bool:
    return start - SLACK_S <= word.start and word.end <= end + SLACK_S


def _sentences(words: Sequence[Word], stretches: Sequence[tuple[int, int]]) -> Iterator[list[int]]:
    """The words of the stretches, sentence by sentence; a stretch ends one too."""
    for first, last in stretches:
        sentence: list[int] = []
        for index in range(first, last):
            sentence.append(index)
            if words[index].text.rstrip("\"')”’").endswith((".", "?", "!")):
                yield sentence
                sentence = []
        if sentence:
            yield sentence


def _by_men(
    words: Sequence[Word], sentence: Sequence[int], carried: Mapping[int, Men]
) -> Iterator[tuple[Sequence[int], Men | None]]:
    """A sentence cut where it goes over from one man to another; None: it does not say of whom it is."""
    said_of = [carried[index] for index in sentence if index in carried]
    if any(len(men) > 1 for men in said_of):
        # a value of several men: who takes one man's words out takes half of what was said
        yield sentence, frozenset().union(*said_of)
        return
    begin, last = 0, 0
    current: Men | None = None
    for place, index in enumerate(sentence):
        men = carried.get(index)
        if men is None:
            continue
        if current is None:
            current = men
        elif men not in (current, PLAY):
            cut = _seam(words, sentence, last + 1, place)
            yield sentence[begin:cut], current
            begin, current = cut, men
        last = place
    yield sentence[begin:], current


def _seam(words: Sequence[Word], sentence: Sequence[int], first: int, last: int) -> int:
    """Where to cut between the last word of one man and the first of the next: after a comma there,
    else right before the next man's."""
    commas = [
        place + 1 for place in range(first - 1, last) if words[sentence[place]].text.endswith((",", ";"))
    ]
    return commas[-1] if commas else last


def _joined(words: Sequence[Word], pieces: Sequence[Sequence[int]]) -> str:
    """The pieces as one line; an empty one is a gap."""
    parts: list[str] = []
    for piece in pieces:
        text = " ".join(said for index in piece if (said := words[index].text.strip()))
        if text:
            parts.append(text)
        elif parts and parts[-1] != GAP:
            parts.append(GAP)
    while parts and parts[-1] == GAP:
        parts.pop()
    return " ".join(parts)
