"""Cut lists in the formats that players and editors read: WebVTT chapters, CMX 3600 EDL and
OpenTimelineIO. Each list is of one film; `by_film` sorts moments into films."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from reviewer.errors import InputError
from reviewer.reports.cuts.moments import Film, Moment
from reviewer.reports.cuts.timecode import Rate, from_timecode, seconds_of, to_timecode
from reviewer.review.plain import plain, plain_json

MOST_EVENTS = 999
"""A CMX 3600 list numbers its events with three digits."""

REEL_LETTERS = 8
RECORD_START = "01:00:00:00"
"""Cut lists traditionally begin at hour one."""


def by_film(moments: Sequence[Moment]) -> dict[str, list[Moment]]:
    """The moments of each film, by its name, in the order given."""
    films: dict[str, list[Moment]] = {}
    for moment in moments:
        films.setdefault(moment.film.name, []).append(moment)
    return films


def vtt(moments: Sequence[Moment]) -> str:
    """WebVTT chapters of one film: W3C WebVTT; titles one line each, apart and in order."""
    lines = ["WEBVTT", ""]
    for number, moment in enumerate(moments, 1):
        rate = moment.film.rate
        start, end = seconds_of(moment.first, rate), seconds_of(moment.end, rate)
        lines += [str(number), f"{_vtt_time(start)} --> {_vtt_time(end)}", _vtt_text(moment.title), ""]
    return "\n".join(lines)


def _vtt_time(seconds: float) -> str:
    thousandths = round(seconds * 1000)
    whole, rest = divmod(thousandths, 1000)
    return f"{whole // 3600:02}:{whole // 60 % 60:02}:{whole % 60:02}.{rest:03}"


def _vtt_text(text: str) -> str:
    shown = " ".join(plain(text).split())
    return shown.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def edl(moments: Sequence[Moment], title: str) -> str:
    """A CMX 3600 edit decision list of one film, ends exclusive, its frame code mode said.

    Raises InputError for more events than its three digits can number.
    """
    if len(moments) > MOST_EVENTS:
        raise InputError(
            f"An EDL numbers at most {MOST_EVENTS} cuts, and these are {len(moments)}; "
            "narrow the search or use otio."
        )
    film, rate = _film_of(moments)
    reel = reel_name(film.name)
    mode = "DROP FRAME" if rate.drop else "NON-DROP FRAME"
    lines = [f"TITLE: {_ascii(title)[:70]}", f"FCM: {mode}", ""]
    record = from_timecode(RECORD_START, rate)
    for number, moment in enumerate(moments, 1):
        times = (film.start + moment.first, film.start + moment.end, record, record + moment.frames)
        codes = " ".join(to_timecode(frame, rate) for frame in times)
        lines.append(f"{number:03}  {reel:<8} V     C        {codes}")
        lines.append(f"* FROM CLIP NAME: {_ascii(moment.title)}")
        lines += [f"* COMMENT: {_ascii(remark)}" for remark in moment.remarks]
        record += moment.frames
    return "\n".join(lines) + "\n"


def reel_name(name: str) -> str:
    """A film's name as a reel: at most eight letters and digits, upper case."""
    return re.sub(r"[^A-Z0-9]", "", _ascii(name).upper())[:REEL_LETTERS] or "FILM"


def _ascii(text: str) -> str:
    import unicodedata

    letters = unicodedata.normalize("NFKD", plain(text)).replace("…", "...")
    return " ".join(letters.encode("ascii", "ignore").decode().split())


def otio(moments: Sequence[Moment], title: str) -> str:
    """An OpenTimelineIO timeline of one film as its JSON text: a clip a moment, a marker with the
    verdict, and every remark in the metadata."""
    import opentimelineio

    schema = opentimelineio.schema
    film, rate = _film_of(moments)
    fps = float(rate.exact)
    timeline = schema.Timeline(name=title)
    timeline.global_start_time = opentimelineio.opentime.RationalTime(0, fps)
    track = schema.Track(name="Reps", kind=schema.TrackKind.Video)
    timeline.tracks.append(track)
    for moment in moments:
        track.append(_otio_clip(opentimelineio, moment, film, fps))
    return plain_json(str(opentimelineio.adapters.write_to_string(timeline, "otio_json"))) + "\n"


def _otio_clip(otio_module: Any, moment: Moment, film: Film, fps: float) -> Any:
    schema, opentime = otio_module.schema, otio_module.opentime
    span = opentime.TimeRange(
        opentime.RationalTime(film.start + moment.first, fps), opentime.RationalTime(moment.frames, fps)
    )
    if film.path is not None:
        media = schema.ExternalReference(target_url=film.path.resolve().as_uri())
    else:
        media = schema.MissingReference(name=film.name)
    clip = schema.Clip(name=moment.title, source_range=span, media_reference=media)
    clip.metadata["reviewer"] = {
        "verdict": moment.verdict,
        "remarks": list(moment.remarks),
        "film": film.name,
    }
    colours = {"win": schema.MarkerColor.BLUE, "loss": schema.MarkerColor.ORANGE}
    clip.markers.append(
        schema.Marker(
            name=moment.verdict,
            marked_range=opentime.TimeRange(span.start_time, opentime.RationalTime(1, fps)),
            color=colours.get(moment.verdict, schema.MarkerColor.WHITE),
        )
    )
    return clip


def _film_of(moments: Sequence[Moment]) -> tuple[Film, Rate]:
    if not moments:
        raise InputError("There is nothing to cut: no rep fits; widen the search.")
    film = moments[0].film
    return film, film.rate
