"""What every test has: a home of its own, and the command line run inside the test."""

from __future__ import annotations

import socket
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from reviewer import paths
from reviewer.cli import main


@dataclass(frozen=True)
class Ran:
    """What a command did."""

    code: int
    out: str
    err: str


Cli = Callable[..., Ran]


@pytest.fixture(autouse=True, scope="session")
def no_network() -> Iterator[None]:
    """No test meets a network: whatever asks for one fails."""
    connect = socket.socket.connect

    def refused(self: socket.socket, address: object) -> None:
        if self.family != socket.AF_UNIX:
            raise AssertionError(f"a connection to {address} was tried")
        connect(self, address)  # type: ignore[arg-type]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(socket.socket, "connect", refused)
        yield


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """No test meets the user's own library."""
    monkeypatch.setenv(paths.HOME_VARIABLE, str(tmp_path / "home"))
    return tmp_path / "home"


@pytest.fixture
def cli(capsys: pytest.CaptureFixture[str]) -> Cli:
    """Run `reviewer` with these arguments."""

    def run(*arguments: object) -> Ran:
        capsys.readouterr()
        code = main([str(argument) for argument in arguments])
        told = capsys.readouterr()
        return Ran(code, told.out, told.err)

    return run
