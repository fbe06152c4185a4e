"""What is learned from a correction, for the notes to come.

A lesson says that some words of the coach mean a term, a verdict or a man. It is kept in two places:
in the user's own vocabulary file, from where the next reading takes it, and in the grade book, with the
note and row it came from. What a lesson can be about:

    a term, verdict or mark   his words become a spoken form of it
    a man or a number         his words are read as the man's name (his number where no roster names him)
    a mend refused            these words are left as heard
    words put right           what was heard is read as he typed it
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reviewer import store
from reviewer.errors import InputError
from reviewer.records import Word
from reviewer.review import own_words, rewording
from reviewer.review.lineup import name_of
from reviewer.review.passage import words_between
from reviewer.review.picks import spelled
from reviewer.review.plain import clock, plain
from reviewer.review.reps import mend_at
from reviewer.review.session import Session
from reviewer.review.slots import BY_ID, Slot, value_words
from reviewer.store.learned import LearnedKind

ALIKE = 75.0
"""Words less alike to a way to say a term than this (0..100) are no guess at what said it."""

LONGEST = 8
"""More words than this are no way to say something."""


@dataclass(frozen=True)
class Meaning:
    """What words can be taught to mean.

    group, id: the vocabulary term. kind: as the grade book keeps it. shown: for people. first, last:
    the words that were probably meant (last exclusive), equal where nothing is known. heard: what was
    heard, where the lesson is about that and not about words to choose.
    """

    group: str
    id: str
    kind: LearnedKind
    shown: str
    first: int = 0
    last: int = 0
    heard: str = ""


def meaning_of_fix(session: Session) -> Meaning | None:
    """What the newest correction can teach; None when it teaches nothing."""
    fix = session.last_fix
    if fix is None:
        return None
    slot = BY_ID[fix.slot]
    old, new = (value if isinstance(value, list) else [value] for value in (fix.old, fix.new))
    added = [one for one in new if one not in old and one is not None]
    gone = [one for one in old if one not in new and one is not None]
    return _meaning(session, slot, added[-1], bool(gone)) if added else None


def meaning_of_slot(session: Session) -> Meaning | None:
    """What the slot under the cursor holds, as something to teach words for; None when it holds nothing."""
    row = session.row
    if row is None:
        return None
    value = getattr(row.current, session.slot.field)
    values = value if isinstance(value, list) else [value]
    last = values[-1] if values else None
    return None if last in (None, False) else _meaning(session, session.slot, last, False)


def _meaning(session: Session, slot: Slot, value: object, replaced: bool) -> Meaning | None:
    text = str(value)
    first, last = _guess(session, slot, text, replaced)
    if slot.kind in {"man", "men"}:
        name = name_of(session.roster, text, "own" if slot.kind == "man" else "opp")
        meant = name.split()[-1] if name and " or " not in name else spelled(text)
        shown = f"{text} {name}".strip()
        return Meaning("wording", meant, "mishearing", shown, first, last)
    group = _group(slot)
    if not group:
        return None
    shown = f"{value_words(slot, [text] if slot.many else text)} ({slot.label})"
    return Meaning(group, text, "form", shown, first, last)


def _group(slot: Slot) -> str:
    if slot.group:
        return slot.group
    if slot.kind == "mark":
        return f"mark.{slot.field}"
    return slot.field if slot.kind in {"verdict", "cycle"} else ""


def meaning_of_heard(session: Session, word: int) -> Meaning | None:
    """What was heard where it is read otherwise by the coach: a refused mend that a word belongs to, to be
    left as heard in every note, or words put right, to be read so. None for other words."""
    for mend, refused in session.mends:
        if refused and mend.first <= word < mend.last:
            return Meaning("wording", plain(mend.heard), "habit", "as heard", mend.first, mend.last)
    if mend_at(session, word) is not None or not 0 <= word < len(session.words):
        return None
    if session.words[word].heard is None:
        return None
    first, last = rewording.whole(session, word, word + 1)
    read = plain(rewording.as_read(session, first, last)).strip(" .,;:!?")
    heard = plain(rewording.as_heard(session, first, last))
    return Meaning("wording", read, "mishearing", f"“{read}”", first, last, heard) if read else None


def _guess(session: Session, slot: Slot, value: str, replaced: bool) -> tuple[int, int]:
    """The words that were probably meant: those that a replaced value, or the value itself, was read
    from, else those of the rep that sound most like a way to say it."""
    row = session.row
    rep = session.state.rep(row.rep_id) if row else None
    if row is None or rep is None or not rep.stretches:
        return 0, 0
    as_read = row.machine is not None and getattr(row.machine, slot.field) == getattr(row.current, slot.field)
    if row.machine is not None and (replaced or as_read):
        said = [e for name in slot.fields for e in row.machine.evidence.get(name, ())]
        if said:
            found = words_between(session.words, said[-1].start, said[-1].end)
            return found.start, found.stop
    return _nearest(session, slot, value)


def _nearest(session: Session, slot: Slot, value: str) -> tuple[int, int]:
    from rapidfuzz import fuzz

    row = session.row
    rep = session.state.rep(row.rep_id) if row else None
    first, last = rep.stretches[0] if rep else (0, 0)
    term = session.vocabulary.find(value, slot.group) if slot.group else None
    wanted = [value, *(form for form in (term.forms if term else ()) if not set(form) & set("<|*_?=§¶"))]
    best, at = 0.0, (first, first)
    for size in (1, 2, 3):
        for start in range(first, last - size + 1):
            text = _joined(session.words[start : start + size])
            score = max(fuzz.ratio(text, each) for each in wanted)
            if score > best:
                best, at = score, (start, start + size)
    return at if best >= ALIKE else (first, first)


def _joined(words: Sequence[Word]) -> str:
    return " ".join(filter(None, (_pieces(word.text) for word in words)))


def _pieces(text: str) -> str:
    from reviewer.language.taught import pieces

    return " ".join(pieces(text))


def form_of(words: Sequence[Word]) -> str:
    """Spoken words as a form of the vocabulary: possessives, men and numbers may change.

    Raises InputError when nothing particular is left, or there are too many words.
    """
    from reviewer.language.numbers import read_numbers
    from reviewer.language.patterns import parse_form
    from reviewer.language.tokens import tokenize
    from reviewer.language.vocabulary import word_classes

    tokens = tokenize(words).tokens
    if len(tokens) > LONGEST:
        raise InputError(f"That is {len(tokens)} words; choose the few, at most {LONGEST}, that say it.")
    classes = word_classes()
    number_at = {place: n.last for n in read_numbers(tokens) for place in range(n.first, n.last)}
    items: list[str] = []
    for place, token in enumerate(tokens):
        if place in number_at:
            item = "<num>" if not items or items[-1] != "<num>" else ""
        elif token.text in classes["poss"]:
            item = "<poss>"
        elif token.text in classes["pronoun"]:
            item = "<man>"
        else:
            item = token.text
        items.append(item)
    form = " ".join(filter(None, items))
    try:
        parse_form(form, classes)
    except ValueError as problem:
        raise InputError("These words say nothing in particular; choose the words that say it.") from problem
    return form


def teach(session: Session, meaning: Meaning, first: int, last: int) -> str:
    """Teach that words first..last (exclusive) of the note mean something; returns a sentence on it.

    Raises InputError for words that cannot be taught; nothing is kept then.
    """
    words = session.words[first:last]
    if not words:
        raise InputError("Choose the words that say it, with ← and → and shift.")
    said = plain(_pieces(meaning.heard) if meaning.heard else _joined(words))
    row = session.row
    known_numbers = {lesson.id for lesson in store.learned(session.library)}
    if meaning.kind == "form":
        form = form_of(words)
        known = session.vocabulary.find(meaning.id, meaning.group)
        if known is not None and form in known.forms and not own_words.cut_off(form, known_numbers):
            return f"“{said}” is known for {meaning.shown} already."
        entry: own_words.Entry = {"forms": [form]}
    else:
        form = said
        if len(said.split()) > LONGEST:
            raise InputError(
                f"That is {len(said.split())} words; choose the few, at most {LONGEST}, that say it."
            )
        entry = {"mishearings": [form]}
    where = f"{session.note.title}, {clock(words[0].start)}"
    table = {"id": meaning.id, "group": meaning.group, **entry, "from": where}
    # the file is written before the grade book commits: what the grade book lists is in the file
    with session.library.writing():
        number = store.learn(
            session.library, meaning.kind, meaning.id, form, note=session.note_id, row=row.id if row else None
        )
        for left in own_words.cut_off(form, known_numbers) | ({number} - known_numbers):
            own_words.remove_entry(left)  # of a lesson that was cut off before it was committed
        own_words.add_entry(number, f"{session.library.now()[:10]}, {where}", table)
    session.forget_vocabulary()
    session.last_fix = None
    return f"Learned: “{said}” is {meaning.shown}. From the next note on; reviewer vocabulary lists it."


def forget_lesson(library: store.Library, number: int) -> None:
    """Unlearn a lesson by its number, in the file and in the grade book.

    Raises InputError when there is no such lesson or the file cannot be written; nothing is removed then.
    """
    if all(one.id != number for one in store.learned(library)):
        raise InputError(
            f"Nothing learned has the number {number}; list what was learned to see the numbers."
        )
    own_words.remove_entry(number)
    store.forget(library, number)
