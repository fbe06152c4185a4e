"""Words in, grade rows out: the front of the language layer."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

from reviewer.language.analysis import Analysis, analyse
from reviewer.language.draft import draft_reps
from reviewer.language.marked import spoken_marks
from reviewer.language.mend import MendedWords, WordingScorer, mend
from reviewer.language.mend_numbers import alternatives
from reviewer.language.rows import decide_rows
from reviewer.language.split import Cut, split_reps
from reviewer.language.tag import Tagger
from reviewer.language.vocabulary import Vocabulary, load_vocabulary
from reviewer.records import GradeRow, NoteContext, Reading, Rep, Word


@dataclass(frozen=True)
class Reader:
    """Reads notes with one vocabulary. Make it once: building its matchers is the slow part."""

    vocabulary: Vocabulary
    tagger: Tagger

    @classmethod
    def load(cls, own_vocabulary: Path | None = None) -> Reader:
        """A reader with the shipped vocabulary and the user's own."""
        vocabulary = load_vocabulary(own_vocabulary)
        return cls(vocabulary, Tagger(vocabulary))

    def read(
        self,
        words: Sequence[Word],
        context: NoteContext,
        *,
        heard: bool = False,
        refused: Collection[tuple[str, str]] = (),
        scorer: WordingScorer | None = None,
    ) -> Reading:
        """Read a note. Any words, however broken, give rows or none, never an error.

        heard, refused, scorer: what is mended before the words are read, as `mend` takes them.
        """
        return self.read_mended(
            mend(words, context, self.vocabulary, heard=heard, refused=refused, scorer=scorer), context
        )

    def read_mended(self, mended: MendedWords, context: NoteContext) -> Reading:
        """Read words as they are after mending."""
        words, mends = mended
        analysis = analyse(words, context, self.tagger)
        cuts = split_reps(analysis)
        rows: list[GradeRow] = []
        for draft in draft_reps(analysis, cuts):
            rows += decide_rows(analysis, draft)
        reps = [_rep(analysis, index, cut) for index, cut in enumerate(cuts, 1)]
        found = alternatives(analysis.text, analysis.figures, context)
        remarks = {"alternatives": found} if found else {}
        if marks := spoken_marks(analysis):
            remarks["marks"] = marks
        return Reading(words=words, mends=mends, reps=tuple(reps), rows=tuple(rows), remarks=remarks)


def _rep(analysis: Analysis, index: int, cut: Cut) -> Rep:
    """The rep's stretches of words; neighbouring sentences are one stretch."""
    text = analysis.text
    stretches: list[tuple[int, int]] = []
    for k in (*cut.sentences, *cut.back):
        sentence = text.sentences[k]
        first = text.tokens[sentence.first].word
        last = text.tokens[sentence.last - 1].word + 1
        if stretches and stretches[-1][1] >= first:
            stretches[-1] = (stretches[-1][0], max(last, stretches[-1][1]))
        else:
            stretches.append((first, last))
    main = [text.sentences[k] for k in cut.sentences]
    start = text.words[text.tokens[main[0].first].word].start
    end = text.words[text.tokens[main[-1].last - 1].word].end
    return Rep(index, start, end, tuple(stretches))


def read_note(words: Sequence[Word], context: NoteContext, reader: Reader | None = None) -> Reading:
    """Read words with times into reps and grade rows."""
    return (reader or Reader.load()).read(words, context)
