"""A microphone as a source of samples."""

from __future__ import annotations

import threading
from collections.abc import Callable, Generator
from typing import Any

from reviewer.errors import SoundError
from reviewer.speech import sound

_PERIOD_MS = 50
# The system keeps a second of sound for us while this program is busy with something else.
_PERIODS = 20
_CLOSE_S = 2.0


class Microphone:
    """One input device, 16 kHz mono; None means the system's default."""

    live = True

    def __init__(self, device: sound.SoundDevice | None = None) -> None:
        self._device = device
        self._open: Any = None
        self._there: frozenset[str] = frozenset()
        self.name = device.name if device else "System default"

    @property
    def device(self) -> sound.SoundDevice | None:
        """The device listened to; None for the system's default."""
        return self._device

    def open(self, take: Callable[[bytes], None], ended: Callable[[str], None]) -> None:
        """Begin to listen. Raises SoundError where the microphone is gone or refused."""
        if self._device is not None:
            # a handle outlives its device when the sound server restarts; the key does not
            self._device = sound.find_input(self._device.id)
        self._there = _inputs()
        capture = sound.open_capture(self._device, _PERIOD_MS, _PERIODS)
        feed = _forward(take)
        next(feed)
        try:
            capture.start(feed)
        except Exception as error:
            self._shut(capture)
            raise SoundError(
                f'"{self.name}" does not start: another program may hold it; close that or choose another.'
            ) from error
        self._open = capture

    def alive(self) -> bool:
        """Whether the system still lists it.

        Which device the default is, no system tells: any input that vanished may have been it.
        """
        now = _inputs()
        return self._device.id in now if self._device else bool(now) and self._there <= now

    def close(self) -> None:
        """Stop listening. A device that was unplugged may never answer, and is then left behind."""
        capture, self._open = self._open, None
        if capture is not None:
            self._shut(capture)

    @staticmethod
    def _shut(capture: Any) -> None:
        closer = threading.Thread(target=capture.close, daemon=True)
        closer.start()
        closer.join(_CLOSE_S)


def _inputs() -> frozenset[str]:
    return frozenset(device.id for device in sound.list_inputs())


def _forward(take: Callable[[bytes], None]) -> Generator[None, bytes, None]:
    while True:
        block = yield
        take(bytes(block))
