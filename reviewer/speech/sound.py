"""The computer's sound devices: which there are, and which one a name means.

miniaudio brings its own way to each system's sound (WASAPI, Core Audio, PulseAudio, ALSA). Sound is
16 kHz, mono, 16 bit throughout. Each failure is a `SoundError` with a sentence to show.
"""

from __future__ import annotations

import ctypes
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Literal

from reviewer.errors import SoundError

RATE = 16_000
"""Samples a second, recorded and played; what the speech model takes."""

SAMPLE_BYTES = 2

Kind = Literal["input", "output"]

_NO_INPUT = "There is no microphone on this computer: plug one in or switch it on, then try again."
_NO_OUTPUT = "There is no speaker or headphone on this computer: plug one in, then try again."


@dataclass(frozen=True, slots=True)
class SoundDevice:
    """A microphone ("input") or a speaker ("output").

    name: as the system calls it. id: the system's own key, unique where names are not.
    """

    name: str
    id: str
    kind: Kind
    handle: Any = field(default=None, repr=False, compare=False)


def list_inputs() -> tuple[SoundDevice, ...]:
    """Every microphone or other input now plugged in; empty where there is none.

    What only listens in to a speaker comes last: it is rarely what a talker wants.
    """
    found = _listed("input")
    return tuple(sorted(found, key=lambda device: device.id.endswith(".monitor")))


def list_outputs() -> tuple[SoundDevice, ...]:
    """Every speaker or headphone now plugged in; empty where there is none."""
    return tuple(_listed("output"))


def find_input(name: str) -> SoundDevice:
    """The input of that id or name, or the only one whose name contains it (case does not count).

    Raises SoundError naming the inputs there are when none or several fit.
    """
    return _find(name, list_inputs(), _NO_INPUT)


def find_output(name: str) -> SoundDevice:
    """The output of that id or name; otherwise as `find_input`."""
    return _find(name, list_outputs(), _NO_OUTPUT)


def open_capture(device: SoundDevice | None, period_ms: int, periods: int) -> Any:
    """A miniaudio capture device, not started; None means the system's default.

    period_ms: length of a block. periods: how many blocks the system keeps while we are busy.
    Raises SoundError where there is no such device or the system refuses it.
    """
    import miniaudio

    hush()
    try:
        return miniaudio.CaptureDevice(
            input_format=miniaudio.SampleFormat.SIGNED16,
            nchannels=1,
            sample_rate=RATE,
            buffersize_msec=period_ms,
            callback_periods=periods,
            device_id=device.handle if device else None,
            backends=_backends(),
            app_name="Reviewer",
        )
    except miniaudio.MiniaudioError as error:
        raise _refused(device, "input", _NO_INPUT) from error


def open_playback(device: SoundDevice | None, period_ms: int, periods: int) -> Any:
    """A miniaudio playback device, not started; None means the system's default.

    period_ms: length of a block. periods: how many blocks are handed over ahead of what is heard.
    Raises SoundError where there is no such device or the system refuses it.
    """
    import miniaudio

    hush()
    try:
        return miniaudio.PlaybackDevice(
            output_format=miniaudio.SampleFormat.SIGNED16,
            nchannels=1,
            sample_rate=RATE,
            buffersize_msec=period_ms,
            callback_periods=periods,
            device_id=device.handle if device else None,
            backends=_backends(),
            app_name="Reviewer",
        )
    except miniaudio.MiniaudioError as error:
        raise _refused(device, "output", _NO_OUTPUT) from error


def _refused(device: SoundDevice | None, kind: Kind, none_there: str) -> SoundError:
    there = _listed(kind)
    if not there:
        return SoundError(none_there)
    name = f'"{device.name}"' if device else "The system's default device"
    return SoundError(
        f"{name} cannot be opened: another program may hold it, or this one is not allowed to use it; "
        f"close the other program or choose another device ({_names(tuple(there))})."
    )


def _listed(kind: Kind) -> list[SoundDevice]:
    import miniaudio

    hush()
    try:
        devices = miniaudio.Devices(_backends())
        raw = devices.get_captures() if kind == "input" else devices.get_playbacks()
    except miniaudio.MiniaudioError:
        return []  # a backend that answers with an error has no device to offer
    return [SoundDevice(one["name"], _key(one["id"]), kind, one["id"]) for one in raw]


@cache
def _backends() -> list[Any]:
    """Every real backend. Left to itself miniaudio falls back to one that records silence for ever."""
    import miniaudio

    return [
        backend
        for backend in miniaudio.Backend
        if backend.name not in {"NULL", "CUSTOM"} and miniaudio.is_backend_enabled(backend)
    ]


def _key(handle: Any) -> str:
    """The device id as text; bytes that are no text (Windows, macOS binary ids) as hexadecimal."""
    import miniaudio

    raw = bytes(miniaudio.ffi.buffer(handle))
    head = raw.split(b"\0", 1)[0]
    if head and all(32 <= byte < 127 for byte in head) and not raw[len(head) :].strip(b"\0"):
        return head.decode("ascii")
    return raw.rstrip(b"\0").hex()


def _find(name: str, there: tuple[SoundDevice, ...], none_there: str) -> SoundDevice:
    if not there:
        raise SoundError(none_there)
    wanted = name.strip().casefold()
    for fits in (
        [one for one in there if one.id.casefold() == wanted],
        [one for one in there if one.name.casefold() == wanted],
        [one for one in there if wanted and wanted in one.name.casefold()],
    ):
        if len(fits) == 1:
            return fits[0]
        if fits:
            keys = ", ".join(f"{one.id} ({one.name})" for one in fits)
            raise SoundError(f'"{name}" fits several devices; give one of these keys instead: {keys}.')
    raise SoundError(f'There is no device "{name}"; there are: {_names(there)}.')


def _names(devices: tuple[SoundDevice, ...]) -> str:
    return ", ".join(f'"{one.name}"' for one in devices)


@cache
def hush() -> None:
    """Keep ALSA and JACK from writing on the terminal while they look for devices.

    Both print dozens of lines from C, over whatever screen is shown. Each has a call that takes
    the message instead. Where a library is absent there is nothing to hush.
    """
    for library, setter, handler in (
        ("libasound.so.2", "snd_lib_error_set_handler", _ALSA_HANDLER),
        ("libjack.so.0", "jack_set_error_function", _JACK_HANDLER),
        ("libjack.so.0", "jack_set_info_function", _JACK_HANDLER),
    ):
        try:
            getattr(ctypes.CDLL(library), setter)(handler)
        except (OSError, AttributeError):
            continue


# C keeps these pointers for as long as the program runs, so they must never be collected.
_ALSA_HANDLER = ctypes.CFUNCTYPE(
    None, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p
)(lambda *_: None)
_JACK_HANDLER = ctypes.CFUNCTYPE(None, ctypes.c_char_p)(lambda *_: None)
