"""What a misheard stretch may be read as: the spoken forms of trade terms and the names of the roster.

Only forms of plain words are wanted here, not those with gaps. A target is found by its outline, the
bare consonants of its sounds, so that the cost of a search hardly grows with what is known.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice, product
from typing import Literal

from reviewer.language.mend_talk import NAME, Talk, as_counted
from reviewer.language.sounds import NUMBER, apart, is_known, outline, outlines_near, sounds_of_all
from reviewer.language.tokens import base_form
from reviewer.language.vocabulary import FIELD_GROUPS, Term, Vocabulary, word_classes
from reviewer.records import NoteContext

MENDED_GROUPS = FIELD_GROUPS | {"play_result", "verdict", "side"}
"""Groups whose terms a misheard stretch may be."""

MOST_WORDS = 4
"""Longest target, in words."""

# By the number of words: a long form is told by its other words, whatever the inflection of one.
_MOST_WORDINGS = {1: 24, 2: 16, 3: 6, 4: 4}
_INFLECTED = {1: 5, 2: 4, 3: 1, 4: 0}
_LEAST_SOUNDS = 3
_FEW = 8
"""A class of more words than this is a slot, not a choice of wordings."""

Kind = Literal["term", "name"]
Inflected = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Target:
    """A wording that may have been meant.

    text: as it is written, a number in it being `NUMBER`. line: as it is counted in talk.
    sounds: the ways to say it. term: vocabulary id, "" for a name. given: whether it is a first name.
    """

    text: str
    line: tuple[str, ...]
    sounds: tuple[str, ...]
    term: str
    kind: Kind
    given: bool = False

    @property
    def size(self) -> int:
        """Its length in sounds."""
        return len(self.sounds[0])


class Targets:
    """Targets by outline."""

    def __init__(self, targets: Iterable[Target]) -> None:
        self._exact: dict[str, list[tuple[str, Target]]] = defaultdict(list)
        self._without_one: dict[str, list[tuple[str, Target]]] = defaultdict(list)
        for target in targets:
            for way in target.sounds:
                shape = outline(way)
                self._exact[shape].append((way, target))
                for less in outlines_near(shape):
                    self._without_one[less].append((way, target))

    def near(self, sounds: str) -> list[Target]:
        """The targets that may sound like this: their outline differs in one consonant at most, and no
        more than about half of their sounds are others."""
        from rapidfuzz.distance import Levenshtein
        from rapidfuzz.process import cdist

        found = self._by_outline(outline(sounds))
        if not found:
            return []
        most = 1 + 2 * len(sounds) // 5
        changes = cdist([sounds], [way for way, _ in found], scorer=Levenshtein.distance, score_cutoff=most)
        near = (found[k][1] for k in (changes[0] <= most).nonzero()[0])
        return list({id(target): target for target in near}.values())

    def _by_outline(self, shape: str) -> list[tuple[str, Target]]:
        found = list(self._exact.get(shape, ()))
        if len(shape) > 1:
            found += self._without_one.get(shape, ())
            for less in outlines_near(shape):
                found += self._exact.get(less, ())
                if len(less) > 1:
                    found += self._without_one.get(less, ())
        return found


class Lexicon:
    """All targets of a vocabulary, and the known mishearings of its terms.

    said: the base forms of every target.
    """

    def __init__(self, vocabulary: Vocabulary, talk: Talk) -> None:
        found = term_targets(vocabulary, talk)
        self.targets = Targets(found)
        self.said = frozenset(tuple(map(base_form, target.text.split())) for target in found)
        self._of_term: dict[str, list[Target]] = defaultdict(list)
        for target in found:
            self._of_term[target.term].append(target)
        self._listed: dict[tuple[str, ...], list[str]] = defaultdict(list)
        for term in vocabulary.terms:
            for said in term.mishearings if term.group in MENDED_GROUPS else ():
                self._listed[tuple(said.lower().replace("-", " ").split())].append(term.id)

    def listed(self, pieces: tuple[str, ...]) -> list[Target]:
        """What a stretch means that is a known mishearing: of each term the wording that it sounds like."""
        terms = self._listed.get(pieces, ())
        return [meant for term in terms if (meant := _most_like(pieces, self._of_term[term]))]


def term_targets(vocabulary: Vocabulary, talk: Talk) -> list[Target]:
    """The targets of a vocabulary's terms, in every inflection that the talk or the dictionary knows."""
    inflected = _inflections(talk)
    found: dict[tuple[str, str], Target] = {}
    for term in vocabulary.terms:
        if term.group not in MENDED_GROUPS:
            continue
        for form in term.forms:
            for words in _surfaces(form, inflected):
                key = (" ".join(words), term.id)
                if key not in found:
                    target = _target(words, term)
                    if target is not None:
                        found[key] = target
    return list(found.values())


def _most_like(pieces: Sequence[str], targets: Sequence[Target]) -> Target | None:
    said = sounds_of_all(pieces)[0]
    return min(targets, key=lambda t: min(apart(said, way) for way in t.sounds), default=None)


def _target(words: Sequence[str], term: Term) -> Target | None:
    sounds = sounds_of_all(words)
    if len(sounds[0]) < _LEAST_SOUNDS:
        return None
    return Target(" ".join(words), tuple(as_counted(words)), sounds, term.id, "term")


def _surfaces(form: str, inflected: Inflected) -> Iterator[tuple[str, ...]]:
    """The plain wordings of a form, and each again with one word inflected; none where it has gaps,
    men or sentence edges inside."""
    items = form.replace("-", " ").removeprefix("¶ ").removesuffix(" ¶").split()
    if len(items) > MOST_WORDS + 2:
        return
    choices: list[tuple[tuple[str, ...], ...]] = []
    for item in items:
        choice = _choices(item, inflected)
        if choice is None:
            return
        choices.append(choice)
    for picked in islice(product(*choices), _MOST_WORDINGS[min(len(items), MOST_WORDS)]):
        words = tuple(forms for forms in picked if forms)
        if not words or len(words) > MOST_WORDS or words == ((NUMBER,),):
            continue
        usual = tuple(forms[0] for forms in words)
        yield usual
        for k, forms in enumerate(words):
            for other in forms[1 : 1 + _INFLECTED[len(words)]]:
                yield (*usual[:k], other, *usual[k + 1 :])


def _choices(item: str, inflected: Inflected) -> tuple[tuple[str, ...], ...] | None:
    """The words that an item takes, each with its inflections; an empty one where it may be missing."""
    if item in {"*", "_", "¶"}:
        return None
    words: dict[tuple[str, ...], None] = {}
    for part in item.removesuffix("?").split("|"):
        found = _part(part, inflected)
        if found is None:
            return None
        words.update(dict.fromkeys(found))
    optional = item.endswith("?") and len(item) > 1
    return (*words, ()) if optional else tuple(words)


def _part(part: str, inflected: Inflected) -> tuple[tuple[str, ...], ...] | None:
    if part in {"§number", "<num>", "<figure>"}:
        return ((NUMBER,),)
    if part == "<poss>":
        return (("his",), ("the",), ())
    if part.startswith("<") and part.endswith(">"):
        words = word_classes().get(part[1:-1], ())
        return tuple((w,) for w in words) if 0 < len(words) <= _FEW and "§jersey" not in words else None
    if part[:1] in "§¶<":
        return None
    if part.startswith("="):
        return ((part[1:],),)
    forms = inflected.get(base_form(part)) or _regular(part)
    return ((part, *(f for f in forms if f != part)) if part in forms else forms,)


def _inflections(talk: Talk) -> Inflected:
    """Base form to the words of the talk that have it, the frequent ones first."""
    found: dict[str, list[str]] = defaultdict(list)
    for word in sorted(talk.ones, key=lambda w: -talk.ones[w]):
        if word.isalpha():
            found[base_form(word)].append(word)
    return {base: tuple(words[:5]) for base, words in found.items()}


def _regular(word: str) -> tuple[str, ...]:
    """A word of no talk, and the inflections of it that the dictionary knows."""
    stem = word.removesuffix("e")
    formed = (word, f"{word}s", f"{stem}ed", f"{stem}ing")
    return tuple(w for w in formed if w == word or is_known(w))


def name_targets(context: NoteContext, common: frozenset[str]) -> list[Target]:
    """The names of a roster as they are said: surnames, whole names, first names that one man bears."""
    spoken: dict[str, set[str]] = defaultdict(set)
    for man in context.roster:
        parts = [part for part in man.name.replace("-", " ").replace(".", "").split() if part]
        if not parts:
            continue
        spellings = {man.name.split()[-1], " ".join(man.name.split())}
        if len(parts) > 1 and parts[0].lower() not in common:
            spellings.add(parts[0])
        for spelling in spellings:
            spoken[spelling].add(man.name)
    targets = []
    for spelling, men in spoken.items():
        pieces = tuple(spelling.lower().replace("-", " ").replace(".", "").split())
        if len(men) == 1 and len("".join(pieces)) > 2:
            given = all(man.split()[0] == spelling and len(man.split()) > 1 for man in men)
            targets.append(Target(spelling, (NAME,), sounds_of_all(pieces), "", "name", given))
    return targets


_LEXICONS: dict[str, Lexicon] = {}
_LEXICONS_KEPT = 4


def lexicon_of(vocabulary: Vocabulary, talk: Talk) -> Lexicon:
    """The lexicon of a vocabulary with the talk that ships, built once."""
    known = _LEXICONS.get(vocabulary.digest)
    if known is None:
        while len(_LEXICONS) >= _LEXICONS_KEPT:
            _LEXICONS.pop(next(iter(_LEXICONS)))
        known = _LEXICONS[vocabulary.digest] = Lexicon(vocabulary, talk)
    return known


@lru_cache(maxsize=1)
def common_first_names() -> frozenset[str]:
    """First names that are common words and so name nobody."""
    from reviewer.language.people import people_words

    return frozenset(people_words().get("common_first_names", {}).get("words", ()))
