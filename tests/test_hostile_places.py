"""Bad places and bad moments: one clear sentence, and nothing lost.

What is done there is in `tests/hostile.py`, in child processes: a small disk and a disk that cannot
be written are mounts of the child's own, or stand-ins where a container allows no mounts.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from reviewer import keeping, paths, store
from reviewer.errors import LibraryError
from reviewer.review.session import Session
from reviewer.speech import record_notes
from reviewer.speech.record import Recorder
from tests import hostile
from tests.killing.child import Worker, done
from tests.killing.places import limit_files
from tests.screens.evening import add_evening
from tests.speech.record_rig import FakeSource, noise


@pytest.fixture
def place() -> Iterator[Path]:
    """A folder that other users may look into, as pytest's own may not be."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    yield folder
    shutil.rmtree(folder, ignore_errors=True)


def met(place: Path, what: Callable[..., Any], *more: Any) -> Any:
    """What the program meets there, in a child process."""
    return done(what, place, *more)


def one_sentence(text: str, *said: str) -> None:
    """The text is one sentence and says all of this."""
    text = text.removeprefix("reviewer: ").strip()
    assert "\n" not in text
    assert "Traceback" not in text
    for part in said:
        assert part in text


def refused(ran: hostile.Ran, *said: str) -> None:
    """The command ended with one sentence and the code for what a user can put right."""
    code, text = ran
    assert code == 2, text
    assert text.startswith("reviewer: ")
    assert text.rstrip().endswith(".")
    one_sentence(text, *said)


# --- a full disk -------------------------------------------------------------------------------

FULL = "gradebook.db could not be"


def test_grading_on_a_full_disk_keeps_every_note_that_was_shown(place: Path) -> None:
    found = met(place, hostile.full_grading)
    refused(found["refused"], FULL, "free some space")
    assert found["kept"] == 0, "notes stored against notes shown"
    assert found["wrong"] == []
    assert found["again"] == {0}, "with room again the same goes on"


def test_decisions_on_a_full_disk_are_kept_up_to_the_one_refused(place: Path) -> None:
    found = met(place, hostile.full_deciding)
    one_sentence(found["refusal"], FULL, "free some space")
    assert found["shown"] == found["said"] == found["before"]
    assert found["kept"] == 3, "the first comment, the one of number 0, and the one with room again"
    assert found["wrong"] == []


def test_a_lesson_on_a_full_disk_is_in_both_places_or_in_neither(place: Path) -> None:
    found = met(place, hostile.full_teaching)
    one_sentence(found["refusal"], "cannot be written" if "vocab" in found["refusal"] else FULL)
    assert found["missing"] == []
    assert found["wrong"] == []


def test_a_recording_on_a_full_disk_keeps_what_was_said_and_goes_on(place: Path) -> None:
    found = met(place, hostile.full_recording)
    one_sentence(found["problem"], "are kept", "and go on, or finish.")
    assert found["problems"] == (found["problem"],)
    assert found["at once"], "what was written plays, and is what was said"
    assert found["more"] >= 0
    assert found["wrong"] == []


def test_transcribing_on_a_full_disk_goes_on_with_room(place: Path) -> None:
    found = met(place, hostile.full_transcribing)
    one_sentence(found["refusal"], "the transcript cannot be kept in", "free some space there")
    assert found["words"] > 0
    assert found["left"] == []
    assert found["wrong"] == []


def test_copies_and_reports_on_a_full_disk_leave_what_was_there(place: Path) -> None:
    found = met(place, hostile.full_copies)
    refused(found["ran"]["backup"], "The backup", "could not be written", "choose another place")
    refused(found["ran"]["restore"], "free some space")
    refused(found["ran"]["season"], FULL, "free some space")
    refused(found["ran"]["sheet"], "sheet.pdf cannot be written", "choose another place")
    assert found["sheet"] == "mine"
    assert not [name for name in found["names"] if name.startswith((".", "copy", "gradebook.before"))]
    assert found["wrong"] == []


def test_no_room_for_a_grade_book_at_all(place: Path) -> None:
    found = met(place, hostile.full_from_the_start)
    refused(found["refused"], FULL, "free some space")
    one_sentence(found["model"], "the speech model base cannot be put together", "free some space there")
    assert found["again"] == 0
    assert found["left"] == []


def test_a_file_that_may_grow_no_more_is_a_full_disk_too(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A quota of the file's size (EFBIG), in every container."""
    monkeypatch.setenv(paths.HOME_VARIABLE, str(place / "home"))
    with store.Library.open() as library:
        session = Session(library, add_evening(library))
        session.comment("before")
        size = max(path.stat().st_size for path in paths.home().iterdir())
        free = limit_files(size + 50_000)
        try:
            with pytest.raises(LibraryError, match=r"gradebook\.db could not be .* free some space"):
                for number in range(500):
                    session.comment(f"{number} " + "remark " * 300)
        finally:
            free()
        kept = store.revision_of(library, 1)
        session.comment("after")
        assert store.revision_of(library, 1) == kept + 1
        assert store.check(library) == []


# --- a place that cannot be written -------------------------------------------------------------


def test_a_library_that_cannot_be_written_can_be_read(place: Path) -> None:
    found = met(place, hostile.read_only_library)
    for ran in found["refused"].values():
        refused(ran, "cannot be")
    for name, (code, text) in found["works"].items():
        assert code == 0, f"{name}: {text}"
    assert "reaches" in found["works"]["search"][1]
    assert "week-0" in found["works"]["notes"][1]


def test_what_was_decided_last_is_shown_on_a_disk_that_became_read_only(place: Path) -> None:
    """The program was killed, so the decision is still in the log beside the grade book."""
    worker = Worker(hostile.decide_and_wait, place)
    while "decided" not in worker.told:
        worker.wait(0.05)
    assert worker.kill()
    assert (place / "home" / "gradebook.db-wal").stat().st_size > 0
    code, text = met(place, hostile.killed_then_read_only)
    assert code == 0, text
    assert "loss" in text, text


def test_a_recording_where_nothing_can_be_written(place: Path) -> None:
    one_sentence(met(place, hostile.read_only_recording), "recordings", "REVIEWER_HOME")


# --- a recording that vanishes -----------------------------------------------------------------


def test_a_recording_that_vanishes_before_it_is_heard(place: Path) -> None:
    found = met(place, hostile.vanishing, "gone at once")
    one_sentence(found["refusal"], "there is no file", "talk.flac")
    assert (found["stored"], found["kept"], found["wrong"]) == (0, [], [])


def test_a_recording_that_vanishes_while_it_is_heard_is_stored_as_heard(place: Path) -> None:
    found = met(place, hostile.vanishing, "gone while heard")
    assert found["refusal"] == ""
    assert found["stored"] == 1, "what was said in it is all that is left of it"
    one_sentence(" ".join(found["remarks"]), "talk.flac is gone")
    assert found["wrong"] == []


def test_a_recording_cut_short_while_it_is_heard_is_not_taken_for_the_whole(place: Path) -> None:
    found = met(place, hostile.vanishing, "cut while heard")
    one_sentence(found["refusal"], "talk.flac was changed", "hear it again when it is whole")
    assert (found["stored"], found["kept"], found["wrong"]) == (0, [], [])


# --- a clock set back --------------------------------------------------------------------------


class Backwards:
    """Each look at it is an hour earlier."""

    def __init__(self) -> None:
        self.moment = datetime(2031, 9, 1, 20, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.moment -= timedelta(hours=1)
        return self.moment


def test_decisions_keep_their_order_when_the_clock_is_set_back(own_home: Path) -> None:
    with store.Library.open() as library:
        library.clock = Backwards()
        note = add_evening(library)
        session = Session(library, note)
        row = session.row_id
        for verdict in ("win", "loss", "neutral", "loss"):
            session.set_verdict(verdict)
        assert session.row is not None
        assert session.row.current.verdict == "loss"
        session.undo()
        assert session.row.current.verdict == "neutral"
        session.comment("last")
        assert row is not None
        changed = [change.new for change in store.history(library, row) if change.field == "verdict"]
        assert changed[-3:] == ["loss", "neutral", "loss"] or changed[:3] == ["loss", "neutral", "loss"]
    with store.Library.open() as library:
        library.clock = Backwards()
        again = Session(library, note)
        assert again.undo() == "Taken back: your note."
        assert store.check(library) == []


def test_another_window_with_a_late_clock_is_no_earlier(own_home: Path) -> None:
    with store.Library.open() as one, store.Library.open() as other:
        note = add_evening(one)
        other.clock = Backwards()
        first, second = Session(one, note), Session(other, note)
        first.set_verdict("loss")
        second.look_round()
        second.set_verdict("neutral")
        assert first.look_round().startswith("Another window changed row")
        assert first.row is not None
        assert first.row.current.verdict == "neutral"


def test_notes_recorded_after_the_clock_was_set_back_are_apart(
    own_home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Standing(datetime):
        @classmethod
        def now(cls, tz: Any = None) -> datetime:  # type: ignore[override]
            return datetime(2031, 9, 1, 20, 0, tzinfo=tz)

    monkeypatch.setattr(record_notes, "datetime", Standing)
    made = []
    for seed in (1, 2):
        source = FakeSource()
        recorder = Recorder(source)
        recorder.open()
        recorder.start()
        source.say(noise(0.2, seed))
        made.append(recorder.finish().path)
    assert made[0] != made[1]
    assert made[0].read_bytes() != made[1].read_bytes()


def test_a_restore_with_the_clock_set_back_keeps_what_was_there(own_home: Path, tmp_path: Path) -> None:
    with store.Library.open() as library:
        add_evening(library)
        store.backup(library, tmp_path / "copy.db")
    late, early = datetime(2031, 9, 2), datetime(2031, 9, 1)
    kept = [keeping.restore(tmp_path / "copy.db", now=now) for now in (late, early, late)]
    assert len({path for path in kept if path is not None and path.is_file()}) == 3


# --- several at once ---------------------------------------------------------------------------


def test_two_graders_and_a_reviewer_on_one_library(place: Path) -> None:
    met(place, hostile.first_note)
    hostile.texts(place / "notes", 8)
    graders = [Worker(hostile.grade_all, place) for _ in range(2)]
    reviewer = Worker(hostile.decide_often, place)
    revision = reviewer.wait_end()
    for grader in graders:
        code, text = grader.wait_end()
        assert code == 0, text
        assert "locked" not in text
        assert text.count("\n{") + text.startswith("{") == 3 * 8, text
    found = met(place, hostile.after_all)
    assert found["notes"] == ["week 0", *(f"week {number}" for number in range(1, 9))]
    assert found["games"] == 1
    assert reviewer.told == list(range(60))
    assert found["revision"] == revision
    assert found["wrong"] == []


def test_many_windows_open_a_new_library_at_once(place: Path) -> None:
    windows = [Worker(hostile.open_new, place) for _ in range(8)]
    assert [window.wait_end() for window in windows] == [0] * 8
    assert met(place, hostile.open_new) == 0


# --- strange and long paths --------------------------------------------------------------------


@pytest.mark.parametrize(
    "name", ['the coach\'s "film" room', "ünï cödé 球隊", "100% #1? & more; *.db", " leading and trailing "]
)
def test_a_library_on_a_strange_path(place: Path, name: str) -> None:
    home = place / name / "home"
    found = met(place, hostile.at, str(home))
    assert found["graded"][0] == 0, found["graded"]
    assert found["codes"] == [0] * 5, found["said"]
    assert found["recorded"]
    assert found["unfinished"] == 0
    assert found["wrong"] == []
    assert {"gradebook.db", "recordings", "sheet %41.html", 'it\'s a "copy" #1?.db'} <= set(found["inside"])


def test_a_library_on_a_long_path(place: Path) -> None:
    """SQLite opens paths up to 512 bytes."""
    home = place / "deep" / "/".join(["x" * 60] * 6)
    found = met(place, hostile.at, str(home))
    assert found["codes"] == [0] * 5, found
    assert found["wrong"] == []


@pytest.mark.parametrize("parts", [(60, 9), (60, 80), (300, 1)])
def test_a_path_that_is_too_long_is_one_sentence(place: Path, parts: tuple[int, int]) -> None:
    length, count = parts
    found = met(place, hostile.at, str(place.joinpath(*["x" * length] * count)))
    refused(found["graded"], "too long")


def test_a_recording_whose_name_is_as_long_as_names_can_be(place: Path) -> None:
    found = met(place, hostile.recording_of_long_name)
    assert (found["refusal"], found["stored"], found["kept"]) == ("", 1, [True])
