"""Everything that was found in a note before it is cut into reps: tokens, figures, people, terms."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from reviewer.language.people import Mention, find_mentions, find_names
from reviewer.language.situation import Figures, NumberUse, Situation, read_figures
from reviewer.language.tag import Tagger, TermSpan
from reviewer.language.tokens import Sentence, Token, TokenText, tokenize
from reviewer.records import Evidence, NoteContext, Word


@dataclass(frozen=True)
class Analysis:
    """A note with all that was found in it, by sentence."""

    text: TokenText
    context: NoteContext
    figures: Figures
    mentions: Sequence[Mention]
    spans: Sequence[TermSpan]
    spans_in: Mapping[int, Sequence[TermSpan]] = field(repr=False, default_factory=dict)
    mentions_in: Mapping[int, Sequence[Mention]] = field(repr=False, default_factory=dict)
    situations_in: Mapping[int, Sequence[Situation]] = field(repr=False, default_factory=dict)
    numbers_in: Mapping[int, Sequence[NumberUse]] = field(repr=False, default_factory=dict)

    def cues(self, sentence: int, group: str) -> list[TermSpan]:
        """The spans of one group in a sentence."""
        return [s for s in self.spans_in.get(sentence, ()) if s.group == group]

    def cues_in(self, sentence: int) -> Sequence[TermSpan]:
        """All spans of a sentence."""
        return self.spans_in.get(sentence, ())

    def evidence(self, first: int, last: int) -> Evidence:
        """The words of tokens first..last (exclusive) as evidence."""
        words: Sequence[Word] = self.text.words
        start = self.text.tokens[first].word
        end = self.text.tokens[last - 1].word
        stretch = words[start : end + 1]
        heard = " ".join(w.text.strip() if w.heard is None else w.heard for w in stretch if w.heard != "")
        read = " ".join(w.text.strip() for w in stretch)
        return Evidence(start=stretch[0].start, end=stretch[-1].end, heard=heard, read=read)

    def sentence_of(self, token: int) -> Sentence:
        """The sentence a token stands in."""
        return self.text.sentences[self.text.tokens[token].sentence]


RUN_ON = 7
"""Tokens before a down and distance from which on a comma before it ends the sentence."""


def split_at_situations(text: TokenText, situations: Sequence[Situation]) -> TokenText:
    """Cut run-on sentences where a new down and distance is spoken after a comma or a breath."""
    cuts = set()
    for situation in situations:
        token = text.tokens[situation.first]
        sentence = text.sentences[token.sentence]
        if (
            situation.distance_said
            and situation.first - sentence.first >= RUN_ON
            and (token.comma or token.gap_s > 0.25)
        ):
            cuts.add(situation.first)
    if not cuts:
        return text
    tokens: list[Token] = []
    sentences: list[Sentence] = []
    for sentence in text.sentences:
        edges = [
            sentence.first,
            *sorted(c for c in cuts if sentence.first < c < sentence.last),
            sentence.last,
        ]
        for first, last in pairwise(edges):
            index = len(sentences)
            gap = sentence.gap_s if first == sentence.first else text.tokens[first].gap_s
            paragraph = sentence.paragraph and first == sentence.first
            sentences.append(
                Sentence(index, first, last, sentence.question and last == sentence.last, gap, paragraph)
            )
            tokens += [replace(t, sentence=index) for t in text.tokens[first:last]]
    return TokenText(text.words, tuple(tokens), tuple(sentences))


def analyse(words: Sequence[Word], context: NoteContext, tagger: Tagger) -> Analysis:
    """Tokenize, tell the numbers apart, find people and terms."""
    text = tokenize(words)
    figures = read_figures(text, context)
    text = split_at_situations(text, figures.situations)
    names = find_names(text, context)
    mentions = find_mentions(text, figures, names, context)
    spans = tagger.find(text, figures, names)
    counted = {k for s in spans if s.group == "events" for k in range(s.first, s.last)}
    # "tackle for loss" names no tackle
    mentions = [m for m in mentions if m.how != "position" or m.first not in counted or m.last - m.first > 1]
    tokens = text.tokens
    by_sentence: dict[int, list[TermSpan]] = defaultdict(list)
    for span in spans:
        by_sentence[span.sentence].append(span)
    people: dict[int, list[Mention]] = defaultdict(list)
    for mention in mentions:
        people[tokens[mention.first].sentence].append(mention)
    situations: dict[int, list[Situation]] = defaultdict(list)
    for situation in figures.situations:
        situations[tokens[situation.first].sentence].append(situation)
    numbers: dict[int, list[NumberUse]] = defaultdict(list)
    for use in figures.numbers:
        numbers[tokens[use.number.first].sentence].append(use)
    return Analysis(text, context, figures, mentions, spans, by_sentence, people, situations, numbers)
