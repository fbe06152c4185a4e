"""Work on the words of a rep: a cursor over them, a choice of words, what they gave."""

from __future__ import annotations

from collections.abc import Sequence

from reviewer.review import passage, rewording
from reviewer.review.canvas import Line, Span, fitted
from reviewer.review.passage import Shown
from reviewer.review.plain import clock, count, plain
from reviewer.review.reps import mend_at
from reviewer.review.session import Session
from reviewer.review.slots import BY_ID, words_for


class WordCursor:
    """A cursor over the words shown for the row in hand; `first` to `last` (exclusive) are chosen.

    All numbers are indices into the note's words.
    """

    def __init__(self, session: Session, at: int | None = None) -> None:
        self.session = session
        self.shown: list[Shown] = []
        self.at = 0
        self.anchor = 0
        self.refresh(at)

    def refresh(self, at: int | None = None) -> None:
        """Take the words anew; the cursor goes to `at`, stays, or goes to the rep's first word."""
        session = self.session
        row = session.row
        self.shown = (
            passage.passage(session.words, session.state, row.rep_id, row.current, session.mends)
            if row
            else passage.everything(session.words, session.mends)
        )
        known = [word.index for word in self.shown]
        wanted = self.at if at is None else at
        if wanted not in known:
            own = [word.index for word in self.shown if word.part == "rep"]
            wanted = (own or known or [0])[0]
        self.put(wanted)

    def put(self, at: int) -> None:
        """Put the cursor on a word, choosing it alone."""
        self.at = self.anchor = at

    @property
    def first(self) -> int:
        """The first chosen word."""
        return min(self.at, self.anchor)

    @property
    def last(self) -> int:
        """The word after the chosen ones."""
        return max(self.at, self.anchor) + 1

    @property
    def chosen(self) -> frozenset[int]:
        """The chosen words."""
        return frozenset(range(self.first, self.last))

    def choose(self, first: int, last: int) -> None:
        """Choose words first..last (exclusive); an empty choice puts the cursor on `first`."""
        self.anchor, self.at = first, max(first, last - 1)

    def move(self, by: int, grow: bool = False) -> None:
        """Go so many words on; with `grow` the choice goes along."""
        known = [word.index for word in self.shown]
        if not known:
            return
        place = known.index(self.at) if self.at in known else 0
        self.at = known[max(0, min(len(known) - 1, place + by))]
        if not grow:
            self.anchor = self.at

    def move_line(self, lines: Sequence[Line], by: int) -> None:
        """Go to the word at the same place of another line."""
        here = passage.line_of(lines, frozenset({self.at}))
        if here is None or not 0 <= here + by < len(lines):
            return
        column = _column(lines[here], self.at)
        words = [(c, word) for c, word in _words(lines[here + by])]
        if words:
            self.put(min(words, key=lambda pair: abs(pair[0] - column))[1])

    def to_end(self) -> tuple[int, int]:
        """The chosen words, or where one alone is chosen, it and the rest of the rep's stretch."""
        if self.last - self.first > 1:
            return self.first, self.last
        return self.first, next((b for a, b in self._stretches() if a <= self.at < b), self.last)

    def to_start(self) -> tuple[int, int]:
        """The chosen words, or where one alone is chosen, the rep's stretch up to it."""
        if self.last - self.first > 1:
            return self.first, self.last
        return next((a for a, b in self._stretches() if a <= self.at < b), self.first), self.last

    def _stretches(self) -> Sequence[tuple[int, int]]:
        row = self.session.row
        rep = self.session.state.rep(row.rep_id) if row else None
        return rep.stretches if rep else ()


def _words(line: Line) -> list[tuple[int, int]]:
    """Column and index of each word of a line."""
    found: list[tuple[int, int]] = []
    column = 0
    for span in line:
        if span.tag and span.tag[0] == "word" and all(index != span.tag[1] for _, index in found):
            found.append((column, span.tag[1]))
        column += len(span.text)
    return found


def _column(line: Line, word: int) -> int:
    return next((column for column, index in _words(line) if index == word), 0)


def word_lines(cursor: WordCursor, width: int) -> list[Line]:
    """The words with the chosen ones marked."""
    return passage.lay_out(cursor.shown, width, cursor=cursor.chosen)


def gave_lines(cursor: WordCursor, width: int) -> list[Line]:
    """What the word under the cursor is and gave: its time, what was heard, the fields read from it."""
    session, row = cursor.session, cursor.session.row
    word = next((w for w in cursor.shown if w.index == cursor.at), None)
    if word is None:
        return [(Span("No words here.", "dim"),)]
    many = cursor.last - cursor.first
    what = count(many, "word") + " chosen" if many > 1 else f"“{word.text}”"
    spoken = session.words[cursor.at]
    head = [Span(f"{what}  ", "strong"), Span(clock(spoken.start), "dim")]
    if word.part != "rep":
        head.append(Span("  of no rep", "doubt"))
    elif spoken.probability < 0.5:
        head.append(Span(f"  heard poorly ({100 * spoken.probability:.0f} %)", "doubt"))
    lines = [fitted(head, width)]
    mend = mend_at(session, cursor.at)
    if mend:
        heard, read, refused = mend
        now = "left as heard" if refused else "read"
        lines.append(
            fitted((Span(f"heard “{plain(heard)}”, {now} “{plain(heard if refused else read)}”", ""),), width)
        )
    elif spoken.heard is not None:
        first, last = rewording.whole(session, cursor.at, cursor.at + 1)
        heard, read = (plain(f(session, first, last)) for f in (rewording.as_heard, rewording.as_read))
        lines.append(fitted((Span(f"heard “{heard}”, put right by you: “{read}”", ""),), width))
    slots = passage.gave(cursor.shown, cursor.at)
    if slots and row is not None:
        text = "; ".join(f"{BY_ID[s].label} {plain(words_for(BY_ID[s], row.current))}" for s in slots)
        lines.append(fitted((Span("gave ", "label"), Span(text)), width))
    elif word.part == "rep":
        lines.append(fitted((Span("Nothing was read from it.", "dim"),), width))
    return lines
