"""Record a note: samples from a microphone (or any other source) to a file, as they are spoken.

One thread belongs to the source and only takes samples in; another (`record_writer`) puts them on
the disk and looks after the source. The clock is the count of samples. Nothing that goes wrong
loses what is written.
"""

from __future__ import annotations

import shutil
import threading
from collections import deque
from collections.abc import Callable
from pathlib import Path

from reviewer.errors import SoundError
from reviewer.speech import decode, record_file, record_notes
from reviewer.speech.record_file import NoteFile
from reviewer.speech.record_level import InputWatch, Level
from reviewer.speech.record_notes import EventLog, Mark, OpenNote, Recording
from reviewer.speech.record_state import Arrivals, Source, State, Status
from reviewer.speech.record_writer import NoteWriter
from reviewer.speech.sound import RATE, SAMPLE_BYTES

PREROLL_S = 0.5
"""Sound kept from before the key was pressed: the first syllable comes while the finger still moves."""

MAX_SAMPLES = int(decode.MAX_HOURS * 3600 * RATE)
"""Longest note that can be read again."""

STALL_S = 1.0
"""A device that gives nothing for this long is in trouble."""

_LOW_DISK_S = 600.0
_NOTHING = "Nothing was recorded, so there is no note to keep."
_ENDED = {State.FINISHED, State.CANCELLED, State.CLOSED}


class Recorder:
    """One note. `open`, `start`, then `pause`/`go_on`/`mark` at will, and `finish` or `cancel`."""

    def __init__(
        self,
        source: Source,
        *,
        out: Path | None = None,
        on_samples: Callable[[int, bytes], None] | None = None,
    ) -> None:
        """out: the file to write; a name in the library folder is made when it is None.
        on_samples: gets each block once it is written, with the number of samples before it; it
        must return at once.
        """
        self._source = source
        self._out = out
        self._resume: Path | None = None
        self._on_samples = on_samples
        self._lock = threading.RLock()  # state, counts and the ring
        self._source_lock = threading.RLock()  # opening and closing of the source
        self._state = State.READY
        self._watch = InputWatch()
        self._arrivals = Arrivals()
        self._ring: deque[bytes] = deque()
        self._captured = 0
        self._marks: list[Mark] = []
        self._problem = ""
        self._problems: list[str] = []
        self._ended = ""
        self._path: Path | None = None
        self._writer: NoteWriter | None = None
        self._log: EventLog | None = None
        self._entry: OpenNote | None = None
        self._open_number = 0  # 0 while the source is closed; else which opening this is
        self._openings = 0

    @property
    def path(self) -> Path | None:
        """The file recorded to; None before the start."""
        return self._path

    @property
    def source(self) -> Source:
        """Where the samples come from."""
        return self._source

    def open(self) -> None:
        """Begin to listen: levels show and the pre-roll fills, but nothing is recorded yet.

        A source that is no device is recorded from its first sample on.
        Raises SoundError where the source cannot be opened.
        """
        if not self._source.live:
            self._begin()
        try:
            self._open_source()
        except Exception:
            self._abandon()
            raise

    def resume(self, path: Path) -> None:
        """Before the start: go on with an unfinished note in its own file, not with a new one."""
        if self._state is State.READY:
            self._resume = path

    def start(self) -> None:
        """Begin to record, with the last half second before this call.

        Raises SoundError where the microphone has gone since, InputError, LibraryError or SoundError
        where the file cannot be made.
        """
        if self._state is not State.READY:
            return
        if not self._open_number:
            self._open_source()
            self._problem = ""
        self._begin()

    def pause(self) -> None:
        """Stop taking sound in; what was said so far is kept."""
        with self._lock:
            if self._state is State.RECORDING:
                self._set_paused("pause")

    def go_on(self) -> None:
        """Record again after a pause, a lost microphone or a full disk.

        Raises SoundError where the source is still not there or the disk still full.
        """
        if self._state is not State.PAUSED or self._writer is None:
            return
        if self._captured >= MAX_SAMPLES or not self._writer.retry():
            raise SoundError(self._problem)
        if not self._open_number:
            self._open_source()
        with self._lock:
            self._problem = ""
            self._event("go_on")
            self._take_ring()
            self._state = State.RECORDING

    def change_source(self, source: Source) -> None:
        """Listen to another microphone, also in the middle of a note; the note goes on in one file.

        Raises SoundError where it cannot be opened; the old one is then closed, and the recorder
        paused.
        """
        with self._lock:
            was_recording = self._state is State.RECORDING
            if was_recording:
                self._set_paused("change", to=source.name)
        with self._source_lock:
            self._close_source()
            self._source = source
            self._ended = ""
            self._watch = InputWatch()
            self._open_source()
        if was_recording:
            self.go_on()

    def mark(self, label: str = "") -> Mark | None:
        """Mark this moment; None while nothing is recorded. It is on the disk when this returns."""
        with self._lock:
            if self._state not in {State.RECORDING, State.PAUSED}:
                return None
            mark = Mark(len(self._marks) + 1, self._captured / RATE, label)
            self._marks.append(mark)
            self._event("mark", **({"label": label} if label else {}))
            return mark

    def finish(self) -> Recording:
        """End the note and keep it. Raises SoundError where not one sample was recorded."""
        samples, path = self._end(State.FINISHED)
        return Recording(path, samples / RATE, tuple(self._marks), False, tuple(self._problems))

    def cancel(self) -> Recording:
        """End the note and move it to the trash folder, from which it can be taken back.

        Raises SoundError where nothing was recorded, LibraryError where it cannot be moved.
        """
        samples, path = self._end(State.CANCELLED)
        path = record_notes.trash(path)
        return Recording(path, samples / RATE, tuple(self._marks), True, tuple(self._problems))

    def close(self) -> None:
        """Let go without a decision: a note begun stays among the unfinished ones."""
        if self._state in _ENDED:
            return
        self._shut("left")
        if self._entry:
            self._entry.leave()
        self._state = State.CLOSED

    def status(self) -> Status:
        """How it stands now."""
        with self._lock:
            return Status(
                state=self._state,
                clock_s=self._captured / RATE,
                saved_s=self._writer.saved_samples / RATE if self._writer else 0.0,
                level=self._watch.level if self._open_number and not self._stalled() else Level(),
                warnings=(*self._source_warnings(), *self._disk_warnings()),
                problem=self._problem,
                ended=self._ended,
                marks=tuple(self._marks),
            )

    # -- beginning and ending ------------------------------------------------------------------

    def _begin(self) -> None:
        path = self._resume or record_notes.new_path(self._out)
        entry = OpenNote(path)
        try:
            file = self._taken_up(path) if self._resume else NoteFile.create(path)
            self._log = EventLog(path)
        except OSError as error:
            self._give_up(entry)
            raise SoundError(f"{path} cannot be written ({error.strerror}); choose another place.") from error
        except Exception:
            self._give_up(entry)
            raise
        self._entry, self._path = entry, path
        writer = NoteWriter(
            file,
            refused=lambda sentence: self._stop_itself("disk", sentence),
            each_round=self._look_after_source,
            on_samples=self._on_samples,
        )
        with self._lock:
            self._writer = writer
            self._event("resume" if self._resume else "start", source=self._source.name, rate=RATE)
            self._take_ring()
            self._state = State.RECORDING

    def _taken_up(self, path: Path) -> NoteFile:
        if not record_file.recover(path).ours:
            raise SoundError(f"{path.name} is in another program's form: it can be kept, not gone on with.")
        file = NoteFile.append(path)
        self._captured = file.samples
        self._marks = list(record_notes.read_marks(path))
        return file

    def _give_up(self, entry: OpenNote) -> None:
        if self._resume:
            entry.leave()
        else:
            entry.finish()

    def _end(self, how: State) -> tuple[int, Path]:
        """Samples and path of the note, its files closed and its entry struck."""
        if self._state in _ENDED:
            raise SoundError("This note has ended already.")
        self._shut("finish" if how is State.FINISHED else "cancel")
        self._state = how
        if self._writer is None or self._path is None or self._entry is None:
            raise SoundError(_NOTHING)
        self._entry.finish()
        if not self._writer.samples:
            record_notes.remove_empty(self._path)
            raise SoundError(_NOTHING)
        return self._writer.samples, self._path

    def _shut(self, event: str) -> None:
        """Stop the source, write what it gave, close the files."""
        self._close_source()
        with self._lock:
            if self._state is State.RECORDING:
                self._state = State.PAUSED
        if self._writer is not None and self._log is not None:
            self._writer.stop()
            self._log.add(event, self._writer.samples)
            self._log.close()

    def _abandon(self) -> None:
        """Undo a beginning whose source could not be opened."""
        self._shut("left")
        self._state = State.CLOSED
        if self._entry is None or self._path is None or self._writer is None:
            return
        self._give_up(self._entry)
        if not self._writer.samples:
            record_notes.remove_empty(self._path)

    # -- taking sound in: called by the source's thread, so quick and never raising ------------

    def _open_source(self) -> None:
        with self._source_lock:
            self._openings += 1
            number = self._openings
            self._arrivals = Arrivals()
            self._open_number = number
            try:
                self._source.open(
                    lambda block: self._take(number, block),
                    lambda why: self._source_ended(number, why),
                )
            except Exception:
                self._open_number = 0
                raise

    def _close_source(self) -> None:
        with self._source_lock:
            if self._open_number:
                self._source.close()
                self._open_number = 0

    def _take(self, number: int, block: bytes) -> None:
        import numpy as np

        with self._lock:
            if number != self._open_number:
                return  # a device that was closed, and did not notice
            self._watch.feed(np.frombuffer(block, np.int16))
            self._arrivals.add(len(block) // SAMPLE_BYTES)
            if self._state is State.RECORDING:
                self._record(block)
            elif self._source.live:
                self._ring.append(block)
                while sum(map(len, self._ring)) - len(self._ring[0]) >= PREROLL_S * RATE * SAMPLE_BYTES:
                    self._ring.popleft()

    def _record(self, block: bytes) -> None:
        if self._writer is None:
            return
        self._captured += len(block) // SAMPLE_BYTES
        self._writer.put(block)
        if self._captured >= MAX_SAMPLES:
            self._stop_itself("long", f"A note holds at most {decode.MAX_HOURS:g} hours: finish this one.")

    def _take_ring(self) -> None:
        preroll = b"".join(self._ring)[-int(PREROLL_S * RATE) * SAMPLE_BYTES :]
        self._ring.clear()
        if preroll:
            self._record(preroll)

    def _source_ended(self, number: int, why: str) -> None:
        with self._lock:
            if number == self._open_number:
                self._ended = why

    # -- what goes wrong -----------------------------------------------------------------------

    def _look_after_source(self) -> None:
        """Tell a device that was taken away from one that is only slow."""
        with self._source_lock:
            if not self._stalled() or self._source.alive():
                return
            self._close_source()
            self._stop_itself(
                "lost",
                f'"{self._source.name}" is gone: what was said until then is kept. Plug it in again or '
                f"choose another input, then go on; or finish.",
            )

    def _stop_itself(self, event: str, sentence: str) -> None:
        with self._lock:
            if self._state is State.RECORDING:
                self._set_paused(event, why=sentence)
            self._problem = sentence
            if sentence not in self._problems:
                self._problems.append(sentence)

    def _set_paused(self, event: str, **more: str) -> None:
        self._state = State.PAUSED
        self._ring.clear()
        self._event(event, **more)

    def _event(self, event: str, **more: object) -> None:
        if self._log is not None:
            self._log.add(event, self._captured, **more)

    def _stalled(self) -> bool:
        return self._source.live and bool(self._open_number) and self._arrivals.silent_s > STALL_S

    def _source_warnings(self) -> tuple[str, ...]:
        if not self._source.live or not self._open_number:
            return ()
        if self._stalled():
            return (f'Nothing arrives from "{self._source.name}": is it switched on?',)
        lost_s = self._arrivals.lost_s
        lost = (f"About {lost_s:.0f} s of sound never arrived: this computer is too busy.",) if lost_s else ()
        return (*self._watch.warnings(), *lost)

    def _disk_warnings(self) -> tuple[str, ...]:
        if self._path is None or self._state not in {State.RECORDING, State.PAUSED}:
            return ()
        try:
            room_s = shutil.disk_usage(self._path.parent).free / (RATE * SAMPLE_BYTES)
        except OSError:
            return ()  # the drive is gone; the next write says so with what is kept
        if room_s > _LOW_DISK_S:
            return ()
        return (f"The disk is nearly full: room for about {room_s / 60:.0f} more minutes.",)
