"""Make what mending knows of talk: `python -m tests.fit_mend`.

Counts the film talk of the development notes (`reviewer/language/weights/talk.json`) and lists the words
of ordinary English in the order of how common they are (`ordinary.txt`): the order in which the smaller
speech model's vocabulary (byte pairs, MIT) got them, as far as the pronouncing dictionary knows them.
Never opens the test part.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from pathlib import Path

from reviewer.language import mend_talk
from reviewer.language.mend_talk import STOP, Talk, as_counted
from reviewer.language.people import find_names
from reviewer.language.sounds import is_known
from reviewer.language.tokens import tokenize
from reviewer.records import NoteContext, Word
from reviewer.speech.models import find_model
from tests.annotated import AnnotatedNote, load_part

WEIGHTS = Path(mend_talk.__file__).parent / "weights"
_SPACE = "\u0120"  # how byte pairs write the space before a word


def lines_of(words: Sequence[Word], context: NoteContext) -> list[list[str]]:
    """A note's words as they are counted: one line, sentences parted by stops, roster names alike."""
    text = tokenize(words)
    named = {k for name in find_names(text, context) for k in range(name.first, name.last)}
    line: list[str] = []
    for sentence in text.sentences:
        said = [
            mend_talk.NAME if k in named else text.tokens[k].text
            for k in range(sentence.first, sentence.last)
        ]
        line += [*as_counted(_once(said)), STOP]
    return [[STOP, *line]]


def _once(words: Iterable[str]) -> list[str]:
    """A name of several words is one name."""
    kept: list[str] = []
    for word in words:
        if word != mend_talk.NAME or kept[-1:] != [mend_talk.NAME]:
            kept.append(word)
    return kept


def count_talk(notes: Iterable[AnnotatedNote]) -> Talk:
    """The talk of annotated notes, counted."""
    return Talk.count(line for note in notes for line in lines_of(note.words, note.context))


def ordinary_words() -> list[str]:
    """Words of ordinary English, the common ones first."""
    tokenizer = json.loads((find_model("tiny.en").path / "tokenizer.json").read_text("utf-8"))
    ranked = sorted(tokenizer["model"]["vocab"].items(), key=lambda item: item[1])
    words = [token[1:] for token, _ in ranked if token.startswith(_SPACE)]
    return [
        w for w in words if w.isalpha() and w.islower() and is_known(w) and (len(w) > 1 or w in {"a", "i"})
    ]


def main() -> None:
    talk = count_talk(load_part("dev"))
    (WEIGHTS / "talk.json").write_text(talk.dump() + "\n", "utf-8")
    print(f"talk.json: {talk.total:.0f} words, {len(talk.ones)} different")
    words = ordinary_words()
    (WEIGHTS / "ordinary.txt").write_text("\n".join(words) + "\n", "utf-8")
    print(f"ordinary.txt: {len(words)} words")


if __name__ == "__main__":
    main()
