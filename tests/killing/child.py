"""A child process that does one piece of work, says how far it is, and can be killed."""

from __future__ import annotations

import multiprocessing
import os
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from multiprocessing.connection import Connection
from multiprocessing.context import ForkServerProcess
from pathlib import Path
from typing import Any

from reviewer import paths

Tell = Callable[[Any], None]
"""Called by the work with what it has promised to keep, at once when the promise is made."""

LIMIT_S = 120.0
"""No piece of work here takes longer; one that does hangs."""

OUT = "out.txt"
"""The file in the place of the work that gets what it prints."""

_SERVER = multiprocessing.get_context("forkserver")
_SERVER.set_forkserver_preload(["tests.killing.warm"])


def home_of(place: Path) -> Path:
    """The library folder in the place of the work."""
    return place / "home"


class Worker:
    """The process. `told`: what its work said it keeps; `value`: what it gave when it came to its end."""

    def __init__(self, work: Callable[..., Any], place: Path, *more: Any) -> None:
        """work: called in the child as work(place, tell, *more)."""
        ours, theirs = _SERVER.Pipe()
        self._pipe: Connection = ours
        self._process: ForkServerProcess = _SERVER.Process(target=_run, args=(theirs, work, place, more))
        self.told: list[Any] = []
        self.value: Any = None
        self.fault = ""
        self.ended = False
        self._begun = False
        self._process.start()
        theirs.close()

    def wait_begin(self) -> None:
        """Until the work begins."""
        self._listen(time.monotonic() + LIMIT_S, lambda: self._begun)

    def wait(self, seconds: float) -> None:
        """Hear what it says for so long, or until it has come to its end."""
        self._listen(time.monotonic() + seconds, lambda: self.ended)

    def wait_end(self) -> Any:
        """Until its end; returns what it gave. Raises AssertionError where it failed or hangs."""
        self._listen(time.monotonic() + LIMIT_S, lambda: self.ended)
        self.let_go()
        assert self.ended, "it hangs"
        assert not self.fault, self.fault
        return self.value

    def kill(self) -> bool:
        """SIGKILL now; whether it was still at work. What it said before counts."""
        self._process.kill()
        self._process.join()
        self._listen(time.monotonic() + LIMIT_S, lambda: False)
        self._pipe.close()
        return not self.ended

    def let_go(self) -> None:
        """Let a process that has come to its end go; one that has not is killed."""
        if self.ended:
            self._pipe.close()
            self._process.join(LIMIT_S)
        else:
            self.kill()

    def _listen(self, until: float, enough: Callable[[], bool]) -> None:
        while not enough():
            if not self._pipe.poll(max(0.0, until - time.monotonic())):
                return
            try:
                kind, what = self._pipe.recv()
            except (EOFError, OSError):
                return
            self._heard(kind, what)

    def _heard(self, kind: str, what: Any) -> None:
        if kind == "begin":
            self._begun = True
        elif kind == "told":
            self.told.append(what)
        else:
            self._begun = self.ended = True
            self.fault, self.value = (what, None) if kind == "fault" else ("", what)


def done(work: Callable[..., Any], place: Path, *more: Any) -> Any:
    """Run the work to its end in a child; returns what it gave."""
    return Worker(work, place, *more).wait_end()


@contextmanager
def output_to(path: Path) -> Iterator[None]:
    """What this process prints goes to the file, at once."""
    target = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    for stream in (1, 2):
        os.dup2(target, stream)
    os.close(target)
    yield


def _run(pipe: Connection, work: Callable[..., Any], place: Path, more: tuple[Any, ...]) -> None:
    os.environ[paths.HOME_VARIABLE] = str(home_of(place))
    os.chdir(place)
    with output_to(place / OUT):
        pipe.send(("begin", None))
        try:
            pipe.send(("end", work(place, lambda what: pipe.send(("told", what)), *more)))
        except BaseException:
            pipe.send(("fault", traceback.format_exc()))
        try:
            pipe.recv()  # a kill after the end must find the process, to be known as too late
        except EOFError:
            os._exit(0)


def command(*arguments: object) -> None:
    """Run `reviewer` with these arguments in this process. Raises AssertionError where it is refused."""
    from reviewer.cli import main

    code = main([str(argument) for argument in arguments])
    assert code == 0, f"reviewer {arguments} ended with {code}: {Path(OUT).read_text('utf-8')[-2000:]}"
