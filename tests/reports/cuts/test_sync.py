"""From the recording to the film."""

from fractions import Fraction

import pytest

from reviewer.errors import InputError
from reviewer.reports.cuts.sync import SAME, SyncMark, fit, read_mark, read_moment
from reviewer.reports.cuts.timecode import Rate

RATE = Rate(Fraction(30000, 1001), True)


def test_one_mark_is_an_offset():
    line = fit([SyncMark(10.0, 250.5)])
    assert (line.film(10.0), line.film(20.0), line.error_s) == (250.5, 260.5, None)
    assert "no error can be told from one mark" in line.words()


def test_a_line_through_many_marks_and_its_error():
    # Least squares worked by hand: x 0 10 20, y 5 15.3 24.7: slope .985, offset 5.15,
    # residuals -.15 .30 -.15, standard error sqrt(.135 / 1) = .3674.
    line = fit([SyncMark(0, 5), SyncMark(10, 15.3), SyncMark(20, 24.7)])
    assert (line.speed, line.offset_s) == pytest.approx((0.985, 5.15))
    assert line.residuals_s == pytest.approx((-0.15, 0.30, -0.15))
    assert line.error_s == pytest.approx(0.3674, abs=1e-4)
    assert "standard error 0.37 s, largest 0.30 s" in line.words()


def test_two_marks_always_fit():
    line = fit([SyncMark(0, 5), SyncMark(100, 105.1)])
    assert line.film(50) == pytest.approx(55.05)
    assert line.error_s is None


def test_a_film_that_was_stopped_is_called_out():
    line = fit([SyncMark(0, 0), SyncMark(60, 20), SyncMark(120, 55)])
    assert line.odd
    assert "did not run along with the talk" in line.words()


def test_before_the_first_frame_is_the_first_frame():
    assert fit([SyncMark(30, 10)]).film(5) == 0.0
    assert SAME.film(12.5) == 12.5


@pytest.mark.parametrize(
    ("marks", "says"),
    [
        ([], "no sync mark; give one as --sync"),
        ([SyncMark(1, 2), SyncMark(1, 3)], "at one moment of the recording"),
        ([SyncMark(0, 10), SyncMark(10, 0)], "runs backwards"),
    ],
)
def test_marks_that_give_no_line(marks, says):
    with pytest.raises(InputError, match=says):
        fit(marks)


@pytest.mark.parametrize(
    ("text", "recording", "film"),
    [
        ("12.5=4:10.5", 12.5, 250.5), ("1:02=0:00", 62, 0), ("0=00:10:00;00", 0, 17982 * 1001 / 30000),
        ("1:00:00=3600", 3600, 3600),
    ],
)  # fmt: skip
def test_marks_as_typed(text, recording, film):
    mark = read_mark(text, RATE)
    assert (mark.recording_s, mark.film_s) == pytest.approx((recording, film))


@pytest.mark.parametrize("text", ["12.5", "a=b", "1=00:01:00;00", "1:75=3"])
def test_what_is_no_mark(text):
    with pytest.raises(InputError):
        read_mark(text, RATE)


def test_a_clock_with_sixty_seconds_is_none():
    with pytest.raises(InputError, match="is no time"):
        read_moment("1:60", RATE)
