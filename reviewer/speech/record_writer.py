"""The thread that puts samples on the disk, and keeps those that the disk refuses."""

from __future__ import annotations

import errno
import queue
import threading
import time
from collections.abc import Callable

from reviewer.speech.decode import clock
from reviewer.speech.record_file import NoteFile
from reviewer.speech.sound import RATE, SAMPLE_BYTES

SYNC_S = 0.3
"""Longest that written samples wait before they are forced onto the disk itself."""

_POLL_S = 0.1
_FULL = {errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC)}  # a quota is not known everywhere


class NoteWriter:
    """Writes the blocks of one note in the order they were put, and syncs them within `SYNC_S`.

    refused: called once with a sentence when the disk does not take a block; the block is kept, and
    nothing more is written until `retry`. each_round: called about ten times a second.
    on_samples: gets each block once it is written, with the number of samples before it.
    """

    def __init__(
        self,
        file: NoteFile,
        *,
        refused: Callable[[str], None],
        each_round: Callable[[], None],
        on_samples: Callable[[int, bytes], None] | None,
    ) -> None:
        self._file = file
        self._refused = refused
        self._each_round = each_round
        self._on_samples = on_samples
        self._blocks: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        self._arrived = threading.Event()
        self._writing = threading.Lock()
        self._kept = b""
        self._blocked = False
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._loop, name="note-writer", daemon=True)
        self._thread.start()

    @property
    def samples(self) -> int:
        """Samples in the file."""
        return self._file.samples

    @property
    def saved_samples(self) -> int:
        """Samples that are on the disk itself."""
        return self._file.samples - self._file.unsynced_samples

    def put(self, block: bytes) -> None:
        """Hand over a block; never waits."""
        self._blocks.put(block)
        self._arrived.set()

    def retry(self) -> bool:
        """Try again what was refused; False when it still is."""
        with self._writing:
            self._blocked = False
            self._write(self._drained())
            self._sync()
            return not self._blocked

    def stop(self) -> None:
        """Write and sync what is left, and close the file."""
        self._stop.set()
        self._thread.join()
        self.retry()
        try:
            self._file.close()
        except OSError as error:
            self._refuse(error)

    def _loop(self) -> None:
        synced_at = time.monotonic()
        while not self._stop.is_set():
            self._arrived.wait(_POLL_S)
            self._arrived.clear()
            # blocks leave the queue only under the lock: `retry` must never write past one that is held here
            with self._writing:
                self._write(self._drained())
                due = time.monotonic() - synced_at >= SYNC_S
                if due or self._file.unsynced_samples >= SYNC_S * RATE:
                    self._sync()
                    synced_at = time.monotonic()
            self._each_round()

    def _drained(self) -> bytes:
        found = []
        try:
            while True:
                found.append(self._blocks.get_nowait())
        except queue.Empty:
            return b"".join(found)

    def _write(self, pcm: bytes) -> None:
        self._kept += pcm
        if self._blocked or not self._kept:
            return
        before = self._file.samples
        try:
            self._file.write(self._kept)
        except OSError as error:
            self._refuse(error)
        taken = (self._file.samples - before) * SAMPLE_BYTES
        block, self._kept = self._kept[:taken], self._kept[taken:]
        if block and self._on_samples is not None:
            self._on_samples(before, block)

    def _sync(self) -> None:
        try:
            self._file.sync()
        except OSError as error:
            self._refuse(error)

    def _refuse(self, error: OSError) -> None:
        if not self._blocked:
            self._blocked = True
            self._refused(_sentence(error, self._file.samples))


def _sentence(error: OSError, samples: int) -> str:
    kept = f"the first {clock(samples / RATE)} are kept"
    if error.errno in _FULL:
        return f"The disk is full: {kept}. Free some space and go on, or finish."
    why = error.strerror or str(error)
    return f"The disk refuses the recording ({why}): {kept}. Put it right and go on, or finish."
