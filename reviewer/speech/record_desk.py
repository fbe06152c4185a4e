"""One sitting at the microphone: the choice of input, the recorder, the words so far, what is shown.

A screen, or a plain loop without one, calls these functions and paints `View`; it decides nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from pathlib import Path

from reviewer.errors import SoundError
from reviewer.speech import record_notes, sound
from reviewer.speech.decode import clock
from reviewer.speech.follow import QUIET_S, Follower
from reviewer.speech.follow_wav import SampleForm
from reviewer.speech.live import Ears, LiveWords
from reviewer.speech.record import Recorder
from reviewer.speech.record_level import FLOOR_DBFS, REFERENCE, Level
from reviewer.speech.record_mic import Microphone
from reviewer.speech.record_notes import Mark, Recording, Unfinished
from reviewer.speech.record_state import Source, State

_WORDS_SHOWN = 400


class Action(Enum):
    """What the coach can do at a moment."""

    RECORD = "record"
    PAUSE = "pause"
    GO_ON = "go on"
    MARK = "mark"
    FINISH = "finish"
    CANCEL = "cancel"
    CHOOSE = "choose input"


@dataclass(frozen=True, slots=True)
class View:
    """Everything that is shown at one moment, in words.

    headline: what is going on. clock_s: seconds recorded. level: loudness now, None where there
    is no microphone. warnings: sentences about what is wrong. words: the talk so far, rough.
    words_note: why there are none. marks: those dropped. can: what the coach can do now.
    """

    state: State
    headline: str
    clock_s: float
    input_name: str
    level: Level | None
    warnings: tuple[str, ...]
    words: str
    words_note: str
    marks: tuple[Mark, ...]
    can: frozenset[Action]

    @property
    def clock(self) -> str:
        """The clock as it is shown: 0:06.5."""
        return clock(self.clock_s)

    @property
    def marks_line(self) -> str:
        """The marks as they are shown, the newest ten."""
        if not self.marks:
            return "No marks yet"
        shown = "  ".join(f"{mark.number}: {clock(mark.at_s)}" for mark in self.marks[-10:])
        return f"Marks  {'… ' if len(self.marks) > 10 else ''}{shown}"


@dataclass(frozen=True, slots=True)
class InputChoice:
    """One line of the list of microphones. device: None for the system's default."""

    label: str
    device: sound.SoundDevice | None


class Desk:
    """A sitting. `open` it, act, and end with `finish`, `cancel` or `close`."""

    def __init__(
        self,
        source: Source,
        *,
        out: Path | None = None,
        load_ears: Callable[[], Ears] | None = None,
        prompt: str = "",
        hotwords: str = "",
    ) -> None:
        """source: a microphone or a followed file. out: the file to record to. load_ears: makes the
        recogniser of the words shown while he talks; none are shown when it is None.
        """
        self._out = out
        self._load_ears = load_ears
        self._prompt = prompt
        self._hotwords = hotwords
        self._live: LiveWords | None = None
        self._resumed: Unfinished | None = None
        self._recorder = Recorder(source, out=out, on_samples=self._pass_on)

    @property
    def follows(self) -> bool:
        """Whether another program's recording is taken, not a microphone."""
        return not self._recorder.source.live

    def open(self) -> None:
        """Begin to listen (and, when following, to record).

        Raises InputError for a name that cannot be recorded to, SoundError without a microphone.
        """
        record_notes.new_path(self._out)  # better said now than after the talk
        self._recorder.open()
        if self._load_ears is not None:
            self._live = LiveWords(self._load_ears, prompt=self._prompt, hotwords=self._hotwords)

    def input_choices(self) -> tuple[InputChoice, ...]:
        """The system's default and every microphone, each with a name of its own."""
        source = self._recorder.source
        now = source.device if isinstance(source, Microphone) else None
        devices = sound.list_inputs()
        names = [device.name for device in devices]
        found = [InputChoice(_now("System default", now is None), None)]
        for device in devices:
            name = device.name if names.count(device.name) == 1 else f"{device.name} ({device.id})"
            found.append(InputChoice(_now(name, device == now), device))
        return tuple(found)

    def choose(self, device: sound.SoundDevice | None) -> None:
        """Listen to another microphone, None for the system's default; the note goes on.

        Raises SoundError where it cannot be opened.
        """
        self._recorder.change_source(Microphone(device))

    def unfinished(self) -> tuple[Unfinished, ...]:
        """Notes that a crash or a closed window left, newest first."""
        return () if self.follows else record_notes.unfinished()

    def resume(self, note: Unfinished) -> None:
        """Go on with an unfinished note, in its own file, once recording starts."""
        self._resumed = note
        self._recorder.resume(note.path)

    def keep(self, note: Unfinished) -> Recording:
        """Take an unfinished note as finished. Raises InputError where it cannot be repaired."""
        return record_notes.recover(note.path)

    def toggle(self) -> None:
        """Record, pause, go on: whichever comes next. Raises a ReviewerError where it cannot."""
        state = self._recorder.status().state
        if state is State.READY:
            self._recorder.start()
        elif state is State.RECORDING:
            self._recorder.pause()
        elif state is State.PAUSED:
            self._recorder.go_on()

    def mark(self) -> Mark | None:
        """Mark this moment; None while there is nothing to mark."""
        return self._recorder.mark()

    def finish(self) -> Recording:
        """End and keep the note. Raises SoundError where nothing was recorded."""
        why = self._recorder.status().ended
        try:
            return self._recorder.finish()
        except SoundError as error:
            raise SoundError(f"{why} {error}".strip()) from error

    def cancel(self) -> Recording:
        """End the note and move it to the trash. Raises as `Recorder.cancel`."""
        return self._recorder.cancel()

    def close(self) -> None:
        """Let go of everything; a note that was begun and not ended stays an unfinished one."""
        self._recorder.close()
        if self._live is not None:
            self._live.close()

    @property
    def ended(self) -> bool:
        """Whether a followed recording has come to its end and waits to be finished."""
        return self._recorder.status().ended != ""

    @property
    def begun(self) -> bool:
        """Whether there is anything to lose."""
        return self._recorder.status().state in {State.RECORDING, State.PAUSED}

    def view(self) -> View:
        """What to show now."""
        status = self._recorder.status()
        clock_s = status.clock_s
        if status.state is State.READY and self._resumed is not None:
            clock_s = self._resumed.duration_s
        problem = (status.problem,) if status.problem else ()
        live = self._live
        return View(
            state=status.state,
            headline=self._headline(status.state, status.ended),
            clock_s=clock_s,
            input_name=self._recorder.source.name,
            level=status.level if self._recorder.source.live else None,
            warnings=(*problem, *status.warnings),
            words=" ".join(word.text for word in live.words[-_WORDS_SHOWN:]) if live else "",
            words_note=live.note if live else "",
            marks=status.marks if not self._waiting_to_resume(status.state) else self._old_marks(),
            can=self._can(status.state),
        )

    def _waiting_to_resume(self, state: State) -> bool:
        return state is State.READY and self._resumed is not None

    def _old_marks(self) -> tuple[Mark, ...]:
        return self._resumed.marks if self._resumed else ()

    def _headline(self, state: State, ended: str) -> str:
        if ended:
            return ended
        if self.follows and state is State.RECORDING:
            return f"Taking what is recorded to {self._recorder.source.name}"
        if state is State.READY and self._resumed:
            return f"Ready to go on with {self._resumed.path.name}"
        return {State.READY: "Ready", State.RECORDING: "Recording", State.PAUSED: "Paused"}.get(
            state, "Ended"
        )

    def _can(self, state: State) -> frozenset[Action]:
        found = {
            State.READY: {Action.RECORD, Action.CHOOSE},
            State.RECORDING: {Action.PAUSE, Action.MARK, Action.FINISH, Action.CANCEL, Action.CHOOSE},
            State.PAUSED: {Action.GO_ON, Action.MARK, Action.FINISH, Action.CANCEL, Action.CHOOSE},
        }.get(state, set())
        return frozenset(found - {Action.CHOOSE} if self.follows else found)

    def _pass_on(self, before: int, block: bytes) -> None:
        if self._live is not None:
            self._live.feed(before, block)


def make_desk(
    *,
    input_name: str | None = None,
    follow: Path | None = None,
    quiet_s: float = QUIET_S,
    raw: SampleForm | None = None,
    out: Path | None = None,
    load_ears: Callable[[], Ears] | None = None,
    prompt: str = "",
    hotwords: str = "",
) -> Desk:
    """A sitting at a microphone (by name or key; the system's default when None), or at a file or
    pipe that another program records to.

    Raises SoundError for an input that is not there, InputError for a file that is not.
    """
    source: Source
    if follow is not None:
        source = Follower(follow.expanduser(), quiet_s=quiet_s, raw=raw)
    else:
        source = Microphone(sound.find_input(input_name) if input_name else None)
    return Desk(source, out=out, load_ears=load_ears, prompt=prompt, hotwords=hotwords)


@dataclass(frozen=True, slots=True)
class Meter:
    """A level drawn in cells. filled: cells up to the RMS. peak: the cell of the peak, None below
    the floor. words: the figures, with their reference."""

    filled: int
    peak: int | None
    words: str


TOO_LOUD_DBFS, QUIET_DBFS = -1.0, -30.0
"""Peaks from the one on are cut off; below the other a voice is far from the microphone (common practice,
no source)."""


def loudness(level: Level) -> str:
    """The level in a word, for who does not read decibels."""
    if level.peak_dbfs <= FLOOR_DBFS:
        return "silence"
    if level.peak_dbfs >= TOO_LOUD_DBFS:
        return "too loud"
    return "quiet" if level.peak_dbfs < QUIET_DBFS else "good"


def meter(level: Level, width: int) -> Meter:
    """The level as a bar `width` cells wide, from `FLOOR_DBFS` to full scale."""

    def cell(dbfs: float) -> int:
        share = (max(dbfs, FLOOR_DBFS) - FLOOR_DBFS) / -FLOOR_DBFS
        return min(width, math.floor(share * width + 1e-9))

    peak = max(0, cell(level.peak_dbfs) - 1) if level.peak_dbfs > FLOOR_DBFS else None
    return Meter(
        cell(level.rms_dbfs),
        peak,
        f"peak {_figure(level.peak_dbfs)}  RMS {_figure(level.rms_dbfs)}  {REFERENCE}",
    )


def _figure(dbfs: float) -> str:
    return " -inf" if dbfs == -math.inf else f"{round(dbfs, 1) + 0.0:5.1f}"


def _now(name: str, is_now: bool) -> str:
    return f"{name}  (now)" if is_now else name
