"""`reviewer record` for real: a terminal (tmux), a microphone (PulseAudio), keys, a file."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pytest

from reviewer import paths
from reviewer.speech import record_notes
from tests.speech.record_rig import VirtualSound, noise, wait_until, wav_samples, without_lead

REVIEWER = [sys.executable, "-c", "import sys; from reviewer.cli import main; sys.exit(main())"]
RECORD = [*REVIEWER, "record", "--input", "pipe", "--no-words", "--no-grade"]
PATIENCE_S = 120.0
"""How long a busy machine may take for what takes a moment."""

TALK = noise(1.5)
HEADER = 44
PUSH = np.zeros(4800, np.int16)


@pytest.fixture(scope="module")
def virtual():
    with tempfile.TemporaryDirectory(prefix="sound") as folder:
        rig = VirtualSound(Path(folder))
        yield rig
        rig.stop()


@pytest.fixture
def environment(virtual):
    return {
        "PULSE_SERVER": virtual.server,
        "REVIEWER_HOME": str(paths.home()),
        "TERM": "xterm-256color",
        "LANG": "C.UTF-8",
    }


class Terminal:
    """A program in a tmux of its own."""

    def __init__(self, size, command, environment, folder):
        self._socket = str(folder / "tmux")
        given = [word for name, value in environment.items() for word in ("-e", f"{name}={value}")]
        self._tmux("new-session", "-d", "-x", str(size[0]), "-y", str(size[1]), *given, *command)

    def _tmux(self, *words):
        return subprocess.run(
            ["tmux", "-S", self._socket, "-f", "/dev/null", *words], capture_output=True, text=True
        ).stdout

    def press(self, *keys):
        self._tmux("send-keys", *keys)

    def see(self, words):
        try:
            wait_until(lambda: words in self.shown(), f"{words!r} was never shown", PATIENCE_S)
        except AssertionError as late:
            raise AssertionError(f"{late}; the screen showed:\n{self.shown()}") from None

    def ends(self):
        wait_until(lambda: not self.running(), "the program never ended", PATIENCE_S)

    def shown(self):
        return self._tmux("capture-pane", "-p")

    def running(self):
        return self._tmux("list-sessions") != ""

    def close(self):
        self._tmux("kill-server")


def recorded():
    """The samples that are on the disk so far; what is recorded to has its header first."""
    found = list(paths.recordings().glob("*.wav"))
    data = found[0].read_bytes()[HEADER:] if found else b""
    return np.frombuffer(data[: len(data) // 2 * 2], np.int16)


def on_disk():
    return len(recorded())


def until_recorded():
    """A program that is told to end while words are still on their way would rightly not have them."""
    wait_until(
        lambda: len(without_lead(recorded())) >= len(TALK), "the words never came to the disk", PATIENCE_S
    )


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_a_note_on_the_screen(virtual, environment, size):
    with tempfile.TemporaryDirectory(prefix="tmux") as folder:
        terminal = Terminal(size, RECORD, environment, Path(folder))
        try:
            terminal.see("Record (space)")
            terminal.press("Space")
            terminal.see("Recording")
            with virtual.speaking() as speech:
                speech.say(np.concatenate([TALK, PUSH]), taken=on_disk)
                until_recorded()
                terminal.see("Pause (space)")
                terminal.press("m")
                terminal.see("Marks  1: 0:0")
                terminal.press("f")
                terminal.ends()
        finally:
            terminal.close()
    (path,) = paths.recordings().glob("*.wav")
    assert np.array_equal(without_lead(wav_samples(path))[: len(TALK)], TALK)
    assert len(record_notes.read_marks(path)) == 1
    assert record_notes.unfinished() == ()


def test_a_note_without_a_terminal_ends_with_ctrl_c(virtual, environment):
    with subprocess.Popen(
        RECORD, env={**os.environ, **environment}, stdin=subprocess.DEVNULL, stderr=subprocess.PIPE
    ) as process:
        assert process.stderr.readline() == b"Recording.\n"
        with virtual.speaking() as speech:
            speech.say(np.concatenate([TALK, PUSH]), taken=on_disk)
            until_recorded()
            process.send_signal(signal.SIGINT)
            told = process.stderr.read().decode()
        assert process.wait() == 0, told
    (path,) = paths.recordings().glob("*.wav")
    assert f"Recorded: {path}" in told
    assert np.array_equal(without_lead(wav_samples(path))[: len(TALK)], TALK)
