"""The head of a WAV file that another program is still writing, and samples in any form as ours.

While it grows, the lengths in its header are wrong: 0, a huge number, or those of some seconds ago.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from reviewer.errors import InputError
from reviewer.speech.sound import RATE

UNKNOWN = {0, 0xFFFFFFFF}
"""Lengths that mean "not known yet"."""

_MOST_HEAD = 1 << 20  # chunks before the sound (notes of a broadcaster, padding) can be large
_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
_FORMATS = {
    (_PCM, 8): ("u8", 1),
    (_PCM, 16): ("s16", 2),
    (_PCM, 24): ("s24", 3),
    (_PCM, 32): ("s32", 4),
    (_FLOAT, 32): ("flt", 4),
    (_FLOAT, 64): ("dbl", 8),
}
RAW_FORMATS = ("u8", "s16", "s24", "s32", "flt", "dbl")
"""Sample forms of raw sound, little-endian: whole numbers by bits, 32- and 64-bit floats."""

_WIDTHS = dict(_FORMATS.values())


@dataclass(frozen=True, slots=True)
class SampleForm:
    """How samples lie in a file. kind: one of `RAW_FORMATS`. rate: samples a second of a channel."""

    kind: str = "s16"
    rate: int = RATE
    channels: int = 1

    def __post_init__(self) -> None:
        """Raises InputError for a form that cannot be."""
        if self.kind not in RAW_FORMATS:
            raise InputError(f"sample form {self.kind} is not known; there are {', '.join(RAW_FORMATS)}.")
        if not 4_000 <= self.rate <= 384_000 or not 1 <= self.channels <= 32:
            raise InputError(
                f"{self.rate} samples a second in {self.channels} channels cannot be; "
                "4000 to 384000 and 1 to 32 can."
            )

    @property
    def frame_bytes(self) -> int:
        """Bytes of one sample of all channels."""
        return _WIDTHS[self.kind] * self.channels


@dataclass(frozen=True, slots=True)
class Head:
    """A WAV header read. start: the byte where sound begins. declared: its claim of bytes of sound."""

    form: SampleForm
    start: int
    declared: int


def is_wav(first: bytes) -> bool:
    """Whether a file that begins with these four bytes is a WAV file (also the 64-bit kinds)."""
    return first[:4] in {b"RIFF", b"RF64", b"BW64"}


def read_head(name: str, data: bytes) -> Head | None:
    """The header in the first bytes of a file; None while it is not complete yet.

    Raises InputError where it is a WAV file whose sound cannot be read, naming `name`.
    """
    form: SampleForm | None = None
    at = 12
    while at + 8 <= len(data):
        chunk, length = struct.unpack_from("<4sI", data, at)
        at += 8
        if chunk == b"data":
            if form is None:
                raise InputError(f"{name} is a damaged WAV file: its sound comes before its form.")
            return Head(form, at, length)
        if chunk == b"fmt ":
            if at + min(length, 40) > len(data):
                return None
            form = _form(name, data[at : at + length])
        at += length + length % 2
        if at > _MOST_HEAD:
            raise InputError(f"{name} is no WAV file that can be followed: no sound in its first megabyte.")
    return None


def _form(name: str, chunk: bytes) -> SampleForm:
    if len(chunk) < 16:
        raise InputError(f"{name} is a damaged WAV file: its form is cut short.")
    code, channels, rate, _, _, bits = struct.unpack_from("<HHIIHH", chunk)
    if code == _EXTENSIBLE and len(chunk) >= 26:
        (code,) = struct.unpack_from("<H", chunk, 24)
    if (code, bits) not in _FORMATS:
        raise InputError(
            f"{name} holds compressed sound (WAV form {code}, {bits} bits), which cannot be followed "
            "while it grows; let the other program record plain PCM, or give the file when it is done."
        )
    return SampleForm(_FORMATS[code, bits][0], rate, channels)


def ends_at(head: Head, size: int, tail: bytes) -> int:
    """The byte where the sound ends in a file of `size` bytes.

    tail: the file's bytes from where the header says that the sound ends. A header that is not
    final, or lags behind, does not count: only named chunks that reach exactly to the end of the
    file prove that its length is meant.
    """
    end = head.start + head.declared
    if head.declared in UNKNOWN or end >= size:
        return size
    at = head.declared % 2
    while at + 8 <= len(tail):
        chunk, length = struct.unpack_from("<4sI", tail, at)
        if not all(32 <= byte < 127 for byte in chunk):
            return size
        at += 8 + length + length % 2
    return end if end + at == size else size


class Converter:
    """Samples in any form as 16 kHz mono int16. What is in that form already passes unchanged."""

    def __init__(self, form: SampleForm) -> None:
        self._form = form
        self._rest = b""
        self._same = form == SampleForm()
        self._resampler: Any = None

    def feed(self, data: bytes) -> bytes:
        """The next bytes of the file, cut anywhere; returns what can be given on."""
        data = self._rest + data
        whole = len(data) // self._form.frame_bytes * self._form.frame_bytes
        self._rest = data[whole:]
        if self._same or not whole:
            return data[:whole]
        return b"".join(self._resampled(self._frame(data[:whole])))

    def flush(self) -> bytes:
        """The last samples, which the resampler holds back."""
        return b"".join(self._resampled(None)) if self._resampler is not None else b""

    def _frame(self, data: bytes) -> Any:
        import av
        import numpy as np

        kind = self._form.kind
        packed = np.frombuffer(data, np.uint8)
        if kind == "s24":
            packed, kind = _widened(packed), "s32"
        dtype = {"u8": "u1", "s16": "<i2", "s32": "<i4", "flt": "<f4", "dbl": "<f8"}[kind]
        frame = av.AudioFrame.from_ndarray(
            packed.view(dtype).reshape(1, -1), format=kind, layout=_layout(self._form.channels)
        )
        frame.sample_rate = self._form.rate
        return frame

    def _resampled(self, frame: Any) -> Iterator[bytes]:
        import av

        if self._resampler is None:
            self._resampler = av.AudioResampler(format="s16", layout="mono", rate=RATE)
        for out in self._resampler.resample(frame):
            yield out.to_ndarray().astype("<i2", copy=False).tobytes()


def _widened(packed: Any) -> Any:
    """24-bit samples as 32-bit ones; FFmpeg's frames know no 24-bit form."""
    import numpy as np

    wide = np.zeros((len(packed) // 3, 4), np.uint8)
    wide[:, 1:] = packed.reshape(-1, 3)
    return wide.reshape(-1)


def _layout(channels: int) -> str:
    return {1: "mono", 2: "stereo"}.get(channels, f"{channels}c")
