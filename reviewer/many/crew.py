"""Processes of this machine that hear and read notes side by side.

Each is told one note at a time through a pipe of its own, so that it is always known which note a process
that dies had in hand: that note is tried once more by a new one, and given up when that dies too. A process
whose pipe is closed, because the program was killed, ends by itself.
"""

from __future__ import annotations

import multiprocessing
import signal
import time
from collections import Counter, deque
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from typing import Any

from reviewer.errors import InputError, ReviewerError
from reviewer.many.work import Desk, Result, Shared, Task, Tell, share_done
from reviewer.pipeline.grade import ShouldStop

_ASK_EVERY_S = 0.2
_TRIES = 2
_DEAD_STARTS = 3
"""Processes that end before they are ready, one after another, until nobody is started any more."""


@dataclass
class _Member:
    process: BaseProcess
    pipe: Connection
    ready: bool = False
    task: Task | None = None


class Crew:
    """So many processes, the processors shared out among them."""

    def __init__(self, members: int, processors: int) -> None:
        """processors: of all of them together; each may use its share."""
        self.members = max(1, members)
        self.processors = max(1, processors // self.members)

    def run(
        self, tasks: Sequence[Task], shared: Shared, *, tell: Tell, should_stop: ShouldStop
    ) -> Iterator[Result]:
        """See `Hands.run`."""
        shift = _Shift(tasks, shared, self.processors, min(self.members, len(tasks)), tell)
        try:
            yield from shift.results(should_stop)
        finally:
            shift.end()


class _Shift:
    """One run of a crew."""

    def __init__(
        self, tasks: Sequence[Task], shared: Shared, processors: int, members: int, tell: Tell
    ) -> None:
        # a fork would take over locks held by the threads of this process
        self._make = multiprocessing.get_context("spawn")
        self._left = deque(tasks)
        self._shared = shared
        self._each = processors
        self._tell = tell
        self._tries: Counter[int] = Counter()
        self._dead_starts = 0
        self._stopping = False
        self._members: list[_Member] = []
        for _ in range(members):
            self._start()

    def results(self, should_stop: ShouldStop) -> Iterator[Result]:
        while self._left or any(member.task for member in self._members):
            if not self._stopping and should_stop():
                self._stop()
            if self._stopping and not any(member.task for member in self._members):
                return
            found = wait([member.pipe for member in self._members], timeout=_ASK_EVERY_S)
            for member in [one for one in self._members if one.pipe in found]:
                yield from self._hear_from(member)

    def end(self) -> None:
        """End every process: an idle one by itself, one that still works at once."""
        for member in self._members:
            if member.task is None:
                with suppress(OSError):
                    member.pipe.send(None)
            else:
                member.process.kill()
        for member in self._members:
            member.process.join(5)
            if member.process.is_alive():
                member.process.kill()
                member.process.join()
            member.pipe.close()

    def _start(self) -> None:
        mine, theirs = self._make.Pipe()
        process = self._make.Process(
            target=_work, args=(theirs, self._shared, self._each), name="reading", daemon=True
        )
        process.start()
        # the other end must be the process's alone: only then does its death close the pipe
        theirs.close()
        self._members.append(_Member(process, mine))

    def _stop(self) -> None:
        self._stopping = True
        self._left.clear()
        for member in self._members:
            if member.task is not None:
                with suppress(OSError):
                    member.pipe.send(None)

    def _hear_from(self, member: _Member) -> Iterator[Result]:
        try:
            told: Any = member.pipe.recv()
        except (EOFError, OSError):
            yield from self._bury(member)
            return
        if isinstance(told, tuple):
            self._tell(*told)
            return
        if isinstance(told, Result):
            member.task = None
            yield told
        else:
            member.ready, self._dead_starts = True, 0
        self._give(member)

    def _give(self, member: _Member) -> None:
        if self._left:
            member.task = self._left.popleft()
            self._tries[member.task.number] += 1
            # a pipe that is broken is noticed where it is read
            with suppress(OSError):
                member.pipe.send(member.task)

    def _bury(self, member: _Member) -> Iterator[Result]:
        """A process is dead: give its note to a new one, or give it up."""
        member.process.join()
        member.pipe.close()
        self._members.remove(member)
        if not member.ready:
            self._dead_starts += 1
            if self._dead_starts >= _DEAD_STARTS:
                raise ReviewerError(
                    f"the processes that should hear the notes end at once ({_end_of(member.process)}); "
                    "grade one at a time (--jobs 1)"
                )
        task = member.task
        if task is not None and not self._stopping:
            if self._tries[task.number] < _TRIES:
                self._left.appendleft(task)
            else:
                yield Result(task.number, error=_killer(task, member.process))
        elif task is not None:
            yield Result(task.number, stopped=True)
        if self._left:
            self._start()


def _killer(task: Task, process: BaseProcess) -> InputError:
    return InputError(
        f"{task.path.name} ended the process that read it, twice ({_end_of(process)}); the file is damaged "
        "or the memory too small: try it alone, with --jobs 1"
    )


def _end_of(process: BaseProcess) -> str:
    code = process.exitcode
    if code is not None and code < 0:
        with suppress(ValueError):
            return signal.Signals(-code).name
    return f"exit code {code}"


def _work(pipe: Connection, shared: Shared, processors: int) -> None:
    """A member's life: a note, its result, the next one, until it is told None or the pipe is closed."""
    # Ctrl-C at a terminal goes to every process of it: the one that talks to the user decides
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    desk = Desk(shared, processors)
    with suppress(EOFError, OSError):
        pipe.send(None)
        while (task := pipe.recv()) is not None:
            told = _Told(pipe, task.number)
            pipe.send(_done(desk, task, told))
            if told.stopped:
                return


def _done(desk: Desk, task: Task, told: _Told) -> Result:
    try:
        return desk.do(task, progress=told.progress, should_stop=told.should_stop)
    except OSError:
        raise  # the pipe is closed
    except Exception as error:
        # a fault of the program itself must not cost the other notes
        why = f"{type(error).__name__}: {error}"
        unforeseen = f"{task.path.name} could not be read ({why}); grade it alone to see more"
        return Result(task.number, error=InputError(unforeseen))


class _Told:
    """The pipe during one note: progress out, the word to stop in."""

    def __init__(self, pipe: Connection, number: int) -> None:
        self._pipe = pipe
        self._number = number
        self._next_s = 0.0
        self.stopped = False

    def progress(self, stage: str, done: float, total: float) -> None:
        now = time.monotonic()
        if now >= self._next_s:
            self._next_s = now + _ASK_EVERY_S
            self._pipe.send((self._number, share_done(stage, done, total)))

    def should_stop(self) -> bool:
        if not self.stopped:
            try:
                self.stopped = self._pipe.poll() and self._pipe.recv() is None
            except (EOFError, OSError):
                self.stopped = True
        return self.stopped
