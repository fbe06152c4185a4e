"""One pass over a recording: its chunks heard side by side, kept as they are done.

A chunk is heard without regard to the others, so the words are the same whether chunks are heard
one after another or two at a time; on two processors two at a time takes about 0.6 of the time.
Callbacks are only called in the caller's thread.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from pathlib import Path
from typing import TYPE_CHECKING

from reviewer.errors import Stopped
from reviewer.records import Word
from reviewer.speech import activity, decode
from reviewer.speech.activity import Chunk, Packed
from reviewer.speech.kept import Done, Keeper
from reviewer.speech.listen import listen
from reviewer.speech.models import Model
from reviewer.speech.recogniser import Loader, Recogniser
from reviewer.speech.transcript import Gap, Settings

if TYPE_CHECKING:
    from reviewer.speech.decode import Audio

Progress = Callable[[float, float], None]
"""Called with seconds done and seconds in all."""

ShouldStop = Callable[[], bool]
"""Asked often; a true answer ends the pass, which can be gone on with later."""

_ASK_EVERY_S = 0.2
_FOREIGN = 0.6  # below this the detector's word for another language is not worth repeating


class Pass:
    """One pass over a recording, from where the last one stopped."""

    def __init__(
        self,
        path: Path,
        duration_s: float,
        keeper: Keeper,
        model: Model,
        settings: Settings,
        load: Loader,
    ) -> None:
        """duration_s: for the progress only. load: called at the first chunk with a voice."""
        self._path = path
        self._duration_s = duration_s
        self._keeper = keeper
        self._model = model
        self._settings = settings
        self._load = load
        self._ears: Recogniser | None = None
        self._language_asked = False
        self._ended = threading.Event()
        self._under_way: dict[Future[Done], Chunk] = {}
        self._reached_s: dict[float, float] = {}  # seconds heard so far, by a chunk's start
        self._told_s = 0.0

    def run(self, progress: Progress | None, should_stop: ShouldStop | None) -> list[Done]:
        """Hear what is not heard yet. Every chunk of the recording, in order.

        Raises as `reviewer.speech.transcribe.hear` does.
        """
        known = self._keeper.chunks()
        done = {chunk.first: chunk for chunk in _leading(known)}
        self._told_s = max((chunk.last for chunk in done.values()), default=0) / decode.RATE
        self._report(progress, should_stop)
        recording = decode.Recording(self._path)
        skip = max((chunk.last for chunk in done.values()), default=0)
        with ThreadPoolExecutor(thread_name_prefix="hearing") as pool:
            try:
                for chunk in activity.chunks(recording.blocks(), skip_samples=skip):
                    first = round(chunk.start * decode.RATE)
                    if first in known and known[first].last == first + len(chunk.audio):
                        done[first] = known[first]
                        continue
                    future = pool.submit(
                        self._hear, chunk, _damaged(recording.holes, chunk), self._asks(chunk)
                    )
                    self._under_way[future] = chunk
                    self._settle(done, self._side_by_side() - 1, progress, should_stop)
                self._settle(done, 0, progress, should_stop)
            finally:
                self._ended.set()
                self._keep_what_is_done()
        return [done[first] for first in sorted(done)]

    def _side_by_side(self) -> int:
        return max(1, int(getattr(self._ears, "workers", 1)))

    def _asks(self, chunk: Chunk) -> bool:
        """Whether to ask for the language in this chunk: in the first one with a voice. Loads the model."""
        if not chunk.voice:
            return False
        if self._ears is None:
            self._ears = self._load(self._model)
        asks, self._language_asked = not self._language_asked, True
        return asks

    def _settle(
        self, done: dict[int, Done], most: int, progress: Progress | None, should_stop: ShouldStop | None
    ) -> None:
        """Wait until at most `most` chunks are under way; keep those that are done."""
        while len(self._under_way) > most:
            ready, _ = wait(self._under_way, timeout=_ASK_EVERY_S, return_when=FIRST_COMPLETED)
            for future in ready:
                del self._under_way[future]
                heard = future.result()
                self._keeper.add(heard)
                done[heard.first] = heard
            self._report(progress, should_stop)

    def _keep_what_is_done(self) -> None:
        """After a stop: let the chunks under way end at their next word, keep those that were through."""
        wait(self._under_way)
        for future in self._under_way:
            if future.exception() is None:
                self._keeper.add(future.result())
        self._under_way.clear()

    def _report(self, progress: Progress | None, should_stop: ShouldStop | None) -> None:
        if should_stop is not None and should_stop():
            raise Stopped(
                f"stopped while hearing {self._path.name}; what was heard is kept, hear it again to go on"
            )
        # hearing something again goes back; a progress bar must not
        self._told_s = min(max(self._told_s, sum(self._reached_s.values())), self._duration_s)
        if progress is not None:
            progress(self._told_s, self._duration_s)

    def _hear(self, chunk: Chunk, damaged: tuple[Gap, ...], asks_language: bool) -> Done:
        """One chunk; runs in a thread of its own."""
        import numpy as np

        words: list[Word] = []
        gaps: list[Gap] = []
        note = ""
        if chunk.voice and self._ears is not None:
            if asks_language:
                note = language_note(self._ears.language(_voice_only(chunk)))
            words, gaps = listen(chunk, self._ears, self._settings, tick=lambda s: self._tick(chunk, s))
        self._tick(chunk, chunk.end - chunk.start)
        first = round(chunk.start * decode.RATE)
        return Done(
            first=first,
            last=first + len(chunk.audio),
            words=tuple(_word_at(word, chunk.start) for word in words),
            gaps=(*(_gap_at(gap, chunk.start) for gap in gaps), *damaged),
            peak=float(np.abs(chunk.audio).max()),
            voice_s=sum(stretch.length for stretch in chunk.voice),
            language_note=note,
        )

    def _tick(self, chunk: Chunk, seconds: float) -> None:
        if self._ended.is_set():
            raise Stopped("the pass has ended")
        self._reached_s[chunk.start] = max(seconds, self._reached_s.get(chunk.start, 0.0))


def language_note(found: tuple[str, float]) -> str:
    """One sentence when talk sounds like another language than English, else "".

    found: language code and probability.
    """
    code, probability = found
    if code == "en" or probability < _FOREIGN:
        return ""
    return f"The talk sounds like another language ({code}, {probability:.0%}); it was heard as English."


def _leading(known: dict[int, Done]) -> list[Done]:
    """The chunks that follow one another from the start of the recording."""
    found: list[Done] = []
    at = 0
    while at in known:
        found.append(known[at])
        at = known[at].last
    return found


def _voice_only(chunk: Chunk) -> Audio:
    return Packed(chunk.audio, activity.padded(chunk.voice, len(chunk.audio) / decode.RATE)).audio


def _word_at(word: Word, offset_s: float) -> Word:
    start, end = round(word.start + offset_s, 2), round(word.end + offset_s, 2)
    return Word(word.text, start, end, round(word.probability, 4))


def _gap_at(gap: Gap, offset_s: float) -> Gap:
    return Gap(round(gap.start + offset_s, 2), round(gap.end + offset_s, 2), gap.reason, gap.heard)


def _damaged(holes: list[tuple[float, float]], chunk: Chunk) -> tuple[Gap, ...]:
    """The holes that begin in this chunk."""
    return tuple(
        Gap(round(start, 2), round(end, 2), "damaged")
        for start, end in holes
        if chunk.start <= start < chunk.end
    )
