"""Clips and the reel, read back picture by picture."""

from fractions import Fraction

import av
import numpy as np
import pytest

from reviewer.errors import InputError, Stopped
from reviewer.reports.cuts.clips import clip_names, cut_clips, cut_reel, film_rate
from reviewer.reports.cuts.moments import Film, Moment
from reviewer.reports.cuts.timecode import Rate

from .conftest import RATE, make_film, number_of

NTSC = Rate(RATE)


def moment(path, first, end, title="rep 1, 74 win", rate=NTSC):
    return Moment(Film(path.stem if path else "gone", rate, path), first, end, title, "win")


def numbers(path):
    with av.open(str(path)) as container:
        return [number_of(frame) for frame in container.decode(video=0)]


def sound(path):
    with av.open(str(path)) as container:
        pieces = [frame.to_ndarray()[0] for frame in container.decode(audio=0) if frame.pts >= 0]
    return np.concatenate(pieces)


def test_each_clip_has_exactly_its_frames(film, tmp_path):
    wanted = [(0, 10), (95, 130), (101, 102), (330, 360)]
    moments = [moment(film, first, end, f"rep {n}") for n, (first, end) in enumerate(wanted)]
    cut = cut_clips(moments, tmp_path / "clips")
    assert [numbers(path) for path in cut.made] == [list(range(*span)) for span in wanted]
    assert cut.made[0].name == "001 rep 0.mp4"


def test_sound_stays_with_its_picture(film, tmp_path):
    # Frame 75 is at 2.5025 s, so the click of second 3 comes 0.4975 s into the clip.
    (path,) = cut_clips([moment(film, 75, 120)], tmp_path / "clips").made
    heard = sound(path)
    loud = int(np.argmax(np.abs(heard) > 0.3))
    assert loud / 48000 == pytest.approx(3 - 75 * 1001 / 30000, abs=0.005)
    assert len(heard) / 48000 == pytest.approx(45 * 1001 / 30000, abs=0.03)


def test_the_reel_has_every_frame_and_a_chapter_each(film, tmp_path):
    wanted = [(10, 25), (140, 170), (300, 345)]
    moments = [moment(film, first, end, f"rep {n}") for n, (first, end) in enumerate(wanted)]
    told = []
    reel = cut_reel(moments, tmp_path / "reel.mp4", lambda done, of, title: told.append((done, of, title)))
    assert numbers(reel) == [n for span in wanted for n in range(*span)]
    with av.open(str(reel)) as container:
        chapters = container.chapters()
    starts = [float(c["start"] * c["time_base"]) for c in chapters]
    assert starts == pytest.approx([0, 15 * 1001 / 30000, 45 * 1001 / 30000], abs=0.001)
    assert [c["metadata"]["title"] for c in chapters] == ["rep 0", "rep 1", "rep 2"]
    assert told == [(0, 3, "rep 0"), (1, 3, "rep 1"), (2, 3, "rep 2"), (3, 3, "")]


def test_a_reel_of_two_films_keeps_the_first_ones_rate(film, tmp_path):
    other = make_film(tmp_path / "other.mp4", frames=50, rate=Fraction(25), sound=False)
    moments = [moment(film, 0, 30), moment(other, 0, 25, rate=Rate(Fraction(25)))]
    reel = cut_reel(moments, tmp_path / "reel.mp4")
    assert film_rate(reel).exact == RATE
    with av.open(str(reel)) as container:
        assert float(container.duration / av.time_base) == pytest.approx(30 * 1001 / 30000 + 1, abs=0.07)


def test_a_film_of_uneven_times_is_cut_by_its_clock(tmp_path):
    film = make_film(tmp_path / "phone.mp4", frames=60, missing={20, 21, 35})
    (path,) = cut_clips([moment(film, 18, 40)], tmp_path / "clips").made
    # the picture before stays on screen where the film has none
    assert numbers(path) == [18, 19, 19, 19, *range(22, 35), 34, *range(36, 40)]


def test_stopping_leaves_whole_clips_and_going_on_keeps_them(film, tmp_path):
    folder = tmp_path / "clips"
    moments = [moment(film, 0, 20, "one"), moment(film, 40, 60, "two"), moment(film, 80, 100, "three")]
    asked = []

    def stop():
        asked.append(1)
        return (folder / "001 one.mp4").is_file() and len(asked) > 5

    with pytest.raises(Stopped, match="run it again to go on"):
        cut_clips(moments, folder, stop=stop)
    assert sorted(path.name for path in folder.iterdir()) == ["001 one.mp4", "clips.json"]
    cut = cut_clips(moments, folder)
    assert [path.name for path in cut.kept] == ["001 one.mp4"]
    assert len(cut.made) == 2
    assert numbers(folder / "003 three.mp4") == list(range(80, 100))


def test_a_stopped_reel_leaves_nothing(film, tmp_path):
    with pytest.raises(Stopped):
        cut_reel([moment(film, 0, 50)], tmp_path / "reel.mp4", stop=lambda: True)
    assert list(tmp_path.iterdir()) == []


def test_a_changed_moment_is_cut_again(film, tmp_path):
    cut_clips([moment(film, 0, 10)], tmp_path)
    cut = cut_clips([moment(film, 5, 10)], tmp_path)
    assert numbers(cut.made[0]) == list(range(5, 10))


def test_what_is_no_film_is_a_sentence(tmp_path):
    text = tmp_path / "film.mp4"
    text.write_text("not a film")
    with pytest.raises(InputError, match="is it a film"):
        film_rate(text)
    with pytest.raises(InputError, match="is not there; name where it is with --film"):
        cut_clips([moment(tmp_path / "gone.mp4", 0, 5)], tmp_path)
    with pytest.raises(InputError, match="The film of gone is not known"):
        cut_clips([moment(None, 0, 5)], tmp_path)
    with pytest.raises(InputError, match="nothing to cut"):
        cut_reel([], tmp_path / "reel.mp4")


def test_a_moment_after_the_films_end_is_a_sentence(film, tmp_path):
    with pytest.raises(InputError, match="The film ends before a moment"):
        cut_clips([moment(film, 5000, 5010)], tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_names_are_safe_and_sort(tmp_path):
    titles = ['rep 1, 74 win/loss: "x" <y>', "x" * 200, "..", "  "]
    names = clip_names([moment(None, 0, 1, title) for title in titles])
    assert names[0] == "001 rep 1, 74 win loss x y.mp4"
    assert len(names[1]) < 90
    assert names[2:] == ["003.mp4", "004.mp4"]
