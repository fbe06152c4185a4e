"""Recording: from a microphone, and from what another program records, as fast as it is spoken."""

from __future__ import annotations

import struct
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from reviewer import paths
from reviewer.errors import InputError
from reviewer.speech import record_file, record_notes
from reviewer.speech.record import Recorder
from reviewer.speech.record_desk import make_desk
from reviewer.speech.record_file import header
from reviewer.speech.record_plain import record_plain
from tests.killing.child import Tell
from tests.killing.rig import Kind
from tests.speech.record_rig import RATE, Pcm, noise, wait_until, wav_samples

TALK_S = 2.4

BLOCK = 800
MARKS = 4
MAY_LACK = RATE

TALK = noise(TALK_S, seed=5)


class Talker:
    """A source that talks from a given sample on, at its own pace, and says how far it is."""

    name = "Desk microphone"
    live = False

    def __init__(self, start: int, said: Callable[[int], None]) -> None:
        self._start = start
        self._said = said
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._talk, daemon=True)

    def open(self, take: Callable[[bytes], None], ended: Callable[[str], None]) -> None:
        self._take, self._ended = take, ended
        self._thread.start()

    def alive(self) -> bool:
        return True

    def close(self) -> None:
        self._stop.set()
        if threading.current_thread() is not self._thread:
            self._thread.join()

    def _talk(self) -> None:
        began = time.monotonic()
        for at in range(self._start, len(TALK), BLOCK):
            due = began + (at - self._start) / RATE
            if self._stop.wait(max(0.0, due - time.monotonic())):
                return
            self._take(TALK[at : at + BLOCK].tobytes())
            self._said(min(at + BLOCK, len(TALK)))
        self._ended("He has said it all.")


# --- a microphone ------------------------------------------------------------------------------


def prepare(place: Path, tell: Tell) -> None:
    paths.home().mkdir()


def work(place: Path, tell: Tell) -> None:
    """Record, or go on with what was cut off; marks are dropped on the way."""
    _record(tell)


def work_that_keeps_sound_back(place: Path, tell: Tell) -> None:
    """A program that breaks the promise: nothing is written while he talks."""
    from reviewer.speech import record_writer

    record_writer.NoteWriter._loop = lambda self: self._stop.wait() and None  # type: ignore[method-assign]
    _record(tell)


def _record(tell: Tell) -> None:
    left = record_notes.unfinished()
    if not left and any(paths.recordings().glob("*.wav")):
        return  # it was finished before the kill
    # the recorder sees to the beginning of the file before the talker knows where to go on
    start = round(left[0].duration_s * RATE) if left else 0
    recorder = Recorder(Talker(start, lambda said: tell(("said", said))))
    if left:
        recorder.resume(left[0].path)
    recorder.open()
    try:
        for number in range(len(left[0].marks) if left else 0, MARKS):
            due = (number + 1) * TALK_S / (MARKS + 1)
            wait_until(lambda due=due: recorder.status().clock_s >= due, "the talk does not come")
            recorder.mark(f"mark {number + 1}")
            tell(("marked", number + 1))
        wait_until(lambda: recorder.status().ended != "", "the talk does not end")
        recorder.finish()
        tell(("finished", len(TALK)))
    finally:
        recorder.close()


def look(place: Path, tell: Tell, told: list[tuple[str, int]], foreseen: Any) -> list[str]:
    """Of what was said at most a second is missing, what is there is what was said; marks are all there."""
    said = max((number for what, number in told if what == "said"), default=0)
    marked = max((number for what, number in told if what == "marked"), default=0)
    finished = any(what == "finished" for what, _ in told)
    left = [note.path for note in record_notes.unfinished()]
    there = sorted(paths.recordings().glob("*.wav")) if paths.recordings().exists() else []
    if finished and left:
        return ["a finished note is offered as unfinished"]
    if not there:
        return [f"{said / RATE:.2f} s were said, there is no recording"] if said > MAY_LACK else []
    kept, lost = _sound(there[0])
    if len(kept) < said - MAY_LACK:
        lost.append(f"{said / RATE:.2f} s were said, {len(kept) / RATE:.2f} s are kept")
    if finished and len(kept) != len(TALK):
        lost.append("a note that was finished is not whole")
    if not np.array_equal(kept, TALK[: len(kept)]):
        lost.append("what is kept is not what was said")
    if len(record_notes.read_marks(there[0])) < marked:
        lost.append(f"of {marked} marks {len(record_notes.read_marks(there[0]))} are kept")
    return lost


def _sound(path: Path) -> tuple[Pcm, list[str]]:
    """The samples that a repair would keep. The file itself is left as it is for what goes on with it."""
    try:
        shape = record_file.inspect(path)
    except InputError as problem:
        if path.stat().st_size <= record_file.HEADER:
            return TALK[:0], []
        return TALK[:0], [str(problem)]
    data = path.read_bytes()[shape.data_start : shape.data_start + shape.data]
    return np.frombuffer(data, np.int16), []


def result(place: Path, tell: Tell) -> Any:
    (path,) = sorted(paths.recordings().glob("*.wav"))
    return {
        "whole": np.array_equal(wav_samples(path), TALK),
        "marks": [mark.label for mark in record_notes.read_marks(path)],
        "unfinished": len(record_notes.unfinished()),
    }


# --- another program's recording ---------------------------------------------------------------

QUIET_S = 1.5


def prepare_follow(place: Path, tell: Tell) -> None:
    paths.home().mkdir()
    (place / "other.wav").write_bytes(header(0)[:40] + struct.pack("<I", 0xFFFFFFFF))


def work_follow(place: Path, tell: Tell) -> None:
    """`reviewer record --follow` without a screen: all of it again from its first sample."""
    desk = make_desk(follow=place / "other.wav", quiet_s=QUIET_S)
    made = record_plain(desk, tell=lambda sentence: None, should_stop=lambda: False)
    tell(("finished", made.path.name))


def other_program(place: Path) -> Callable[[], Any]:
    """It records on while ours is killed; the call of what is returned ends it and says how far it is."""
    path = place / "other.wav"
    before = (path.stat().st_size - record_file.HEADER) // 2
    stop = threading.Event()
    written = [before]

    def write() -> None:
        began = time.monotonic()
        with path.open("ab", buffering=0) as out:
            for at in range(before, len(TALK), BLOCK):
                if stop.wait(max(0.0, began + (at - before) / RATE - time.monotonic())):
                    return
                out.write(TALK[at : at + BLOCK].tobytes())
                written[0] = min(at + BLOCK, len(TALK))

    thread = threading.Thread(target=write, daemon=True)
    thread.start()

    def ended() -> tuple[str, int]:
        stop.set()
        thread.join()
        return "written", written[0]

    return ended


def look_follow(place: Path, tell: Tell, told: list[tuple[str, Any]], foreseen: Any) -> list[str]:
    """The other program's file has it all; of ours, what was taken is there and is the same."""
    there = sorted(paths.recordings().glob("*.wav")) if paths.recordings().exists() else []
    lost = []
    for path in there:
        kept, broken = _sound(path)
        lost += broken
        if not np.array_equal(kept, TALK[: len(kept)]):
            lost.append(f"{path.name} is not what was recorded")
    written = max((number for what, number in told if what == "written"), default=0)
    newest, _ = _sound(there[-1]) if there else (TALK[:0], [])
    # taking begins only once it is open, and then at the file's beginning
    if newest.size and len(newest) < written - MAY_LACK:
        lost.append(f"{written / RATE:.2f} s were recorded, {newest.size / RATE:.2f} s were taken")
    finished = [name for what, name in told if what == "finished"]
    lost += [
        f"{name} was finished and is gone" for name in finished if not (paths.recordings() / name).exists()
    ]
    return lost


def result_follow(place: Path, tell: Tell) -> Any:
    """The newest recording has all that the other program has recorded by its end."""
    open_notes = {note.path for note in record_notes.unfinished()}
    done = [path for path in sorted(paths.recordings().glob("*.wav")) if path not in open_notes]
    return {"whole": np.array_equal(wav_samples(done[-1]), TALK), "finished": bool(done)}


RECORDING = Kind("recording", prepare, work, look, result)
FOLLOWING = Kind("following", prepare_follow, work_follow, look_follow, result_follow, beside=other_program)
