"""Search from the review: what is typed, the filters beside it, the places found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from reviewer import store
from reviewer.errors import ReviewerError
from reviewer.review.canvas import Line, Span, fitted, padded
from reviewer.review.plain import clock, count, plain
from reviewer.review.slots import BY_ID, value_words
from reviewer.store import Hit, Library

if TYPE_CHECKING:
    from reviewer.language.vocabulary import Vocabulary
    from reviewer.reports.lexicon import Lexicon

MOST = 60
"""So many places are shown; more words narrow them."""

FILTERS: tuple[tuple[str, str, str], ...] = (
    ("f2", "verdict", "verdict"),
    ("f3", "down", "down"),
    ("f4", "player", "player"),
    ("f5", "opponent", "against"),
    ("f6", "opponent_team", "team"),
)
"""Key, name in the search and label of each filter that a key goes through."""

ANY = "any"


@dataclass
class Finder:
    """A search in use. chosen: filter name to value. hits: the places found, newest first."""

    library: Library
    vocabulary: Vocabulary
    typed: str = ""
    chosen: dict[str, str] = field(default_factory=dict)
    hits: list[Hit] = field(default_factory=list)
    index: int = 0
    remark: str = ""
    _lexicon: Lexicon | None = None

    def look(self, typed: str | None = None) -> None:
        """Search anew for what is typed and chosen. What cannot be understood becomes the remark."""
        from reviewer.reports.finding import find, read_search

        if typed is not None:
            self.typed = typed
        self.index = 0
        given: dict[str, Any] = {name: int(v) if name == "down" else v for name, v in self.chosen.items()}
        if not self.typed.strip() and not given:
            self.hits, self.remark = [], "Type words, a term, or a filter such as player:76 or verdict:loss."
            return
        try:
            asked = read_search(self.library, self.typed, self._known(), MOST, **given)
            self.hits = find(self.library, asked)
        except ReviewerError as problem:
            self.hits, self.remark = [], str(problem)
            return
        found = count(len(self.hits), "place") if self.hits else "Nothing found; use fewer words or filters."
        more = " or more" if len(self.hits) >= MOST else ""
        self.remark = " ".join((f"{found}{more}", *asked.remarks))

    def _known(self) -> Lexicon:
        from reviewer.reports.lexicon import build_lexicon

        if self._lexicon is None:
            self._lexicon = build_lexicon(self.vocabulary.terms)
        return self._lexicon

    def cycle(self, name: str) -> None:
        """Give a filter its next value: any, then those that occur, the most frequent first."""
        values = [ANY, *_in_order(name, [value for value, _ in store.known_values(self.library, name)])]
        now = self.chosen.get(name, ANY)
        place = (values.index(now) + 1) % len(values) if now in values else 0
        if values[place] == ANY:
            self.chosen.pop(name, None)
        else:
            self.chosen[name] = values[place]
        self.look()

    def move(self, by: int) -> None:
        """Mark another place; it stops at both ends."""
        self.index = max(0, min(len(self.hits) - 1, self.index + by))

    @property
    def marked(self) -> Hit | None:
        """The place under the cursor."""
        return self.hits[self.index] if self.index < len(self.hits) else None


def _in_order(name: str, values: list[str]) -> list[str]:
    return sorted(values) if name == "down" else values[:30]


def filter_line(finder: Finder, width: int) -> Line:
    """The filters with their keys; a click goes to the next value."""
    line: list[Span] = []
    for key, name, label in FILTERS:
        tag = ("filter", name)
        value = finder.chosen.get(name, ANY)
        shown = value_words(BY_ID["verdict"], value) if name == "verdict" and value != ANY else plain(value)
        line += (
            Span(f"{key.upper()} ", "bar-key", tag),
            Span(f"{label}: ", "label", tag),
            Span(f"{shown}  ", "strong" if value != ANY else "dim", tag),
        )
    return fitted(line, width)


def hit_lines(finder: Finder, width: int) -> list[Line]:
    """The places, two lines each: where, and the words with the match marked."""
    lines: list[Line] = []
    for place, hit in enumerate(finder.hits):
        here = " here" if place == finder.index else ""
        tag = ("hit", place)
        head = (
            Span("›" if here else " ", f"cursor{here}", tag),
            Span(padded(_where(hit), width - 1), f"strong{here}", tag),
        )
        lines.append(fitted(head, width))
        lines.append(fitted((Span("   ", "", tag), *_marked(hit, tag)), width))
    return lines


def _where(hit: Hit) -> str:
    sign = "✓ " if hit.confirmed else "  "
    place = f"{sign}{plain(hit.title)}  {clock(hit.start)}"
    if hit.row is None:
        return f"{place}  talk outside reps"
    verdict = value_words(BY_ID["verdict"], hit.verdict)
    return f"{place}  rep {hit.rep}  {plain(hit.player or 'no number')}  {verdict}"


def _marked(hit: Hit, tag: tuple[str, Any]) -> Sequence[Span]:
    spans: list[Span] = []
    at = 0
    for first, last in hit.marks:
        spans.append(Span(plain(hit.text[at:first]), "dim", tag))
        spans.append(Span(plain(hit.text[first:last]), "match", tag))
        at = last
    return [*spans, Span(plain(hit.text[at:]), "dim", tag)]
