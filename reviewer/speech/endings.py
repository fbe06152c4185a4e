"""How a sound file tells that it is whole: its own statement of its length, or its end mark.

FFmpeg plays what is there and reports no error, so a file that was cut off while copying is found
here, per container:

    wav   the RIFF header's data size against the file's size
    aac   states none (raw ADTS)
    ogg   the end-of-stream flag on the last page (RFC 3533, section 6)
    mp3   the Xing, Info or VBRI header; without one a length is only an estimate and not used
    mkv   the sound track's DURATION tag, else none
    other the sound track's own length, as FFmpeg reads it
"""

from __future__ import annotations

import struct
from pathlib import Path
from typing import Any

_OGG_TAIL = 1 << 17  # an Ogg page has at most 65,307 bytes
_OGG_LAST_PAGE = 0x04
_MP3_HEAD = 1 << 13
_MOST_FMT = 1 << 12
_UNKNOWN_SIZE = 0xFFFFFFFF  # written by programs that stream and cannot go back


def declared_seconds(path: Path, container: Any, stream: Any) -> float | None:
    """Where the file states that its sound ends, in seconds, or None where it states nothing.

    path: the file; container, stream: it and its sound track, opened by PyAV.
    """
    name = container.format.name
    if name == "wav":
        return _wav_seconds(path)
    if name in {"ogg", "aac"} or (name == "mp3" and not _mp3_states_length(path)):
        return None
    if stream.duration is not None:
        late = (stream.start_time or 0) * stream.time_base - (container.start_time or 0) / 1_000_000
        return float(stream.duration * stream.time_base + late)
    return _tag_seconds(stream.metadata.get("DURATION", ""))


def no_proper_end(path: Path) -> bool:
    """True for an Ogg file whose last page does not say that it is the last."""
    with path.open("rb") as handle:
        if handle.read(4) != b"OggS":
            return False
        handle.seek(0, 2)
        handle.seek(max(0, handle.tell() - _OGG_TAIL))
        tail = handle.read()
    last = tail.rfind(b"OggS")
    return last < 0 or last + 6 > len(tail) or not tail[last + 5] & _OGG_LAST_PAGE


def lost_index(path: Path) -> bool:
    """True for an mp4, m4a or mov file without its index (the `moov` box, ISO/IEC 14496-12)."""
    size = path.stat().st_size
    with path.open("rb") as handle:
        if handle.read(8)[4:] != b"ftyp":
            return False
        at = 0
        while at + 8 <= size:
            handle.seek(at)
            length, name = struct.unpack(">I4s", handle.read(8))
            if name == b"moov":
                return bool(at + length > size)
            if length == 1:
                length = int.from_bytes(handle.read(8), "big")
            if length < 8:
                break
            at += length
    return True


def _wav_seconds(path: Path) -> float | None:
    """Length from the data chunk's stated size; None where the header leaves it open."""
    with path.open("rb") as handle:
        head = handle.read(12)
        if head[:4] != b"RIFF" or head[8:12] != b"WAVE":
            return None
        byte_rate = 0
        while len(chunk := handle.read(8)) == 8:
            name, size = struct.unpack("<4sI", chunk)
            if name == b"data":
                known = byte_rate and size not in (0, _UNKNOWN_SIZE)
                return size / byte_rate if known else None
            # a wild size must not ask for memory
            body = handle.read(min(size + size % 2, _MOST_FMT)) if name == b"fmt " else b""
            if name == b"fmt " and len(body) >= 12:
                byte_rate = struct.unpack("<I", body[8:12])[0]
            elif name != b"fmt ":
                handle.seek(size + size % 2, 1)
    return None


def _mp3_states_length(path: Path) -> bool:
    with path.open("rb") as handle:
        head = handle.read(10)
        skip = 0
        if head[:3] == b"ID3" and len(head) == 10:
            a, b, c, d = head[6:10]  # four times seven bits (ID3v2.4, section 6.2)
            skip = 10 + (a << 21 | b << 14 | c << 7 | d)
        handle.seek(skip)
        start = handle.read(_MP3_HEAD)
    return any(mark in start for mark in (b"Xing", b"Info", b"VBRI"))


def _tag_seconds(text: str) -> float | None:
    """Matroska's "00:00:11.192000000" as seconds."""
    parts = text.split(":")
    if len(parts) != 3:
        return None
    try:
        hours, minutes, seconds = (float(part) for part in parts)
    except ValueError:
        return None
    return hours * 3600 + minutes * 60 + seconds
