"""The process that child processes are forked from: `python -m tests.killing.server SOCKET`.

It has loaded everything once, so a child begins its work within a few thousandths of a second. Each
connection asks for one piece of work; the forked child answers on it itself. It ends with its stdin.
"""

from __future__ import annotations

import importlib
import os
import signal
import sys
import traceback
from collections.abc import Callable
from multiprocessing.connection import Connection, Listener, wait
from pathlib import Path
from typing import Any

from reviewer import paths

OUT = "out.txt"
"""The file in the place of the work that gets what it prints."""


def main(address: str) -> None:
    """Serve until stdin ends."""
    from tests.killing import warm  # noqa: F401

    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # nobody waits for the children
    with Listener(address, "AF_UNIX") as listener:
        print("ready", flush=True)
        socket = listener._listener._socket  # type: ignore[attr-defined]
        while sys.stdin.fileno() not in wait([socket, sys.stdin.fileno()]):
            with listener.accept() as pipe:
                if os.fork() == 0:
                    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
                    _child(pipe)
                    os._exit(0)


def _child(pipe: Connection) -> None:
    pipe.send(("process", os.getpid()))
    module, name, place, more = pipe.recv()
    _settle(place)
    try:
        work: Callable[..., Any] = getattr(importlib.import_module(module), name)
        pipe.send(("begin", None))
        pipe.send(("end", work(place, lambda what: pipe.send(("told", what)), *more)))
    except BaseException:
        pipe.send(("fault", traceback.format_exc()))
    try:
        pipe.recv()  # a kill after the end must find the process, to be known as too late
    except EOFError:
        return


def _settle(place: Path) -> None:
    """Take the place for the work's own: its library, its folder, its output."""
    os.environ[paths.HOME_VARIABLE] = str(place / "home")
    os.chdir(place)
    target = os.open(place / OUT, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    nothing = os.open(os.devnull, os.O_RDONLY)
    for stream, end in ((0, nothing), (1, target), (2, target)):
        os.dup2(end, stream)


if __name__ == "__main__":
    main(sys.argv[1])
