"""A WAV file that is whole at any moment while it grows, and the repair of one that is not.

The header is rewritten after each write, so a file left behind by a crash plays as it stands; at
most what was not yet synced to the disk is missing. Lengths are bytes unless a name says samples.
"""

from __future__ import annotations

import os
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from reviewer import paths
from reviewer.errors import InputError
from reviewer.speech.sound import RATE, SAMPLE_BYTES

HEADER = 44
MAX_DATA = 2**32 - 1 - HEADER
"""The most sound a WAV header can name: about 37 hours at 16 kHz."""

_RIFF = struct.Struct("<4sI4s")
_CHUNK = struct.Struct("<4sI")
_FORMAT = struct.Struct("<HHIIHH")


class NoteFile:
    """A 16 kHz mono 16-bit WAV file being recorded. Every method may raise OSError."""

    def __init__(self, handle: BinaryIO, data: int) -> None:
        self._handle = handle
        self._data = data
        self._synced = data
        self._patch_header()

    @classmethod
    def create(cls, path: Path) -> NoteFile:
        """Start a new file. Raises FileExistsError rather than write over anything."""
        handle = open(path, "xb+", buffering=0, opener=paths.private_opener)  # noqa: SIM115
        note = cls(handle, 0)
        note._synced = -1
        note.sync()
        _sync_folder(path.parent)
        return note

    @classmethod
    def append(cls, path: Path) -> NoteFile:
        """Go on with a file that `recover` has made whole."""
        handle = path.open("rb+", buffering=0)
        return cls(handle, path.stat().st_size - HEADER)

    @property
    def samples(self) -> int:
        """Samples written so far."""
        return self._data // SAMPLE_BYTES

    @property
    def unsynced_samples(self) -> int:
        """Samples written, but perhaps not yet on the disk."""
        return (self._data - self._synced) // SAMPLE_BYTES

    def write(self, pcm: bytes) -> None:
        """Add whole samples.

        After an OSError the file is whole and holds as many of them as the disk took; `samples`
        tells, and the rest may be tried again.
        """
        if self._data + len(pcm) > MAX_DATA:
            raise OSError("the file is as long as a WAV file can be")
        self._handle.seek(HEADER + self._data)
        left = memoryview(pcm)
        try:
            while left:
                left = left[self._handle.write(left) :]
        finally:
            self._data += (len(pcm) - len(left)) // SAMPLE_BYTES * SAMPLE_BYTES
            if left:
                self._handle.truncate(HEADER + self._data)
            self._patch_header()

    def sync(self) -> None:
        """Put everything written on the disk itself."""
        if self._synced != self._data:
            os.fsync(self._handle.fileno())
            self._synced = self._data

    def close(self) -> None:
        """Sync and close."""
        try:
            self.sync()
        finally:
            self._handle.close()

    def _patch_header(self) -> None:
        self._handle.seek(0)
        self._handle.write(header(self._data))


def header(data: int) -> bytes:
    """The 44 bytes before `data` bytes of 16 kHz mono 16-bit sound."""
    format_chunk = _FORMAT.pack(1, 1, RATE, RATE * SAMPLE_BYTES, SAMPLE_BYTES, 8 * SAMPLE_BYTES)
    return (
        _RIFF.pack(b"RIFF", HEADER - 8 + data, b"WAVE")
        + _CHUNK.pack(b"fmt ", len(format_chunk))
        + format_chunk
        + _CHUNK.pack(b"data", data)
    )


@dataclass(frozen=True, slots=True)
class Shape:
    """What a WAV file holds, by its bytes and not by what its header claims.

    data_start: where the sound begins. data: bytes of whole frames there. declared: bytes that the
    header claims. duration_s: seconds. ours: in the form that `NoteFile` writes.
    """

    data_start: int
    data: int
    declared: int
    duration_s: float
    ours: bool

    @property
    def whole(self) -> bool:
        """Whether the header tells the truth."""
        return self.declared == self.data


def inspect(path: Path) -> Shape:
    """Read a WAV file's real shape; nothing is changed.

    Raises InputError where it is missing or no WAV file.
    """
    try:
        with path.open("rb") as handle:
            size = os.fstat(handle.fileno()).st_size
            return _shape(path, handle, size)
    except OSError as error:
        raise InputError(
            f"{path} cannot be read ({error.strerror}); check the file and its folder."
        ) from error


def recover(path: Path) -> Shape:
    """Make a recording that was cut off whole again: its header is set to what the file really holds.

    Sound is never removed; only half a sample at the very end is. A whole file is left untouched.
    Raises InputError where it is no WAV file or cannot be written.
    """
    shape = inspect(path)
    if shape.whole:
        return shape
    try:
        with path.open("rb+") as handle:
            end = shape.data_start + shape.data
            handle.truncate(end)
            handle.seek(4)
            handle.write(struct.pack("<I", min(end - 8, 2**32 - 1)))
            handle.seek(shape.data_start - 4)
            handle.write(struct.pack("<I", min(shape.data, 2**32 - 1)))
            handle.flush()
            os.fsync(handle.fileno())
    except OSError as error:
        raise InputError(f"{path} cannot be repaired ({error.strerror}); free the disk or file.") from error
    return inspect(path)


def _shape(path: Path, handle: BinaryIO, size: int) -> Shape:
    if size < _RIFF.size or _RIFF.unpack(handle.read(_RIFF.size))[::2] != (b"RIFF", b"WAVE"):
        raise InputError(f"{path} is no WAV recording; choose the recording itself.")
    block = byte_rate = channels = rate = 0
    while handle.tell() + _CHUNK.size <= size:
        name, length = _CHUNK.unpack(handle.read(_CHUNK.size))
        start = handle.tell()
        if name == b"data":
            if not block or not byte_rate:
                break
            real = _real_length(handle, start, length, size) // block * block
            ours = start == HEADER and (block, rate, channels) == (SAMPLE_BYTES, RATE, 1)
            return Shape(start, real, length, real / byte_rate, ours)
        if name == b"fmt " and length >= _FORMAT.size and start + _FORMAT.size <= size:
            _, channels, rate, byte_rate, block, _ = _FORMAT.unpack(handle.read(_FORMAT.size))
        handle.seek(start + length + length % 2)
    raise InputError(f"{path} broke off before any sound was written; there is nothing to recover in it.")


def _real_length(handle: BinaryIO, start: int, declared: int, size: int) -> int:
    """Bytes of sound from `start`: to the end of the file, unless further chunks follow properly."""
    end = start + declared
    if end < size and _chunks_reach(handle, end + declared % 2, size):
        return declared
    return size - start


def _chunks_reach(handle: BinaryIO, at: int, size: int) -> bool:
    """Whether what begins at `at` is a row of named chunks that ends just where the file does."""
    while at + _CHUNK.size <= size:
        handle.seek(at)
        name, length = _CHUNK.unpack(handle.read(_CHUNK.size))
        if not all(32 <= byte < 127 for byte in name):
            return False
        at += _CHUNK.size + length + length % 2
    return at == size


def _sync_folder(folder: Path) -> None:
    """A new file's name lives in its folder; without this a power cut could lose the name."""
    if os.name != "posix":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
