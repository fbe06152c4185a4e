"""How input is spoilt, and what must come of it whatever it is."""

from __future__ import annotations

import os
import re
import tempfile
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from reviewer.cli import as_sentence
from reviewer.errors import ReviewerError

TIMES = int(os.environ.get("FUZZ_TIMES", "1"))
LONGEST = 420
"""Letters of a sentence for a person."""

JOINERS = "\u200c\u200d"

EVIL = "\x1b[2J\x1b]0;x\x07[bold][@click=app.quit]x[/]\u202e\u2066\x9b31m\x85\u2028"
"""What a terminal, a screen's markup or the order of letters would act on."""

TOKENS: tuple[bytes, ...] = (
    b"\0", b"\xef\xbb\xbf", b"\xff\xfe", b"\xed\xa0\x80", b"\xe2\x80\xae", b"\x1b[2J", b"9" * 5000, b"1e999",
    b"-1", b"nan", b"inf", "²".encode(), b"\r", b'"', b"'", b"[", b"{", b"<", b"&lt;", b"|", b"=1+1", b"-->",
    b"99999:59:59.999", b"99999999999999999999", b"\n\n", b" " * 3000, b"x" * 20_000, "𝟗".encode(), b"\x80",
)  # fmt: skip
"""What is put in: ends of text, marks of other encodings, half characters, signs, absurd numbers."""

Got = TypeVar("Got")


def fuzzed(examples: int) -> settings:
    """So many examples; the same ones in the checking run, others with each `--hypothesis-seed`."""
    return settings(
        max_examples=examples * TIMES,
        deadline=None,
        database=None,
        derandomize=bool(os.environ.get("CI")),
        suppress_health_check=list(HealthCheck),
    )


@st.composite
def spoilt(draw: st.DrawFn, samples: Sequence[bytes]) -> bytes:
    """One of the samples with one to four things done to it."""
    data = draw(st.sampled_from(samples))
    for _ in range(draw(st.integers(1, 4))):
        data = draw(st.sampled_from(WAYS))(draw, data)
    return data


def _flip(draw: st.DrawFn, data: bytes) -> bytes:
    found = bytearray(data)
    for _ in range(draw(st.integers(1, 8)) if data else 0):
        found[draw(st.integers(0, len(data) - 1))] ^= 1 << draw(st.integers(0, 7))
    return bytes(found)


def _cut(draw: st.DrawFn, data: bytes) -> bytes:
    return data[: draw(st.integers(0, len(data)))]


def _take_out(draw: st.DrawFn, data: bytes) -> bytes:
    first = draw(st.integers(0, len(data)))
    return data[:first] + data[first + draw(st.integers(1, 40)) :]


def _put_in(draw: st.DrawFn, data: bytes) -> bytes:
    at = draw(st.integers(0, len(data)))
    return data[:at] + draw(st.sampled_from(TOKENS)) + data[at:]


def _swap_lines(draw: st.DrawFn, data: bytes) -> bytes:
    lines = data.split(b"\n")
    one, two = (draw(st.integers(0, len(lines) - 1)) for _ in range(2))
    lines[one], lines[two] = lines[two], lines[one]
    return b"\n".join(lines)


def _double_line(draw: st.DrawFn, data: bytes) -> bytes:
    lines = data.split(b"\n")
    at = draw(st.integers(0, len(lines) - 1))
    return b"\n".join([*lines[:at], lines[at], *lines[at:]])


def _absurd_number(draw: st.DrawFn, data: bytes) -> bytes:
    found = list(re.finditer(rb"\d+", data))
    if not found:
        return data
    number = draw(st.sampled_from(found))
    return data[: number.start()] + draw(st.sampled_from(TOKENS)) + data[number.end() :]


def _other_encoding(draw: st.DrawFn, data: bytes) -> bytes:
    return data.decode("utf-8", "replace").encode(draw(st.sampled_from(["utf-16", "utf-16-be", "utf-32"])))


WAYS = (_flip, _flip, _cut, _take_out, _put_in, _put_in, _swap_lines, _double_line, _absurd_number,
        _absurd_number, _other_encoding)  # fmt: skip


def result_or_sentence(call: Callable[[], Got]) -> Got | None:
    """What the call gives, or None where it says what is wrong as it must."""
    try:
        return call()
    except ReviewerError as problem:
        check_sentence(as_sentence(str(problem)))
        return None


def check_sentence(told: str) -> None:
    """One line that a terminal can show, short enough to be read, with an end."""
    odd = [c for c in told if unicodedata.category(c) in {"Cc", "Cf", "Cs", "Zl", "Zp"} and c not in JOINERS]
    assert not odd, told
    assert len(told) <= LONGEST, len(told)
    assert told.endswith((".", "?", "!")), told


@contextmanager
def file_of(data: bytes, name: str) -> Iterator[Path]:
    """A file with these bytes, in a folder of its own."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        yield path


def unseen(told: str) -> list[str]:
    """What in a text a terminal would act on; lines may end."""
    return [char for char in told if char != "\n" and unicodedata.category(char) in {"Cc", "Cs"}] + [
        char for char in told if char in "\u202a\u202b\u202d\u202e\u2066\u2067\u2068"
    ]


def left_in(folder: Path) -> list[Any]:
    """Files that an unfinished write would have left."""
    return [p.name for p in folder.rglob("*") if p.name.startswith(".") or p.suffix == ".part"]
