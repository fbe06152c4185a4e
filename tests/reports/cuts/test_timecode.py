"""Timecode against SMPTE ST 12-1's rule and the values of three libraries."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reviewer.errors import InputError
from reviewer.reports.cuts.timecode import (
    Rate,
    end_frame,
    first_frame,
    from_timecode,
    rate_of,
    read_rate,
    seconds_of,
    to_timecode,
)

DROP = Rate(Fraction(30000, 1001), True)
DROP_60 = Rate(Fraction(60000, 1001), True)
PLAIN = Rate(Fraction(30000, 1001))

# SMPTE ST 12-1 (quoted); computed with opentimelineio 0.18.1, timecode 1.5.1 and JavaScript
# smpte-timecode 1.3.6, which all agree.
TABLE = [
    ("00:00:59;29", 1799), ("00:01:00;02", 1800), ("00:02:00;02", 3598), ("00:09:59;29", 17981),
    ("00:10:00;00", 17982), ("00:11:00;02", 19782), ("00:30:00;00", 53946), ("01:00:00;00", 107892),
    ("10:00:00;00", 1078920), ("23:59:59;29", 2589407),
]  # fmt: skip


@pytest.mark.parametrize(("label", "frame"), TABLE)
def test_drop_frame_table(label, frame):
    assert to_timecode(frame, DROP) == label
    assert from_timecode(label, DROP) == frame


@pytest.mark.parametrize(
    ("label", "frame"), [("00:01:00;04", 3600), ("00:10:00;00", 35964), ("01:00:00;00", 215784)]
)
def test_drop_frame_at_59_94(label, frame):
    assert to_timecode(frame, DROP_60) == label
    assert from_timecode(label, DROP_60) == frame


def test_the_same_frame_without_dropping():
    assert to_timecode(107892, PLAIN) == "00:59:56:12"
    assert seconds_of(107892, PLAIN) == pytest.approx(3599.9964, abs=1e-6)


@settings(deadline=None)
@given(st.integers(0, 2589407))
def test_drop_frame_is_opentimelineios(frame):
    import opentimelineio as otio

    fps = 30000 / 1001
    theirs = otio.opentime.to_timecode(otio.opentime.RationalTime(frame, fps), fps, True)
    assert to_timecode(frame, DROP) == theirs
    assert from_timecode(theirs, DROP) == frame


@pytest.mark.parametrize(
    "label", ["00:01:00;00", "00:01:00;01", "00:59:00;00", "00:00:60;00", "00:60:00;00", "00:00:00;30"]
)
def test_labels_that_do_not_exist_are_refused(label):
    with pytest.raises(InputError, match="There is no timecode"):
        from_timecode(label, DROP)


def test_what_is_no_timecode():
    with pytest.raises(InputError, match="write it as 00:01:02:03"):
        from_timecode("1:2", DROP)
    with pytest.raises(ValueError, match="counts from 0"):
        to_timecode(-1, DROP)


@pytest.mark.parametrize(
    ("text", "exact", "drop", "shown"),
    [
        ("29.97df", Fraction(30000, 1001), True, "29.97df"), ("29.97", Fraction(30000, 1001), False, "29.97"),
        ("23.976", Fraction(24000, 1001), False, "23.976"),
        ("30000/1001", Fraction(30000, 1001), False, "29.97"),
        ("25", Fraction(25), False, "25"), ("59,94 DF", Fraction(60000, 1001), True, "59.94df"),
        ("30", Fraction(30), False, "30"),
    ],
)  # fmt: skip
def test_rates_as_people_write_them(text, exact, drop, shown):
    rate = read_rate(text)
    assert (rate.exact, rate.drop, str(rate)) == (exact, drop, shown)


@pytest.mark.parametrize("text", ["25df", "fast", "0", "1/0", "30df"])
def test_no_rates(text):
    with pytest.raises(InputError, match="no frame rate"):
        read_rate(text)


def test_nominal_rates():
    nominal = [rate_of(Fraction(r)).nominal for r in ("24", "23.976", "25", "29.97", "50", "59.94")]
    assert nominal == [
        24,
        24,
        25,
        30,
        50,
        60,
    ]


def test_a_clip_holds_the_frames_it_touches():
    rate = Rate(Fraction(25))
    assert (first_frame(1.0, rate), end_frame(2.0, rate)) == (25, 50)
    assert (first_frame(1.01, rate), end_frame(2.01, rate)) == (25, 51)
    assert first_frame(0.0, DROP) == 0
