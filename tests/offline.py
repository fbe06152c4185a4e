"""The program in a child process that has no way out: what it does there, and what it tried."""

from __future__ import annotations

import ctypes
import os
import shutil
import socket
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from reviewer import paths, store
from reviewer.review.session import Session
from reviewer.speech import decode
from tests.killing.child import Tell
from tests.killing.places import reviewer
from tests.killing.server import OUT
from tests.speech.sounds import save

_NEW_USER, _NEW_NET = 0x10000000, 0x40000000
DEMO = "talkative-analyst"
DEMO_S = 60.0
"""Of the demo recording: the whole demo is heard in `tests/test_demo.py`, without a network too."""


class NoNetwork:
    """Every way to a network is closed, and what was tried is kept with what had been said by then."""

    def __init__(self) -> None:
        self.tries: list[str] = []
        self.said_before = ""
        libc = ctypes.CDLL(None, use_errno=True)
        self.alone = libc.unshare(_NEW_NET) == 0 or libc.unshare(_NEW_USER | _NEW_NET) == 0
        for name in ("connect", "connect_ex", "sendto", "sendmsg"):
            self._close(socket.socket, name)
        for name in ("getaddrinfo", "gethostbyname", "create_connection"):
            self._close(socket, name)

    def interfaces(self) -> set[str]:
        """The network interfaces that this process sees."""
        lines = Path("/proc/self/net/dev").read_text("utf-8").splitlines()[2:]
        return {line.partition(":")[0].strip() for line in lines}

    def _close(self, of: Any, name: str) -> None:
        was: Callable[..., Any] = getattr(of, name)

        def closed(*given: Any, **more: Any) -> Any:
            if isinstance(given[0], socket.socket) and given[0].family == socket.AF_UNIX:
                return was(*given, **more)
            self.said_before = self.said_before or Path(OUT).read_text("utf-8")
            self.tries.append(f"{name} {[one for one in given if not isinstance(one, socket.socket)]}")
            raise OSError(101, "Network is unreachable")

        setattr(of, name, closed)


def the_whole_job(place: Path, tell: Tell) -> dict[str, Any]:
    """The demo, the review of a row, search, a sheet in every format, a followed recording, the models."""
    _short_demo(place)
    network = NoNetwork()
    ran = {"demo": reviewer("demo", "--no-screen")}
    os.environ[paths.HOME_VARIABLE] = str(paths.home() / "demo")
    with store.Library.open() as library:
        session = Session(library, 1)
        confirmed = session.confirm()
    ran["search"] = reviewer("search", "seal*")
    for kind in ("html", "pdf", "xlsx", "json"):
        ran[f"sheet {kind}"] = reviewer("sheet", "--player", "74", "--out", place / f"sheet.{kind}")
    ran["record"] = _followed(place)
    ran["model"] = reviewer("model")
    ran["doctor"] = reviewer("doctor")
    return {
        "ran": ran, "confirmed": confirmed, "tries": network.tries, "alone": network.alone,
        "interfaces": network.interfaces(),
        "sheets": [path.name for path in place.glob("sheet.*") if path.stat().st_size > 0],
    }  # fmt: skip


def _short_demo(place: Path) -> None:
    shipped = paths.demo_audio()
    folder = place / "demo_audio"
    folder.mkdir()
    save(folder / f"{DEMO}.ogg", decode.span(shipped / f"{DEMO}.ogg", 0.0, DEMO_S))
    shutil.copyfile(shipped / f"{DEMO}.yaml", folder / f"{DEMO}.yaml")
    paths.demo_audio = lambda: folder


def _followed(place: Path) -> tuple[int, str]:
    """Another program records to a pipe; ours follows it and grades what it took."""
    import numpy as np

    pipe = place / "pipe"
    os.mkfifo(pipe)
    sound = decode.span(place / "demo_audio" / f"{DEMO}.ogg", 12.0, 45.0)
    pcm = (np.clip(sound, -1, 1) * 32767).astype(np.int16).tobytes()
    writer = threading.Thread(target=lambda: pipe.write_bytes(pcm), daemon=True)
    writer.start()
    ran = reviewer("record", "--follow", pipe, "--player", "74", "--model", "tiny.en")
    writer.join()
    return ran


def a_model_to_fetch(place: Path, tell: Tell, name: str) -> dict[str, Any]:
    """A user names a model that is not on the machine."""
    save(place / "clip.flac", decode.span(paths.demo_audio() / f"{DEMO}.ogg", 0.0, 5.0))
    network = NoNetwork()
    ran = reviewer("grade", place / "clip.flac", "--player", "74", "--model", name)
    return {"ran": ran, "tries": network.tries, "said before": network.said_before}
