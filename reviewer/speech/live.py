"""Words while he talks: rough, and a few seconds behind.

The samples come from the recorder's writer once they are on the disk, so nothing here can disturb
the recording. When the note has ended, the whole of it is heard again properly.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Protocol

from reviewer.errors import ModelError
from reviewer.records import Word
from reviewer.speech import activity, recogniser
from reviewer.speech.live_cut import Utterance, UtteranceCutter
from reviewer.speech.recogniser import Segment, WhisperRecogniser
from reviewer.speech.sound import RATE

if TYPE_CHECKING:
    from reviewer.speech.decode import Audio

LOADING = "Words appear here as soon as the speech model is loaded."
BEHIND = "The words lag behind this computer's pace; some are left out here, none in the recording."

_IDLE_S = 0.7
_MOST_AT_ONCE_S = 20.0
_MOST_BEHIND_S = 45.0


class Ears(Protocol):
    """What live words need of a recogniser; `recogniser.Recogniser` has it."""

    def hear(self, audio: Audio, *, prompt: str = "", hotwords: str = "", beam: int = 5) -> Iterable[Segment]:
        """Segments of a stretch of sound, 16 kHz mono."""


class LiveWords:
    """Hears a recording as it grows. `feed` is what `record.Recorder` takes as `on_samples`."""

    def __init__(
        self,
        load: Callable[[], Ears],
        *,
        prompt: str = "",
        hotwords: str = "",
        has_voice: Callable[[Audio], bool] | None = None,
    ) -> None:
        """load: makes the recogniser, in this object's own thread. prompt, hotwords: words of the
        trade, handed on to it. has_voice: whether somebody speaks in a piece of sound; the voice
        detector when None.
        """
        self._load = load
        self._prompt = prompt
        self._hotwords = hotwords
        self._has_voice = has_voice or (lambda audio: bool(activity.voiced(audio)))
        self._blocks: queue.SimpleQueue[tuple[int, bytes]] = queue.SimpleQueue()
        self._cutter = UtteranceCutter()
        self._waiting: list[Utterance] = []
        self._words: list[Word] = []
        self._note = LOADING
        self._heard_s = 0.0
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="live-words", daemon=True)
        self._thread.start()

    def feed(self, before: int, block: bytes) -> None:
        """Take the next int16 samples; `before` of them came earlier in the recording. Never waits."""
        self._blocks.put((before, block))

    @property
    def words(self) -> tuple[Word, ...]:
        """The words so far, times in seconds of the recording."""
        return tuple(self._words)

    @property
    def text(self) -> str:
        """The words so far."""
        return " ".join(word.text for word in self.words)

    @property
    def heard_s(self) -> float:
        """Seconds of the recording up to which words are there."""
        return self._heard_s

    @property
    def note(self) -> str:
        """A sentence about why there are no words, or not all; "" when all is well."""
        return self._note

    def close(self, timeout_s: float = 5.0) -> None:
        """Stop. What is being heard this moment may still be finished."""
        self._stop.set()
        self._thread.join(timeout_s)

    def _run(self) -> None:
        try:
            ears = self._load()
            self._note = ""
            while not self._stop.is_set():
                self._collect()
                if self._waiting and not self._stop.is_set():
                    self._hear(ears, self._next())
        except (ModelError, RuntimeError) as error:
            # CTranslate2 raises RuntimeError; the recording goes on without words
            self._note = f"No words while you talk: {error}"
            self._waiting.clear()

    def _collect(self) -> None:
        """Cut up all that has come; wait for more only where nothing is waiting to be heard."""
        import numpy as np

        try:
            before, block = self._blocks.get(timeout=0.0 if self._waiting else _IDLE_S)
        except queue.Empty:
            if not self._waiting:  # nothing comes any more: a pause of the recorder, or its end
                self._waiting += self._cutter.flush()
            return
        while True:
            self._waiting += self._cutter.feed(before, np.frombuffer(block, np.int16))
            try:
                before, block = self._blocks.get_nowait()
            except queue.Empty:
                return

    def _next(self) -> Utterance:
        """The next utterance, and those waiting behind it that fit into one pass with it."""
        self._leave_out()
        found = self._waiting.pop(0)
        while self._waiting:
            later = self._waiting[0]
            apart = later.start - found.end
            if not 0 <= apart <= later.context or (later.end - found.start) / RATE > _MOST_AT_ONCE_S:
                break
            found = found.joined(self._waiting.pop(0))
        return found

    def _leave_out(self) -> None:
        behind_s = (self._waiting[-1].end - self._waiting[0].start) / RATE
        if behind_s <= _MOST_BEHIND_S:
            return
        end = self._waiting[-1].end
        self._waiting = [one for one in self._waiting if (end - one.start) / RATE <= _MOST_AT_ONCE_S]
        last = self._words[-1].end if self._words else 0.0
        self._words.append(Word("…", last, last, 0.0))
        self._note = BEHIND

    def _hear(self, ears: Ears, utterance: Utterance) -> None:
        import numpy as np

        audio = utterance.pcm.astype(np.float32) / 32768.0
        if self._has_voice(audio[utterance.context :]):
            offset_s = (utterance.start - utterance.context) / RATE
            segments = ears.hear(audio, prompt=self._prompt, hotwords=self._hotwords, beam=1)
            found = [word for segment in segments for word in segment.words]
            begins_s = utterance.context / RATE
            self._words += [
                Word(word.text, word.start + offset_s, word.end + offset_s, word.probability)
                for word in found
                if (word.start + word.end) / 2 >= begins_s
            ]
        self._heard_s = utterance.end / RATE


def whisper_ears(model: str | None = None) -> Ears:
    """The default recogniser for live words, on half of the processors: the rest are for recording.

    Raises ModelError where the model cannot be used.
    """
    from reviewer.speech.models import find_model

    return WhisperRecogniser(find_model(model), threads=max(1, recogniser.usable_processors() // 2))
