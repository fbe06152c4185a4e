"""Pick lists: what may stand in a slot, narrowed by typing, the likeliest first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice
from typing import TYPE_CHECKING

from reviewer.records import RosterEntry

if TYPE_CHECKING:
    from reviewer.language.vocabulary import Term

FUZZY_FROM = 4
"""From so many letters on, typing errors are forgiven."""

FUZZY_SCORE = 80.0

MOST_SAID = 8
"""So many ways to say a term stand under its definition."""

WORDINGS = 6
"""So many wordings of a spoken form are matched with what is typed."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One line of a pick list.

    value: what it puts into the field. label: as shown. about: a word on why it stands here (by which
    form it was found, a man's position). chosen: whether the field holds it now. more: its definition.
    """

    value: str
    label: str
    about: str = ""
    chosen: bool = False
    more: str = ""


@dataclass(frozen=True)
class Entry:
    """A value with everything it can be found by. names: its own names, the best match first."""

    choice: Choice
    names: tuple[str, ...]
    forms: tuple[str, ...] = ()
    uses: int = 0
    said: str = ""


def term_entries(
    terms: Iterable[Term], uses: Mapping[str, int], spoken_words: Sequence[str] = ()
) -> list[Entry]:
    """Entries of vocabulary terms. uses: how often each id occurs in the library.

    spoken_words: the rep's words in base form; a term with a form among them is marked as said.
    """
    joined = f" {' '.join(spoken_words)} "
    return [
        Entry(
            Choice(term.id, term.id, more=term.definition),
            (term.id,),
            _typed(term.forms),
            uses.get(term.id, 0),
            _said(term, joined) if spoken_words else "",
        )
        for term in terms
    ]


def _said(term: Term, joined: str) -> str:
    """A wording of the term that stands in the words (both in base form), "" for none."""
    return next((form for form, folded in _plain_forms(term.forms) if f" {folded} " in joined), "")


@lru_cache(maxsize=2_000)
def _plain_forms(forms: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """The forms that are plain words, each with its words in base form."""
    from reviewer.language.tokens import base_form

    return tuple(
        (form, " ".join(base_form(word) for word in form.replace("-", " ").lower().split()))
        for form in forms
        if not any(sign in form for sign in "<|*_?=§¶")
    )


@lru_cache(maxsize=2_000)
def _typed(forms: tuple[str, ...]) -> tuple[str, ...]:
    from reviewer.terms import wordings

    return tuple(dict.fromkeys(text for form in forms for text in islice(wordings(form), WORDINGS)))


def man_entries(roster: Iterable[RosterEntry], side: str, uses: Mapping[str, int]) -> list[Entry]:
    """Entries of one side's men: jersey, name, position. A number that two men wear gives two lines."""
    return [
        Entry(
            Choice(man.jersey, f"{man.jersey:>2}  {man.name}", man.position),
            (man.jersey, man.name, *man.name.split()[1:]),
            uses=uses.get(man.jersey, 0),
        )
        for man in roster
        if man.side == side
    ]


def plain_entries(values: Iterable[str], about: Mapping[str, str] | None = None) -> list[Entry]:
    """Entries of plain values, in their order."""
    known = about or {}
    return [Entry(Choice(value, value, known.get(value, "")), (value,)) for value in values]


def narrowed(entries: Sequence[Entry], typed: str, chosen: Sequence[str] = ()) -> list[Choice]:
    """The entries that fit what was typed, best first.

    Nothing typed: what the field holds, then what the rep's words say, then the most used. With
    letters: how well it fits decides first, then use. Every typed word must fit somewhere.
    """
    wanted = " ".join(typed.lower().replace("-", " ").split())
    ranked = []
    for place, entry in enumerate(entries):
        fit = _fit(entry, wanted)
        if fit is None:
            continue
        rank, by = fit
        held = entry.choice.value in chosen
        order = chosen.index(entry.choice.value) if held else len(chosen)
        first = (order, not entry.said) if not wanted else (0, rank)
        # of two that begin alike the shorter one is spelled out sooner
        length = len(entry.names[0]) if wanted else 0
        ranked.append(((*first, -entry.uses, length, place), _choice(entry, held, by)))
    return [choice for _, choice in sorted(ranked, key=lambda pair: pair[0])]


def _choice(entry: Entry, held: bool, by: str) -> Choice:
    base = entry.choice
    about = f"“{by}”" if by else base.about or (f"said: “{entry.said}”" if entry.said else "")
    return Choice(base.value, base.label, about, held, base.more)


_EXACT, _NAME, _NAME_WORD, _INITIALS, _FORM, _FORM_WORD, _LETTERS, _CLOSE = range(8)


def _fit(entry: Entry, wanted: str) -> tuple[int, str] | None:
    """How an entry fits the typed text (smaller is better) and by which spoken form, if by one."""
    if not wanted:
        return 0, ""
    names = [name.lower().replace("-", " ") for name in entry.names]
    if wanted in names:
        return _EXACT, ""
    if names[0].startswith(wanted) or any(name.startswith(wanted) for name in names):
        return _NAME, ""
    if any(_words_begin(name, wanted) for name in names):
        return _NAME_WORD, ""
    if any(_initials(name).startswith(wanted.replace(" ", "")) for name in names if " " in name):
        return _INITIALS, ""
    if found := next((form for form in entry.forms if form.startswith(wanted)), ""):
        return _FORM, found
    if found := next((form for form in entry.forms if _words_begin(form, wanted)), ""):
        return _FORM_WORD, found
    if any(_in_order(name, wanted) for name in names):
        return _LETTERS, ""
    return _close(names, entry.forms, wanted)


def _words_begin(text: str, wanted: str) -> bool:
    """Whether each typed word begins a word of the text, in order."""
    words = iter(text.split())
    return all(any(word.startswith(piece) for word in words) for piece in wanted.split())


def _initials(text: str) -> str:
    return "".join(word[0] for word in text.split())


def _in_order(text: str, wanted: str) -> bool:
    """Whether the typed letters stand in the text in this order, the first one first."""
    letters = iter(text)
    return text[:1] == wanted[:1] and all(letter in letters for letter in wanted.replace(" ", ""))


def _close(names: Sequence[str], forms: Sequence[str], wanted: str) -> tuple[int, str] | None:
    if len(wanted) < FUZZY_FROM:
        return None
    from rapidfuzz import fuzz, process

    if process.extractOne(wanted, names, scorer=fuzz.ratio, score_cutoff=FUZZY_SCORE):
        return _CLOSE, ""
    found = process.extractOne(wanted, forms, scorer=fuzz.ratio, score_cutoff=FUZZY_SCORE)
    return (_CLOSE, str(found[0])) if found else None


# --- numbers -----------------------------------------------------------------


def whole_number(typed: str, entries: Sequence[Entry]) -> str | None:
    """The jersey that was typed when no further figure can change it, else None.

    Two figures are a whole number; one figure is when no man's longer number begins with it.
    """
    digits = typed.strip()
    if not (digits.isascii() and digits.isdigit()):
        return None
    if len(digits) >= 2:
        return digits[:2]
    longer = any(e.choice.value.startswith(digits) and len(e.choice.value) > 1 for e in entries)
    known = any(e.choice.value == digits for e in entries)
    return digits if known and not longer else None


def gives_way(number: str, held: Sequence[str], roster: Iterable[str]) -> str | None:
    """Which of the numbers in a field a typed one is to replace; None for an empty field.

    Numbers on no roster give way before others; of several the one that sounds most like the typed
    number, for it was most likely misheard. roster: the numbers of that side, none when unknown.
    """
    known = set(roster)
    strangers = [one for one in held if known and one not in known]
    return max(strangers or held, key=lambda one: alike(one, number), default=None)


def alike(one: str, other: str) -> float:
    """How much two numbers sound alike when spoken, 0..100."""
    from rapidfuzz import fuzz

    return float(fuzz.ratio(spelled(one), spelled(other)))


@lru_cache(maxsize=200)
def spelled(number: str) -> str:
    """A jersey in spoken words: "94" is "ninety four", "00" "zero zero". Other text stays as it is."""
    from reviewer.language.numbers import TEENS, TENS, UNITS

    if not (number.isascii() and number.isdigit()):
        return number
    names: dict[int, str] = {}
    for table in (UNITS, TEENS, TENS):
        for name, value in table.items():
            names.setdefault(value, name)
    value = int(number)
    if len(number) == 2 and value < 10:
        return f"{names[0]} {names[value]}"
    if value in names:
        return names[value]
    return f"{names[value - value % 10]} {names[value % 10]}" if value < 100 else number


def put(held: Sequence[str], value: str, instead_of: str | None = None) -> list[str]:
    """A list with a value added, taken out where it stood, or in the place of another one."""
    if instead_of is not None and instead_of in held and value not in held:
        return [value if one == instead_of else one for one in held]
    return [one for one in held if one != value] if value in held else [*held, value]


def definition_lines(term: Term) -> list[str]:
    """A term's definition and how it is said, for people."""
    from reviewer.terms import spoken_forms

    lines = [term.definition] if term.definition else ["No definition is kept for this term."]
    said = sorted(spoken_forms(term)[1:], key=len)[:MOST_SAID]
    if said:
        lines.append("Also said: " + "; ".join(said))
    return lines
