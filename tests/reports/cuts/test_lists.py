"""Cut lists, read back by the reference libraries to the frame."""

from fractions import Fraction
from itertools import pairwise

import opentimelineio as otio
import pytest
import webvtt

from reviewer.errors import InputError
from reviewer.reports.cuts.lists import by_film, edl, reel_name, vtt
from reviewer.reports.cuts.lists import otio as otio_text
from reviewer.reports.cuts.moments import Film, Moment, moments
from reviewer.reports.cuts.sync import SyncMark, fit
from reviewer.reports.cuts.timecode import Rate, read_rate

from ..build import graded

RATES = ["29.97df", "29.97", "59.94df", "25", "24", "23.976", "30", "60"]
SPANS = [(0, 90), (300, 331), (1790, 1805), (17980, 18080), (107890, 107895)]


def film(rate="29.97df", start=0, path=None, name="Game 01: Calder"):
    return Film(name, read_rate(rate), path, start)


def made(rate="29.97df", start=0, path=None):
    of = film(rate, start, path)
    return [
        Moment(of, first, end, f"rep {n}, 74 win & <more> — ü", "win", (f"74: punch {n}",))
        for n, (first, end) in enumerate(SPANS, 1)
    ]


@pytest.mark.parametrize("rate", RATES)
def test_an_edl_reads_back_to_the_frame(rate):
    start = 1800
    text = edl(made(rate, start), "Cut-up of 74")
    fps = float(read_rate(rate).exact)
    timeline = otio.adapters.read_from_string(text, "cmx_3600", rate=fps)
    clips = list(timeline.tracks[0])
    spans = [
        (round(c.source_range.start_time.value) - start, round(c.source_range.duration.value)) for c in clips
    ]
    assert spans == [(first, end - first) for first, end in SPANS]
    assert timeline.name == "Cut-up of 74"
    assert clips[0].name == "rep 1, 74 win & <more> u"
    assert list(clips[0].metadata["cmx_3600"]["comments"]) == ["COMMENT: 74: punch 1"]


def test_an_edl_as_the_manuals_lay_it_out():
    # Columns 1 6 15 21 30 42 54 66 (layout quoted from two editing manuals).
    lines = edl(made("30"), "T").splitlines()
    assert lines[:3] == ["TITLE: T", "FCM: NON-DROP FRAME", ""]
    assert lines[3] == "001  GAME01CA V     C        00:00:00:00 00:00:03:00 01:00:00:00 01:00:03:00"
    assert [lines[3][n - 1] for n in (1, 6, 15, 21, 30, 42, 54, 66)] == list("0GVC0000")
    assert edl(made(), "T").splitlines()[1] == "FCM: DROP FRAME"


def test_record_times_follow_each_other():
    lines = [line.split() for line in edl(made(), "T").splitlines() if line[:3].isdigit()]
    assert lines[0][6] == "01:00:00;00"
    assert [line[7] for line in lines[:-1]] == [line[6] for line in lines[1:]]


def test_an_edl_takes_no_more_than_999(tmp_path):
    with pytest.raises(InputError, match="at most 999 cuts, and these are 1000"):
        edl([Moment(film(), n, n + 1, "x", "win") for n in range(1000)], "T")


@pytest.mark.parametrize("rate", RATES)
def test_an_otio_reads_back_to_the_frame(rate, tmp_path):
    path = tmp_path / "film one.mp4"
    text = otio_text(made(rate, 100, path), "Cut-up")
    timeline = otio.adapters.read_from_string(text, "otio_json")
    clips = list(timeline.find_clips())
    spans = [(c.source_range.start_time.value - 100, c.source_range.duration.value) for c in clips]
    assert spans == [(first, end - first) for first, end in SPANS]
    assert clips[0].source_range.start_time.rate == pytest.approx(float(read_rate(rate).exact), abs=1e-9)
    assert clips[0].media_reference.target_url == path.resolve().as_uri()
    assert clips[0].markers[0].name == "win"
    assert list(clips[0].metadata["reviewer"]["remarks"]) == ["74: punch 1"]


def test_an_otio_without_a_film_says_so():
    timeline = otio.adapters.read_from_string(otio_text(made(), "C"), "otio_json")
    assert all(c.media_reference.is_missing_reference for c in timeline.find_clips())


def test_chapters_read_back_and_keep_their_rules():
    text = vtt(made())
    captions = webvtt.from_string(text)
    assert len(captions) == len(SPANS)
    assert captions[0].raw_text == "rep 1, 74 win &amp; &lt;more&gt; — ü"
    times = [(c.start_in_seconds + c.start_time.milliseconds / 1000, c.end_in_seconds) for c in captions]
    assert times[1][0] == pytest.approx(300 * 1001 / 30000, abs=0.001)
    # W3C WebVTT, 4.1 and 4.6: an end after its start, starts in order, chapters never partly overlapping
    stamps = [line.split(" --> ") for line in text.splitlines() if "-->" in line]
    assert all(start < end for start, end in stamps)
    assert all(one[1] <= two[0] for one, two in pairwise(stamps))
    assert text.startswith("WEBVTT\n\n")


def test_nothing_to_cut_is_a_sentence():
    for write in (lambda: edl([], "T"), lambda: otio_text([], "T")):
        with pytest.raises(InputError, match="nothing to cut"):
            write()


def test_reels_have_eight_letters():
    assert reel_name("Game 01: Calder Falls") == "GAME01CA"
    assert reel_name("—") == "FILM"


def test_moments_are_one_a_snap_in_film_order_and_apart():
    reps = [
        graded(1, start=10, end=14, note_id=1, concepts=["duo"]),
        graded(1, "loss", player="78", start=10, end=14, note_id=1),
        graded(2, start=15, end=20, note_id=1, faults=["lunge"], down=3, distance=7),
        graded(3, start=16, end=18, note_id=1),
        graded(1, start=10, end=14, note_id=2),
        graded(4, start=300, end=310, note_id=9),
    ]
    ten = Rate(Fraction(10))
    films = {1: Film("one", ten, line=fit([SyncMark(0, 100)])), 2: Film("two", ten)}
    found = moments(reps, films, before_s=2, after_s=1)
    assert [(m.film.name, m.first, m.end) for m in found] == [
        ("one", 1080, 1150),
        ("one", 1150, 1210),
        ("two", 80, 150),
    ]
    assert found[0].title == "rep 1, 74 win, 78 loss, duo"
    assert found[0].verdict == "mixed"
    assert found[1].title == "rep 2, 74 win, 3rd and 7 / rep 3, 74 win"
    assert found[1].remarks == ("74: fault lunge",)
    assert list(by_film(found)) == ["one", "two"]


def test_a_play_lists_film_time_beats_the_line():
    reps = [graded(1, start=10, end=14, note_id=1, film_s=40.0)]
    film_ = Film("one", Rate(Fraction(10)), line=fit([SyncMark(0, 100)]))
    (found,) = moments(reps, {1: film_}, before_s=0, after_s=0)
    assert (found.first, found.end) == (400, 470)
