"""A child process that does one piece of work, says how far it is, and can be killed."""

from __future__ import annotations

import atexit
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from multiprocessing.connection import Client, Connection
from pathlib import Path
from typing import Any

from tests.killing.server import OUT

Tell = Callable[[Any], None]
"""Called by the work with what it has promised to keep, at once when the promise is made."""

LIMIT_S = 120.0
"""No piece of work here takes longer; one that does hangs."""


class Worker:
    """The process. `told`: what its work said it keeps; `value`: what it gave when it came to its end."""

    def __init__(self, work: Callable[..., Any], place: Path, *more: Any) -> None:
        """work: a module's own function, called in the child as work(place, tell, *more)."""
        self._pipe: Connection = Client(_server(), "AF_UNIX")
        _, self._process = self._pipe.recv()
        self.told: list[Any] = []
        self.value: Any = None
        self.fault = ""
        self.ended = False
        self._begun = False
        self._pipe.send((work.__module__, work.__qualname__, place, more))

    def wait_begin(self) -> None:
        """Until the work begins."""
        self._listen(time.monotonic() + LIMIT_S, lambda: self._begun)

    def wait(self, seconds: float) -> None:
        """Hear what it says for so long, or until it has come to its end."""
        self._listen(time.monotonic() + seconds, lambda: self.ended)

    def wait_end(self) -> Any:
        """Until its end; returns what it gave. Raises AssertionError where it failed or hangs."""
        self._listen(time.monotonic() + LIMIT_S, lambda: self.ended)
        if not self.ended:
            self.kill()
        self._pipe.close()
        assert self.ended, "it hangs"
        assert not self.fault, self.fault
        return self.value

    def kill(self) -> bool:
        """SIGKILL now; whether it was still at work. What it said before counts."""
        os.kill(self._process, signal.SIGKILL)
        self._listen(time.monotonic() + LIMIT_S, lambda: False)  # to the end of the pipe: it is gone
        self._pipe.close()
        return not self.ended

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


@cache
def _server() -> str:
    """The address of the server, started when first needed; it ends with this process."""
    folder = tempfile.mkdtemp()
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.killing.server", f"{folder}/socket"],
        cwd=Path(__file__).parents[2],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    assert process.stdin is not None and process.stdout is not None

    def end(stdin: Any = process.stdin) -> None:
        with suppress(OSError):
            stdin.close()
        process.wait()
        shutil.rmtree(folder, ignore_errors=True)

    atexit.register(end)
    assert process.stdout.readline() == b"ready\n", "the server of child processes did not start"
    return f"{folder}/socket"


def command(*arguments: object) -> None:
    """Run `reviewer` with these arguments in this process. Raises AssertionError where it is refused."""
    from reviewer.cli import main

    code = main([str(argument) for argument in arguments])
    assert code == 0, f"reviewer {arguments} ended with {code}: {Path(OUT).read_text('utf-8')[-2000:]}"
