"""A sound card made of nothing: a private PulseAudio with virtual microphones and a speaker.

`pipe` is a microphone whose samples a test writes itself, byte for byte. `mic` hears what is played
into `mic_in`; `speaker` can be listened to through its monitor. Needs the Debian packages
pulseaudio and pulseaudio-utils. Also here: a source of samples without any sound system.
"""

from __future__ import annotations

import os
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import numpy.typing as npt

RATE = 16_000
Pcm = npt.NDArray[np.int16]

_MODULES = (
    "module-pipe-source source_name=pipe file={folder}/fifo format=s16le rate=16000 channels=1",
    "module-null-sink sink_name=mic_in rate=16000 channels=1 format=s16le",
    "module-null-sink sink_name=speaker rate=16000 channels=1 format=s16le",
    "module-remap-source source_name=mic master=mic_in.monitor",
)


class VirtualSound:
    """The running daemon; `folder` holds its socket and the microphone's pipe."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for name in ("run", "state"):
            (folder / name).mkdir(mode=0o700)
        environment = {name: value for name, value in os.environ.items() if name != "DISPLAY"}
        environment |= {
            "HOME": str(folder),
            "XDG_RUNTIME_DIR": str(folder),
            "PULSE_RUNTIME_PATH": str(folder / "run"),
            "PULSE_STATE_PATH": str(folder / "state"),
        }
        loads = (
            f"module-native-protocol-unix socket={folder}/native auth-anonymous=1",
            *[module.format(folder=folder) for module in _MODULES],
        )
        # the daemon must die with the test run, however that ends
        self._daemon = subprocess.Popen(
            [
                *("setpriv", "--pdeathsig", "TERM", "pulseaudio", "-n", "--daemonize=no"),
                *("--use-pid-file=no", "--exit-idle-time=-1", "--realtime=no", "--high-priority=no"),
                *("--log-target=stderr", "--log-level=error"),
                *[f"--load={load}" for load in loads],
            ],
            env=environment,
            stderr=subprocess.DEVNULL,
        )
        self.server = f"unix:{folder}/native"
        wait_until(lambda: self.pactl("info").returncode == 0, "PulseAudio never answered")

    def pactl(self, *words: str) -> subprocess.CompletedProcess[bytes]:
        return subprocess.run(
            ["pactl", *words], capture_output=True, env={**os.environ, "PULSE_SERVER": self.server}
        )

    def unplug(self, source: str) -> None:
        """Take a virtual device away, as if its plug were pulled."""
        for line in self.pactl("list", "short", "modules").stdout.decode().splitlines():
            if f"source_name={source}" in line or f"sink_name={source}" in line:
                self.pactl("unload-module", line.split("\t")[0])

    def plug_in_pipe(self) -> None:
        self.pactl("load-module", *_MODULES[0].format(folder=self.folder).split(" "))

    def stop(self) -> None:
        self._daemon.terminate()
        self._daemon.wait(10)

    @contextmanager
    def speaking(self) -> Iterator[Speech]:
        with (self.folder / "fifo").open("wb", buffering=0) as pipe:
            yield Speech(pipe.write)

    @contextmanager
    def listening(self) -> Iterator[Callable[[], Pcm]]:
        """What the speaker plays; call the result for all samples heard so far."""
        process = subprocess.Popen(
            [
                *("setpriv", "--pdeathsig", "TERM", "parec", "--raw", "--device=speaker.monitor"),
                *("--channels=1", "--rate=16000", "--format=s16le", "--latency-msec=20"),
            ],
            stdout=subprocess.PIPE,
            env={**os.environ, "PULSE_SERVER": self.server},
        )
        assert process.stdout is not None
        os.set_blocking(process.stdout.fileno(), False)
        heard = bytearray()

        def so_far() -> Pcm:
            while piece := process.stdout.read(1 << 16):  # type: ignore[union-attr]
                heard.extend(piece)
            return np.frombuffer(bytes(heard[: len(heard) // 2 * 2]), np.int16)

        try:
            wait_until(lambda: len(so_far()) > 0, "nothing can be heard from the virtual speaker")
            yield so_far
        finally:
            process.terminate()
            process.wait(10)
            process.stdout.close()


class Speech:
    """Writes samples into a virtual microphone, no faster than they are taken or than time passes.

    A sound server drops what nobody takes within about a second, as a real one does.
    """

    AHEAD = RATE // 4

    def __init__(self, write: Callable[[bytes], object]) -> None:
        self._write = write
        self.said = 0  # samples

    def say(self, pcm: Pcm, taken: Callable[[], int] | None = None) -> None:
        """taken: how many samples of the microphone have been taken so far; real time without it."""
        start = taken() if taken else 0
        began = time.monotonic()
        for first in range(0, len(pcm), 800):
            if taken:
                wait_until(lambda first=first: taken() - start >= first - self.AHEAD, "nobody listens")
            else:
                wait_until(lambda first=first: time.monotonic() - began >= first / RATE, "clock stands")
            block = pcm[first : first + 800]
            self._write(block.tobytes())
            self.said += len(block)


class FakeSource:
    """A source that gives what the test pushes; no thread, no sound system."""

    def __init__(self, name: str = "Desk microphone", *, live: bool = True) -> None:
        self.name = name
        self.live = live
        self.there = True
        self.is_open = False
        self.push: Callable[[bytes], None] = lambda block: None
        self.end: Callable[[str], None] = lambda why: None

    def open(self, take: Callable[[bytes], None], ended: Callable[[str], None]) -> None:
        from reviewer.errors import SoundError

        if not self.there:
            raise SoundError(f'There is no device "{self.name}".')
        self.push, self.end, self.is_open = take, ended, True

    def say(self, pcm: Pcm) -> None:
        for first in range(0, len(pcm), 800):
            self.push(pcm[first : first + 800].tobytes())

    def alive(self) -> bool:
        return self.there

    def close(self) -> None:
        self.is_open = False


def wait_until(true: Callable[[], bool], otherwise: str, limit_s: float = 30.0) -> None:
    """Poll until something is so; fail with a sentence when it never becomes so."""
    end = time.monotonic() + limit_s
    while not true():
        assert time.monotonic() < end, otherwise
        time.sleep(0.005)


def noise(seconds: float, seed: int = 1, loudness: float = 0.3) -> Pcm:
    """White noise without a single zero, so that any added silence shows."""
    peak = int(32_000 * loudness)
    found = np.random.default_rng(seed).integers(-peak, peak, int(seconds * RATE), dtype=np.int16)
    found[found == 0] = 1
    return found


def sine(seconds: float, hz: float = 440.0, amplitude: float = 32_767.0) -> npt.NDArray[np.float64]:
    return amplitude * np.sin(2 * np.pi * hz * np.arange(int(seconds * RATE)) / RATE)


def wav_samples(path: Path) -> Pcm:
    """The samples of a WAV file as the standard library reads it."""
    import wave

    with wave.open(str(path)) as handle:
        assert (handle.getframerate(), handle.getnchannels(), handle.getsampwidth()) == (RATE, 1, 2)
        return np.frombuffer(handle.readframes(handle.getnframes()), np.int16)


def without_lead(pcm: Pcm) -> Pcm:
    """Samples from the first that is not digital silence; a device begins with some of that."""
    found = np.flatnonzero(pcm)
    return pcm[found[0] :] if len(found) else pcm[:0]
