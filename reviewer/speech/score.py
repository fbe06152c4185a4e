"""Let the sound choose between wordings.

The speech model can say how probable any text is for a stretch of sound, not only the one that it
would write. A wording is put in its place among the words around it, and the whole phrase is scored
against the sound of the phrase. A phrase is encoded once, at its real length: without padding to
the half minute of a full window this costs a tenth and ranks wordings alike (70 pairs of wordings
in synthetic talk: medians of -4.3 and -4.1 nats).
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reviewer.records import Word
from reviewer.speech import decode
from reviewer.speech.models import Model, find_model
from reviewer.speech.recogniser import WhisperRecogniser

if TYPE_CHECKING:
    from reviewer.speech.decode import Audio

PHRASE_S = 12.0
"""A phrase is at most so long, unless the words to be scored are."""

_PAUSE_S = 1.0
_AROUND_S = 0.3
_MOST_S = 28.0  # the model hears half a minute
_ENCODED_KEPT = 32  # about a megabyte each
_LEAST_PROBABILITY = 1e-10
_STOPS = ".?!"
_MARKS = ".,?!;:"


@dataclass(frozen=True, slots=True)
class Wording:
    """One way to read a stretch: the text, and its log-probability in nats (0 is certain)."""

    text: str
    score: float


class WordingScorer:
    """Scores wordings of one recording. The model is loaded at the first question."""

    def __init__(
        self,
        path: Path,
        words: Sequence[Word],
        *,
        model: str | Model | None = None,
        prompt: str = "",
        load: Callable[[Model], WhisperRecogniser] = WhisperRecogniser,
    ) -> None:
        """path, words: a recording and what was heard in it, before any mending.

        model: as for `hear`. prompt: text that the model takes as said before; a line of the
        trade's talk favours the trade's words by about a nat. load: makes the recogniser.
        """
        self._path = Path(path)
        self._words = list(words)
        self._model = model
        self._prompt = prompt
        self._load = load
        self._phrases = _phrases(self._words)
        self._loaded: tuple[Any, Any] | None = None
        self._encoded: OrderedDict[tuple[float, float, bool], Any] = OrderedDict()

    def score(self, start: float, end: float, wordings: Sequence[str]) -> list[float]:
        """Log-probability of the phrase with each wording in place of the words from start to end.

        start, end: seconds; the words whose middle lies between are replaced, none is an
        insertion. wordings: texts; "" leaves the words out. They should write numbers as the
        heard words do ("94" is not "ninety-four" to the model). Punctuation and a capital are
        taken over from what is replaced. In nats: differences count, 3 is twenty to one.

        Raises InputError and ModelError as `hear` does.
        """
        first, last = self._replaced(start, end)
        low, high = self._phrase(first, last)
        sound_start, sound_end = self._sound(low, high, start, end)
        before = [word.text for word in self._words[low:first]]
        after = [word.text for word in self._words[last:high]]
        old = [word.text for word in self._words[first:last]]
        return [
            self._score(sound_start, sound_end, " ".join([*before, *_dressed(text, old), *after]))
            for text in wordings
        ]

    def readings(self, start: float, end: float, count: int = 5) -> list[Wording]:
        """The model's best readings of the phrase around start..end, the best first.

        They are whole phrases, with the log-probability of their text. Costs about a second and a
        half on two processors.
        """
        first, last = self._replaced(start, end)
        low, high = self._phrase(first, last)
        sound = self._sound(low, high, start, end)
        whisper, tokenizer = self._whisper()
        opening = [*self._before(tokenizer), *tokenizer.sot_sequence, tokenizer.no_timestamps]
        (found,) = whisper.model.generate(
            self._encode(*sound, padded=True),
            [opening],
            beam_size=max(5, count),
            num_hypotheses=count,
            return_scores=True,
        )
        return [
            Wording(tokenizer.decode(tokens).strip(), score * len(tokens))
            for tokens, score in zip(found.sequences_ids, found.scores, strict=True)
        ]

    def _score(self, start: float, end: float, text: str) -> float:
        import numpy as np

        whisper, tokenizer = self._whisper()
        tokens = tokenizer.encode(f" {text.strip()}")
        if not tokens:
            return float("-inf")
        encoded = self._encode(start, end, padded=False)
        opening = [*self._before(tokenizer), *tokenizer.sot_sequence]
        frames = 2 * encoded.shape[1]
        (found,) = whisper.model.align(encoded, opening, [tokens], [frames])
        likely = np.maximum(found.text_token_probs, _LEAST_PROBABILITY)
        return float(np.log(likely).sum())

    def _replaced(self, start: float, end: float) -> tuple[int, int]:
        """The words from start to end as indices; an empty range where there are none."""
        inside = [n for n, word in enumerate(self._words) if start <= (word.start + word.end) / 2 <= end]
        if inside:
            return inside[0], inside[-1] + 1
        at = sum(1 for word in self._words if (word.start + word.end) / 2 < start)
        return at, at

    def _phrase(self, first: int, last: int) -> tuple[int, int]:
        """The phrases that the words first..last touch, as word indices."""
        touched = [p for p in self._phrases if p[0] < max(last, first + 1) and first < p[1]]
        if not touched:
            return first, last
        low, high = touched[0][0], touched[-1][1]
        if self._words[high - 1].end - self._words[low].start > _MOST_S - 2 * _AROUND_S:
            return first, last
        return low, high

    def _sound(self, low: int, high: int, start: float, end: float) -> tuple[float, float]:
        within = self._words[low:high]
        first = min([start, *(word.start for word in within[:1])])
        last = max([end, *(word.end for word in within[-1:])])
        return max(0.0, first - _AROUND_S), min(last + _AROUND_S, first + _MOST_S)

    def _before(self, tokenizer: Any) -> list[int]:
        if not self._prompt.strip():
            return []
        return [tokenizer.sot_prev, *tokenizer.encode(f" {self._prompt.strip()}")]

    def _encode(self, start: float, end: float, *, padded: bool) -> Any:
        key = (round(start, 2), round(end, 2), padded)
        if key in self._encoded:
            self._encoded.move_to_end(key)
        else:
            self._encoded[key] = self._encode_sound(decode.span(self._path, start, end), padded=padded)
            if len(self._encoded) > _ENCODED_KEPT:
                self._encoded.popitem(last=False)
        return self._encoded[key]

    def _encode_sound(self, audio: Audio, *, padded: bool) -> Any:
        import numpy as np
        from faster_whisper.audio import pad_or_trim

        whisper, _ = self._whisper()
        # one frame more than there is sound comes out, and the encoder takes pairs
        features = whisper.feature_extractor(np.pad(audio, (0, decode.RATE // 50)))
        size = max(2, (features.shape[-1] - 1) // 2 * 2)
        return whisper.encode(pad_or_trim(features) if padded else np.ascontiguousarray(features[:, :size]))

    def _whisper(self) -> tuple[Any, Any]:
        """The faster-whisper model and its tokenizer."""
        if self._loaded is None:
            from faster_whisper.tokenizer import Tokenizer

            found = self._model if isinstance(self._model, Model) else find_model(self._model)
            whisper = self._load(found).whisper
            tokenizer = Tokenizer(
                whisper.hf_tokenizer, whisper.model.is_multilingual, task="transcribe", language="en"
            )
            self._loaded = whisper, tokenizer
        return self._loaded


def _phrases(words: Sequence[Word]) -> list[tuple[int, int]]:
    """Words cut into phrases of at most PHRASE_S: at pauses, and after the last full stop that fits."""
    found: list[tuple[int, int]] = []
    first = 0
    while first < len(words):
        last = first + 1
        while (
            last < len(words)
            and words[last].end - words[first].start <= PHRASE_S
            and words[last].start - words[last - 1].end < _PAUSE_S
        ):
            last += 1
        paused = last == len(words) or words[last].start - words[last - 1].end >= _PAUSE_S
        if not paused:
            stops = [n + 1 for n in range(first, last) if words[n].text[-1:] in _STOPS]
            last = stops[-1] if stops else last
        found.append((first, last))
        first = last
    return found


def _dressed(text: str, replaced: Sequence[str]) -> list[str]:
    """The wording with the capital and the closing marks of what it replaces."""
    text = text.strip()
    if not text or not replaced:
        return [text] if text else []
    closing = replaced[-1][len(replaced[-1].rstrip(_MARKS)) :]
    if not text.endswith(tuple(_MARKS)):
        text += closing
    if replaced[0][:1].isupper() and text[:1].islower():
        text = text[0].upper() + text[1:]
    return [text]
