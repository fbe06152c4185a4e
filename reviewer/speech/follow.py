"""Take what another program records: a growing WAV or raw file, or a named pipe.

The same source as a microphone to `record.Recorder`, but it gives everything from the first sample
on, and ends by itself: a file when it has not grown for a while, a pipe when its writer closes it.
"""

from __future__ import annotations

import os
import stat
import threading
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO

from reviewer.errors import InputError, SoundError
from reviewer.speech.follow_wav import Converter, Head, SampleForm, ends_at, is_wav, read_head

QUIET_S = 10.0
"""A file that has not grown for this long is taken to be finished; recorders write every few seconds."""

_POLL_S = 0.1
_PIECE = 1 << 16
_MOST_IN_PIPE = 1 << 20  # no system lets a pipe hold more
_COMPRESSED = {
    b"OggS": "Ogg",
    b"fLaC": "FLAC",
    b"ID3\x03": "MP3",
    b"ID3\x04": "MP3",
    b"\x1aE\xdf\xa3": "Matroska",
}


class Follower:
    """A growing file or a named pipe as a source of samples."""

    live = False

    def __init__(
        self, path: Path, *, quiet_s: float = QUIET_S, raw: SampleForm | None = None, poll_s: float = _POLL_S
    ) -> None:
        """path: the file or pipe. quiet_s: seconds without growth that end a file.
        raw: the form of samples where the file is no WAV file (16 kHz mono 16 bit when None).

        Raises InputError where it does not exist or is a folder.
        """
        self.path = path
        self.name = path.name
        self._quiet_s = quiet_s
        self._poll_s = poll_s
        self._raw = raw or SampleForm()
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self._take: Callable[[bytes], None] = lambda block: None
        self._ended: Callable[[str], None] = lambda why: None
        _check(path)

    def open(self, take: Callable[[bytes], None], ended: Callable[[str], None]) -> None:
        """Begin to read, from the first sample. See `record_state.Source`.

        Raises SoundError where it cannot be opened, InputError where it holds compressed sound.
        """
        self._take, self._ended = take, ended
        self._stop.clear()
        try:
            reader = _Pipe(self.path) if _is_pipe(self.path) else _File(self.path, self._quiet_s)
        except OSError as error:
            raise SoundError(
                f"{self.path} cannot be read ({error.strerror}); check its permissions."
            ) from error
        if isinstance(reader, _File):
            _refuse_compressed(self.path, reader.peek())
        self._thread = threading.Thread(target=self._run, args=(reader,), name="follow", daemon=True)
        self._thread.start()

    def alive(self) -> bool:
        """Whether it still exists."""
        return self.path.exists()

    def close(self) -> None:
        """Take what is there already, then stop reading."""
        self._stop.set()
        if self._thread is not None and self._thread is not threading.current_thread():
            self._thread.join()
            self._thread = None

    def _run(self, reader: _Pipe | _File) -> None:
        try:
            self._ended(self._follow(reader))
        except InputError as error:
            self._ended(str(error))
        except OSError as error:
            self._ended(f"{self.name} can no longer be read ({error.strerror}); what was taken is kept.")
        finally:
            reader.close()

    def _follow(self, reader: _Pipe | _File) -> str:
        """Read to the end; returns why it ended."""
        decoder = _Decoder(self.name, self._raw)
        after_stop = 0
        while after_stop < _MOST_IN_PIPE or isinstance(reader, _File):
            # asked before reading, so that one last look follows the wish to stop
            stopping = self._stop.is_set()
            data = reader.read(decoder.head)
            if data:
                self._give(decoder.feed(data))
                after_stop += len(data) if stopping else 0
                continue
            if stopping or reader.ended:
                break
            reader.wait(self._poll_s, self._stop)
        self._give(decoder.flush())
        return reader.ended or "It was stopped here."

    def _give(self, pcm: bytes) -> None:
        if pcm:
            self._take(pcm)


class _Decoder:
    """Bytes of a file in, our samples out; finds out first what the file is."""

    def __init__(self, name: str, raw: SampleForm) -> None:
        self._name = name
        self._raw = raw
        self._waiting = b""
        self._converter: Converter | None = None
        self.head: Head | None = None

    def feed(self, data: bytes) -> bytes:
        if self._converter is not None:
            return self._converter.feed(data)
        self._waiting += data
        return self._started() if len(self._waiting) >= 4 else b""

    def flush(self) -> bytes:
        return self._converter.flush() if self._converter is not None else b""

    def _started(self) -> bytes:
        start = 0
        form = self._raw
        if is_wav(self._waiting):
            self.head = read_head(self._name, self._waiting)
            if self.head is None:
                return b""
            form, start = self.head.form, self.head.start
        else:
            _refuse_compressed(Path(self._name), self._waiting)
        self._converter = Converter(form)
        sound, self._waiting = self._waiting[start:], b""
        return self._converter.feed(sound)


class _File:
    """A file that grows."""

    def __init__(self, path: Path, quiet_s: float) -> None:
        self._handle: BinaryIO = path.open("rb", buffering=0)
        self._path = path
        self._quiet_s = quiet_s
        self._still_s = 0.0
        self._at = 0
        self.ended = ""

    def peek(self) -> bytes:
        return os.pread(self._handle.fileno(), 4, 0) if hasattr(os, "pread") else b""

    def read(self, head: Head | None) -> bytes:
        """The next bytes of sound that are there; b"" when there are none now."""
        size = os.fstat(self._handle.fileno()).st_size
        if size < self._at:
            self.ended = (
                f"{self._path.name} was cut short or begun anew by the other program; what was taken is kept."
            )
            return b""
        end = self._sound_end(head, size) if head else size
        self._handle.seek(self._at)
        data = self._handle.read(max(0, min(_PIECE, end - self._at)))
        self._at += len(data)
        if data:
            self._still_s = 0.0
        return data

    def wait(self, seconds: float, stop: threading.Event) -> None:
        if self._still_s >= self._quiet_s:
            self.ended = f"{self._path.name} has not grown for {self._quiet_s:g} s: taken to be finished."
            return
        stop.wait(seconds)
        self._still_s += seconds

    def close(self) -> None:
        self._handle.close()

    def _sound_end(self, head: Head, size: int) -> int:
        """Where sound ends by the header as it now stands: programs add notes after it when they close."""
        self._handle.seek(head.start - 4)
        declared = int.from_bytes(self._handle.read(4), "little")
        now = Head(head.form, head.start, declared)
        self._handle.seek(min(size, head.start + declared))
        return ends_at(now, size, self._handle.read(_PIECE))


class _Pipe:
    """A named pipe. It ends when its last writer closes it, not before one has written."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._begun = False
        self.ended = ""
        # without this, opening would wait for a writer and could not be stopped
        self._descriptor = os.open(path, os.O_RDONLY | os.O_NONBLOCK)

    def read(self, head: Head | None) -> bytes:
        try:
            data = os.read(self._descriptor, _PIECE)
        except BlockingIOError:
            return b""
        if data:
            self._begun = True
        elif self._begun:
            self.ended = f"The program that wrote to {self._path.name} has finished."
        return data

    def wait(self, seconds: float, stop: threading.Event) -> None:
        stop.wait(seconds)

    def close(self) -> None:
        os.close(self._descriptor)


def _check(path: Path) -> None:
    if path.is_dir():
        raise InputError(f"{path} is a folder; name the file or pipe that the other program writes.")
    if not path.exists():
        raise InputError(f"there is no file {path} yet; start the other program's recording first.")


def _is_pipe(path: Path) -> bool:
    return stat.S_ISFIFO(path.stat().st_mode)


def _refuse_compressed(path: Path, first: bytes) -> None:
    kind = _COMPRESSED.get(first[:4])
    if kind:
        raise InputError(
            f"{path.name} is {kind}: only WAV or raw sound can be followed while it grows; "
            "give the file to be graded when it is done."
        )
