"""Captions in and out: WebVTT and SubRip.

Reading gives words with times, spread over their cue by their letters. A file that breaks the
rules of its format is refused with the line where it does: a reader that skips a bad cue loses
what was said in it. The rules of WebVTT are those of the W3C draft, sections 4.1 and 4.2.
"""

from __future__ import annotations

import html
import io
import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from reviewer.errors import InputError
from reviewer.records import Word

MOST_BYTES = 5_000_000
"""Longest caption file taken: more than a hundred hours of talk."""

MOST_HOURS = 1000
"""Latest time of a cue; a clock of the day still fits, an absurd number does not."""

_LINE_LETTERS = 42  # common practice in captioning, no source
_CUE_S = 6.0
_PAUSE_S = 0.8
_LEAST_MS = 1

_VTT_TIME = r"(?:(\d{2,}):)?([0-5]\d):([0-5]\d)\.(\d{3})"
_VTT_TIMINGS = re.compile(rf"[ \t]*{_VTT_TIME}[ \t]+-->[ \t]+{_VTT_TIME}(?:[ \t].*)?")
_SRT_TIME = r"(\d{1,3}):([0-5]\d):([0-5]\d)[,.](\d{3})"
_SRT_TIMINGS = re.compile(rf"[ \t]*{_SRT_TIME}[ \t]*-->[ \t]*{_SRT_TIME}(?:[ \t].*)?")
_NO_CUE = re.compile(r"(?:NOTE|STYLE|REGION)(?:[ \t]|$)")
_SRT_PLACING = re.compile(r"\{\\[^}]*\}")
_ARROW = "-->"
_NO_TEXT = frozenset({"Cc", "Cs", "Zl", "Zp"})


@dataclass(frozen=True, slots=True)
class _Cue:
    """Times in milliseconds; lines without markup."""

    start: int
    end: int
    lines: tuple[str, ...]


def read_captions(path: Path) -> list[Word]:
    """The words of a WebVTT or SubRip file, in order; which of the two is told by its first line.

    A word's time is its share of its cue by letters, its probability is 1. Raises InputError,
    naming the line, where the file breaks the rules, is not UTF-8 or holds no words.
    """
    path = Path(path)
    text = _read_text(path)
    vtt = text.lower().startswith("webvtt")
    count = _check(path, _lines(text), vtt=vtt)
    cues = _parse(path, text, vtt=vtt)
    if len(cues) != count:
        raise InputError(f"{path.name} holds {count} cues but only {len(cues)} can be read; save it again")
    words = [word for cue in _unrolled(sorted(cues, key=lambda cue: cue.start)) for word in _spread(cue)]
    if not words:
        raise InputError(f"{path.name} holds no words; give captions with text in them")
    return words


def write_vtt(words: Sequence[Word]) -> str:
    """The words as a WebVTT file's text, in cues of up to two lines, cut at sentences and pauses."""
    import webvtt

    captions = [
        webvtt.Caption(_stamp(start), _stamp(end), html.escape(text, quote=False))
        for start, end, text in _cues(words)
    ]
    return webvtt.WebVTT(captions=captions).content.rstrip("\n") + "\n"


def write_srt(words: Sequence[Word]) -> str:
    """The words as a SubRip file's text, in the same cues as `write_vtt`."""
    # the library's writer takes "<clean>" for a tag and drops it
    cues = [
        f"{number}\n{_stamp(start, ',')} --> {_stamp(end, ',')}\n{text}\n"
        for number, (start, end, text) in enumerate(_cues(words), start=1)
    ]
    return "\n".join(cues)


def _read_text(path: Path) -> str:
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise InputError(f"there is no file {path}; check the name and the folder") from None
    except OSError as error:
        raise InputError(f"{path} cannot be read ({error.strerror}); give a caption file") from error
    if len(data) > MOST_BYTES:
        raise InputError(
            f"{path.name} is larger than {MOST_BYTES // 1_000_000} MB, which is no note of one sitting; "
            "cut it into its notes"
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError(f"{path.name}, line {line}: this is not UTF-8 text; save it as UTF-8") from None
    if "\x00" in text:
        line = text.count("\n", 0, text.index("\x00")) + 1
        raise InputError(f"{path.name}, line {line}: this is no plain text; give a WebVTT or SubRip file")
    return text


def _lines(text: str) -> list[str]:
    return re.split(r"\r\n|\r|\n", text)


def _blocks(lines: Sequence[str]) -> Iterator[tuple[int, list[str]]]:
    """Runs of lines without an empty one, each with the number of its first line."""
    block: list[str] = []
    for number, line in enumerate([*lines, ""], start=1):
        if line:
            block.append(line)
        elif block:
            yield number - len(block), block
            block = []


def _check(path: Path, lines: Sequence[str], *, vtt: bool) -> int:
    """Hold the file against its format's rules; the number of cues with a text."""

    def bad(line: int, what: str) -> InputError:
        return InputError(f"{path.name}, line {line}: {what}")

    blocks = list(_blocks(lines))
    if vtt:
        number, header = blocks.pop(0)
        if not re.fullmatch(r"WEBVTT(?:[ \t].*)?", header[0]):
            raise bad(number, "the first line must be WEBVTT in capitals and nothing joined to it")
        if any(_ARROW in line for line in header):
            raise bad(number + 1, "an empty line must follow the line WEBVTT")
    timings = _VTT_TIMINGS if vtt else _SRT_TIMINGS
    known: set[str] = set()
    last_start = count = 0
    for number, block in blocks:
        if vtt and _NO_CUE.match(block[0]) and not any(_ARROW in line for line in block):
            continue
        at = 0 if _ARROW in block[0] else 1
        if at >= len(block) or _ARROW not in block[at]:
            raise bad(number, "this text belongs to no cue; a cue begins with a line 'start --> end'")
        found = timings.fullmatch(block[at])
        if found is None:
            example = "00:00:01.000 --> 00:00:02.500" if vtt else "00:00:01,000 --> 00:00:02,500"
            raise bad(number + at, f"'{block[at].strip()}' is no pair of times; write {example}")
        times = found.groups()
        if any(len((hours or "").lstrip("0")) > 3 for hours in (times[0], times[4])):
            raise bad(number + at, f"a cue at {MOST_HOURS} hours or more; correct its times")
        start, end = _milliseconds(times[:4]), _milliseconds(times[4:])
        if end <= start:
            raise bad(number + at, "the cue ends before it starts, or has no length; correct its times")
        if vtt and start < last_start:
            raise bad(number + at, "the cue starts before the one above it; put the cues in order")
        if any(_ARROW in line for line in block[at + 1 :]):
            raise bad(number + at + 1, "an empty line must stand between two cues")
        if vtt and at == 1 and block[0] in known:
            raise bad(number, f"the cue name '{block[0]}' was used before; give each cue its own")
        known.update(block[:at])
        last_start = start
        count += len(block) > at + 1
    if not count:
        raise InputError(f"{path.name} holds no captions; give a WebVTT or SubRip file")
    return count


def _milliseconds(parts: Sequence[str | None]) -> int:
    hours, minutes, seconds, rest = (int(part or 0) for part in parts)
    return ((hours * 60 + minutes) * 60 + seconds) * 1000 + rest


def _parse(path: Path, text: str, *, vtt: bool) -> list[_Cue]:
    import webvtt

    try:
        if vtt:
            found = webvtt.WebVTT.from_string(text)
        else:
            found = webvtt.WebVTT.from_buffer(io.StringIO("\n".join(_lines(text))), format="srt")
    except (webvtt.errors.MalformedFileError, webvtt.errors.MalformedCaptionError) as error:
        raise InputError(f"{path.name} cannot be read as captions ({error}); save it again") from error
    cues = []
    for caption in found.captions:
        lines = tuple(_plain(line, vtt=vtt) for line in str(caption.text).split("\n"))
        if str(caption.raw_text).strip():
            cues.append(_Cue(caption.start_time.in_milliseconds(), caption.end_time.in_milliseconds(), lines))
    return cues


def _plain(line: str, *, vtt: bool) -> str:
    # the library strips tags but leaves character references
    return " ".join((html.unescape(line) if vtt else _SRT_PLACING.sub("", line)).split())


def _unrolled(cues: Sequence[_Cue]) -> Iterator[_Cue]:
    """Cues of live captions, which repeat the line above while a new one rolls in, said once.

    Only a cue of several lines, or one too short to be read, can be such a repeat; the same
    words in two whole cues were spoken twice.
    """
    shown: tuple[str, ...] = ()
    shown_end = 0
    for cue in cues:
        lines = tuple(line for line in cue.lines if line)
        rolling = (len(lines) > 1 or cue.end - cue.start <= 50) and cue.start <= shown_end + 50
        fresh = lines
        if rolling and shown:
            for size in range(min(len(shown), len(lines)), 0, -1):
                if shown[-size:] == lines[:size]:
                    fresh = lines[size:]
                    break
        shown, shown_end = lines or shown, cue.end
        if fresh:
            yield _Cue(cue.start, cue.end, fresh)


def _spread(cue: _Cue) -> Iterator[Word]:
    words = " ".join(cue.lines).split()
    letters = sum(len(word) for word in words)
    at = 0
    for word in words:
        start = cue.start + (cue.end - cue.start) * at / letters
        at += len(word)
        end = cue.start + (cue.end - cue.start) * at / letters
        yield Word(word, round(start / 1000, 3), round(end / 1000, 3))


def _cues(words: Sequence[Word]) -> Iterator[tuple[int, int, str]]:
    """Start and end in milliseconds, and the text, of each cue."""
    last_start = 0
    for cue in _grouped(words):
        # rules of the format that the words' own times need not obey
        start = max(last_start, round(cue[0].start * 1000))
        end = max(start + _LEAST_MS, round(max(word.end for word in cue) * 1000))
        last_start = start
        yield start, end, _wrapped(_harmless(" ".join(word.text for word in cue)))


def _harmless(text: str) -> str:
    """Without what ends a cue or a line, or acts on a terminal that shows the file."""
    shown = (" " if unicodedata.category(char) in _NO_TEXT else char for char in text)
    return " ".join("".join(shown).replace(_ARROW, "→").split())


def _grouped(words: Sequence[Word]) -> Iterator[list[Word]]:
    held: list[Word] = []
    for word in words:
        if not word.text.strip():
            continue
        if held and _full(held, word):
            yield held
            held = []
        held.append(word)
    if held:
        yield held


def _full(held: Sequence[Word], word: Word) -> bool:
    letters = sum(len(w.text) + 1 for w in held) + len(word.text)
    return (
        word.start - held[-1].end >= _PAUSE_S
        or word.end - held[0].start > _CUE_S
        or letters > 2 * _LINE_LETTERS
        or (held[-1].text[-1] in ".?!" and letters > _LINE_LETTERS)
    )


def _wrapped(text: str) -> str:
    """In two lines of about the same length where one would be too long."""
    if len(text) <= _LINE_LETTERS:
        return text
    spaces = [at for at, letter in enumerate(text) if letter == " "]
    if not spaces:
        return text
    middle = min(spaces, key=lambda at: abs(at - len(text) / 2))
    return f"{text[:middle]}\n{text[middle + 1 :]}"


def _stamp(milliseconds: int, point: str = ".") -> str:
    seconds, rest = divmod(milliseconds, 1000)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{seconds:02d}{point}{rest:03d}"
