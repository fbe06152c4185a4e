"""The spoken notes that hearing and mending are measured on: recordings and their annotated notes."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from jiwer import wer
from rapidfuzz.distance import Levenshtein

from reviewer import paths
from reviewer.compare.annotated import AnnotatedNote, load_note
from reviewer.language.mend_heard import as_spoken
from reviewer.language.mend_talk import Talk
from reviewer.language.tokens import tokenize
from reviewer.pipeline.expect import Expected, expected
from reviewer.pipeline.scores import KeptScorer
from reviewer.records import Word
from reviewer.speech.score import WordingScorer
from reviewer.speech.transcribe import hear
from tests.annotated import NOTES, load_part
from tests.fit_mend import count_talk

AUDIO = Path(__file__).parent / "audio"
DEMO = Path(__file__).parents[1] / "demo_audio"
_RECORDINGS = {".ogg", ".wav", ".opus", ".flac"}


@dataclass(frozen=True)
class Spoken:
    """A spoken note and what a speech model heard of it. told: whether it was told what to expect."""

    name: str
    recording: Path
    note: AnnotatedNote
    words: tuple[Word, ...]
    model: str
    told: bool
    duration_s: float


def recordings(folder: Path) -> list[Path]:
    """The recordings of a folder that have an annotated note beside them or in the part of the same name."""
    found = (file for file in folder.iterdir() if file.suffix in _RECORDINGS)
    return sorted(file for file in found if annotation(file).is_file())


def annotation(recording: Path) -> Path:
    """The annotated note that a recording was spoken from."""
    beside = recording.with_suffix(".yaml")
    return beside if beside.is_file() else NOTES / recording.parent.name / beside.name


def listen(recording: Path, model: str = "base", cache: Path | None = None, *, told: bool = False) -> Spoken:
    """Hear a recording; what was heard before is taken from the cache."""
    note = load_note(annotation(recording))
    beforehand = expected(note.context) if told else Expected()
    heard = hear(recording, model=model, prompt=beforehand.prompt, hotwords=beforehand.hotwords, cache=cache)
    return Spoken(recording.stem, recording, note, tuple(heard.words), model, told, heard.duration_s)


def sound_of(one: Spoken, cache: Path | None) -> KeptScorer:
    """Asks the sound of a recording; what it said before is taken from the cache."""
    answers = f"{one.recording.parent.name}-{one.name}-{one.model}-{'told' if one.told else 'plain'}.scores"
    return KeptScorer(
        (cache or paths.transcripts()) / answers,
        lambda: WordingScorer(one.recording, one.words, model=one.model),
    )


def said(words: Sequence[Word]) -> list[str]:
    """Plain words for comparing: lower case, figures in words, letters apart."""
    return list(as_spoken([token.text for token in tokenize(words).tokens]))


def letters_apart(heard: Sequence[Word], spoken: Sequence[Word]) -> int:
    """In how many letters two talks differ, spaces left out ("jump sets" is "jumpsets")."""
    return int(Levenshtein.distance(*("".join(said(words)) for words in (heard, spoken))))


def words_apart(heard: Sequence[Word], spoken: Sequence[Word]) -> int:
    """In how many words two talks differ, numbers in figures or words being the same."""
    return int(Levenshtein.distance(said(heard), said(spoken)))


def word_error(one: Spoken) -> float:
    """Word error rate of what was heard."""
    return wrong_words(one.words, one.note.words) / len(said(one.note.words))


def wrong_words(heard: Sequence[Word], spoken: Sequence[Word]) -> float:
    """Words put in, left out or changed; of words of any spelling of the numbers."""
    reference = said(spoken)
    return float(wer(" ".join(reference), " ".join(said(heard)) or "-")) * len(reference)


def other_talk(spoken: Sequence[AnnotatedNote]) -> Talk:
    """The talk of the development notes but for those that these were spoken from."""
    openings = {_opening(note) for note in spoken}
    return count_talk(note for note in load_part("dev") if _opening(note) not in openings)


def _opening(note: AnnotatedNote) -> str:
    return re.sub(r"\W+", " ", " ".join(word.text for word in note.words[:40])).casefold()
