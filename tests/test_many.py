"""Many notes at once: all are done, none twice, whatever is stopped, killed or broken on the way."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from reviewer import paths, store
from reviewer.errors import LibraryError, ModelError, ReviewerError, Stopped
from reviewer.many import Crew, FileReport, Here, grade_many, hands_for
from reviewer.many import grade as many_grade
from reviewer.many import work as many_work
from reviewer.pipeline import Setting, find_notes, text_source
from tests.conftest import Cli
from tests.many.rig import CONTEXT, DEADLY, ONCE, TALK, captions, how, recording, recordings

ROOT = Path(__file__).parents[1]
SETTING = Setting(CONTEXT)


def rows_by_title() -> Counter[str]:
    """Live rows of each note in the grade book, by its title; titles of two notes count both."""
    with store.Library.open(read_only=True) as library:
        found: Counter[str] = Counter()
        for note in store.notes(library):
            found[note.title] += note.rows
        assert len(found) == len(store.notes(library))
    return found


def run(folder: Path, hands: many_work.Hands, **given: object) -> list[FileReport]:
    """Grade the notes of a folder with the fake; the reports as they came."""
    reports: list[FileReport] = []
    with store.Library.open() as library:
        try:
            grade_many(
                find_notes([folder]), SETTING, library=library, how=how(folder), hands=hands,
                each=reports.append, **given,  # type: ignore[arg-type]
            )  # fmt: skip
        except Stopped as stopped:
            reports.append(FileReport(-1, folder, "failed", sentence=str(stopped)))
    return reports


def outcomes(reports: list[FileReport]) -> Counter[str]:
    return Counter(report.outcome for report in reports)


def test_two_hundred_recordings_with_a_stop_a_bad_file_and_one_that_kills_its_process(tmp_path: Path) -> None:
    folder = tmp_path / "season"
    notes = recordings(folder, 197)
    (folder / "note 100 bad.wav").write_bytes(b"RIFF, and then nothing of a recording")
    recording(folder / "note 050 deadly.wav", 500, DEADLY)
    recording(folder / "note 030 once.wav", 501, ONCE)
    (folder / "marker").touch()
    reports: list[FileReport] = []

    with store.Library.open() as library, pytest.raises(Stopped, match="the same command goes on from there"):
        grade_many(
            find_notes([folder]), SETTING, library=library, how=how(folder), hands=Crew(2, 2),
            each=reports.append, should_stop=lambda: len(reports) >= 80,
        )  # fmt: skip
    before = [report for report in reports if report.outcome == "graded"]
    assert 70 <= len(before) <= 90
    assert set(rows_by_title()) == {report.path.stem for report in before}
    assert not (folder / "marker").exists(), "nobody was killed by the note that kills once"

    rest = run(folder, Crew(2, 2))
    assert {report.path for report in rest if report.outcome == "known"} == {one.path for one in before}
    assert outcomes(rest) == {"known": len(before), "graded": 198 - len(before), "failed": 2}
    failed = {report.path.name: report.sentence for report in rest if report.outcome == "failed"}
    assert failed.keys() == {"note 100 bad.wav", "note 050 deadly.wav"}
    assert "no recording that can be read" in failed["note 100 bad.wav"]
    assert failed["note 050 deadly.wav"].startswith(
        "note 050 deadly.wav ended the process that read it, twice"
    )
    assert "SIGKILL" in failed["note 050 deadly.wav"]
    assert rows_by_title() == dict.fromkeys([*(note.stem for note in notes), "note 030 once"], 1)


def test_what_was_heard_before_a_stop_is_not_heard_again(tmp_path: Path) -> None:
    folder = tmp_path / "notes"
    recordings(folder, 3)
    run(folder, Here())
    kept = {file.name: file.stat().st_mtime_ns for file in paths.transcripts().iterdir()}
    assert len(kept) == 3
    again = run(folder, Crew(2, 2), again=True)
    assert outcomes(again) == {"graded": 3}
    assert {file.name: file.stat().st_mtime_ns for file in paths.transcripts().iterdir()} == kept
    assert set(rows_by_title().values()) == {1}


def test_processes_and_one_process_give_the_same_rows(tmp_path: Path) -> None:
    folder = tmp_path / "notes"
    recordings(folder, 4)
    captions(folder, 4)
    alone = run(folder, Here())
    with store.Library.open() as library:
        for note in store.notes(library):
            store.delete_note(library, note.id)
    crew = run(folder, Crew(2, 2))

    def rows(reports: list[FileReport]) -> dict[str, object]:
        return {report.path.name: report.graded and report.graded.rows for report in reports}

    assert outcomes(crew) == {"graded": 8}
    assert rows(alone) == rows(crew)


def test_the_same_recording_under_two_names_is_one_note(tmp_path: Path) -> None:
    folder = tmp_path / "notes"
    folder.mkdir()
    for name in ("a.wav", "b.wav"):
        recording(folder / name, 1)
    recording(folder / "c.wav", 2)
    reports = run(folder, Here())
    assert outcomes(reports) == {"graded": 2, "same": 1}
    (same,) = [report for report in reports if report.outcome == "same"]
    assert (same.path.name, same.sentence) == ("b.wav", "it is the same as a.wav")
    assert set(rows_by_title()) == {"a", "c"}


def test_what_was_decided_stands_when_a_note_is_read_again(tmp_path: Path) -> None:
    folder = tmp_path / "notes"
    recordings(folder, 2)
    run(folder, Here())
    with store.Library.open() as library:
        row = store.current_rows(library, store.notes(library)[0].id)[0]
        store.set_fields(library, row.id, {"verdict": "neutral"})
    again = run(folder, Here(), again=True)
    shown = [report.graded.rows[0].verdict for report in again if report.graded]
    assert sorted(shown) == ["neutral", "win"]


def test_another_player_is_another_note(tmp_path: Path) -> None:
    folder = tmp_path / "notes"
    recordings(folder, 2)
    run(folder, Here())
    other = Setting(type(CONTEXT)(player="65"))
    with store.Library.open() as library:
        totals = grade_many(find_notes([folder]), other, library=library, how=how(folder), hands=Here())
        assert (totals.graded, totals.known) == (2, 0)
        assert len(store.notes(library)) == 4


def test_without_a_library_nothing_is_stored_and_nothing_is_known(tmp_path: Path) -> None:
    folder = tmp_path / "notes"
    notes = recordings(folder, 2)
    for _ in range(2):
        totals = grade_many(notes, SETTING, library=None, how=how(folder), hands=Here())
        assert (totals.graded, totals.rows, totals.known) == (2, 2, 0)
    assert not paths.database().exists()


def test_progress_never_goes_over_the_whole_and_ends_with_it(tmp_path: Path) -> None:
    folder = tmp_path / "notes"
    notes = recordings(folder, 5)
    told: list[tuple[int, float]] = []
    grade_many(
        notes, SETTING, library=None, how=how(folder), hands=Here(),
        progress=lambda totals, share: told.append((totals.done, share)),
    )  # fmt: skip
    assert all(0 <= share <= 1 for _, share in told)
    assert told[-1] == (5, 1.0)
    assert len({share for _, share in told}) > 5, "nothing is told between the notes"


def test_text_from_a_pipe_is_one_of_many(tmp_path: Path) -> None:
    notes = [text_source(TALK.encode(), "talk"), *captions(tmp_path / "notes", 1)]
    with store.Library.open() as library:
        totals = grade_many(notes, SETTING, library=library, how=how(tmp_path), hands=Crew(2, 2))
    assert (totals.graded, totals.rows) == (2, 2)


class Failing:
    """Hands that come back with one error."""

    def __init__(self, error: ReviewerError) -> None:
        self.error = error

    def run(self, tasks: list[many_work.Task], *_: object, **__: object) -> Iterator[many_work.Result]:
        yield many_work.Result(tasks[0].number, error=self.error)


@pytest.mark.parametrize("kind", [ModelError, LibraryError])
def test_what_is_wrong_for_every_note_ends_the_run(tmp_path: Path, kind: type[ReviewerError]) -> None:
    with pytest.raises(kind, match="the disk is full"):
        grade_many(
            captions(tmp_path, 3), SETTING, library=None, how=how(tmp_path),
            hands=Failing(kind("the disk is full")),
        )  # fmt: skip


def test_processes_that_cannot_start_end_the_run_with_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # a new process first looks for its main program, and there is none
    monkeypatch.setattr(sys.modules["__main__"], "__spec__", None, raising=False)
    monkeypatch.setattr(sys.modules["__main__"], "__file__", str(tmp_path / "gone.py"), raising=False)
    with pytest.raises(ReviewerError, match=r"end at once \(exit code 1\); grade one at a time"):
        grade_many(captions(tmp_path, 3), SETTING, library=None, how=how(tmp_path), hands=Crew(2, 2))


@pytest.mark.parametrize(
    ("texts", "heard", "jobs", "members", "each"),
    [
        (3, 0, None, 1, 0),
        (40, 0, None, 2, 4),
        (40, 3, None, 3, 2),
        (0, 1, None, 1, 0),
        (0, 200, None, 6, 1),
        (0, 3, 1, 1, 0),
        (0, 3, 9, 3, 2),
        (40, 0, 12, 12, 1),
    ],
)
def test_who_does_the_work(
    texts: int, heard: int, jobs: int | None, members: int, each: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(many_grade, "_processors", lambda: 8)
    monkeypatch.setattr(many_grade, "_room", lambda: 6)
    notes = [Path(f"{n}.txt") for n in range(texts)] + [Path(f"{n}.ogg") for n in range(heard)]
    hands = hands_for(notes, jobs)
    if members == 1:
        assert isinstance(hands, Here)
    else:
        assert isinstance(hands, Crew)
        assert (hands.members, hands.processors) == (members, each)


# --- the command ---------------------------------------------------------------------------------


def test_the_command_reports_each_file_and_sums_up(cli: Cli, tmp_path: Path) -> None:
    folder = tmp_path / "notes"
    captions(folder, 2)
    (folder / "x empty.txt").touch()
    ran = cli("grade", folder, "--player", "74")
    assert ran.code == 2
    assert ran.out.splitlines() == [
        "talk 000.vtt: 1 row in 1 rep: 1 win, 0 losses, 0 neutral",
        "talk 001.vtt: 1 row in 1 rep: 1 win, 0 losses, 0 neutral",
        "3 notes: 2 graded (2 rows), 1 failed.",
        "Check them: reviewer review",
    ]
    assert ran.err.splitlines() == [
        f"reviewer: {folder / 'x empty.txt'} is empty (0 bytes); write or copy it again."
    ]
    (folder / "x empty.txt").unlink()
    ran = cli("grade", folder, "--player", "74")
    assert (ran.code, ran.err) == (0, "")
    assert "talk 000.vtt: already in the grade book, 1 row in 1 rep" in ran.out
    assert "2 notes: 0 graded (0 rows), 2 already in the grade book." in ran.out
    assert "2 notes: 2 graded (2 rows)." in cli("grade", folder, "--player", "74", "--again").out


def test_json_comes_in_the_order_of_the_notes_whoever_is_done_first(cli: Cli, tmp_path: Path) -> None:
    folder = tmp_path / "notes"
    folder.mkdir()
    for down, name in enumerate(("first", "second", "third", "fourth"), 1):
        long = f"{name} and two. " + 40 * "Nice stance, nice hands, nice eyes, nothing more to say. "
        text = f"{name} down and {down + 1}, inside zone. He seals ninety-one. Win."
        (folder / f"{down}.txt").write_text(f"{long if down == 1 else ''}{text}", "utf-8")
    rows = [json.loads(line) for line in cli("grade", folder, "--jobs", "2", "--json").out.splitlines()]
    assert [row["down"] for row in rows if row["distance"] != 2 or row["down"] > 1][-3:] == [2, 3, 4]
    again = [json.loads(line) for line in cli("grade", folder, "--json").out.splitlines()]
    assert again == rows


def start(*arguments: object, cwd: Path = ROOT, module: str = "reviewer.cli") -> subprocess.Popen[str]:
    """A command in a process group of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", module, *map(str, arguments)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=cwd,
        start_new_session=True, env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"},
    )  # fmt: skip


def lines_of(running: subprocess.Popen[str], count: int) -> list[str]:
    assert running.stdout is not None
    return [running.stdout.readline() for _ in range(count)]


def test_ctrl_c_keeps_what_is_done_and_the_same_command_goes_on(tmp_path: Path) -> None:
    folder = tmp_path / "notes"
    captions(folder, 40)
    running = start("grade", folder, "--player", "74", "--jobs", "2")
    lines_of(running, 5)
    os.killpg(running.pid, signal.SIGINT)  # as a terminal does: to every process of the job
    _, err = running.communicate(timeout=120)
    assert running.returncode == 130
    assert err.startswith("reviewer: stopped; ")
    assert err.endswith("the same command goes on from there.\n")
    assert err.count("\n") == 1, "the processes said something of their own"
    done = len(rows_by_title())
    assert 5 <= done < 40
    assert f"; {40 - done} of 40 notes are left" in err
    out, _ = start("grade", folder, "--player", "74", "--jobs", "2").communicate(timeout=120)
    assert f"40 notes: {40 - done} graded ({40 - done} rows), {done} already in the grade book." in out
    assert set(rows_by_title().values()) == {1}


def test_a_kill_leaves_no_process_behind_and_the_same_command_goes_on(tmp_path: Path) -> None:
    folder = tmp_path / "notes"
    captions(folder, 40)
    running = start("grade", folder, "--player", "74", "--jobs", "2")
    lines_of(running, 5)
    running.kill()
    # read to its end: the pipe is closed when the last process that holds it is gone
    running.communicate(timeout=120)
    done = len(rows_by_title())
    assert 5 <= done < 40
    out, _ = start("grade", folder, "--player", "74", "--jobs", "2").communicate(timeout=120)
    assert f"{done} already in the grade book." in out
    assert len(rows_by_title()) == 40
    assert set(rows_by_title().values()) == {1}


# --- a cluster -----------------------------------------------------------------------------------


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[tuple[str, list[int]]]:
    """Address and workers of a cluster in other processes, which do not stand in the notes' folder."""
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    running = start(cwd=elsewhere, module="tests.many.cluster")
    address, workers = lines_of(running, 2)
    yield address.strip(), [int(pid) for pid in workers.split()]
    running.communicate("", timeout=120)


def kill_one(processes: list[int]) -> bool:
    """Kill one of these that is still there."""
    for process in processes:
        with suppress(ProcessLookupError):
            os.kill(process, signal.SIGKILL)
            return True
    return False


def test_a_cluster_loses_a_worker_and_no_note(tmp_path: Path, cluster: tuple[str, list[int]]) -> None:
    folder = tmp_path / "notes"
    notes = recordings(folder, 30)
    recording(folder / "note 005 once.wav", 501, ONCE)
    (folder / "note 010 bad.wav").write_bytes(b"RIFF, and then nothing of a recording")
    (folder / "marker").touch()
    address, workers = cluster
    running = start(address, "notes", cwd=tmp_path, module="tests.many.far")
    first = lines_of(running, 12)
    assert kill_one(workers)
    out, err = running.communicate(timeout=180)
    assert running.returncode == 0, err
    assert not (folder / "marker").exists(), "no worker died of the note that kills once"
    told = Counter(line.split()[0] for line in [*first, *out.splitlines()])
    assert told == {"graded": 31, "failed": 1}
    assert rows_by_title() == dict.fromkeys([*(note.stem for note in notes), "note 005 once"], 1)
    # what was heard there is kept here, as if it had been heard here
    assert len(list(paths.transcripts().glob("*.json"))) == 31

    again, _ = start(address, "notes", cwd=tmp_path, module="tests.many.far").communicate(timeout=120)
    assert Counter(line.split()[0] for line in again.splitlines()) == {"known": 31, "failed": 1}


def test_a_note_that_kills_every_worker_is_given_up(tmp_path: Path, cluster: tuple[str, list[int]]) -> None:
    folder = tmp_path / "notes"
    recordings(folder, 2)
    recording(folder / "deadly.wav", 500, DEADLY)
    out, _ = start(cluster[0], "notes", cwd=tmp_path, module="tests.many.far").communicate(timeout=180)
    told = sorted(out.splitlines())
    assert told[0].startswith("failed deadly.wav deadly.wav ended each worker that read it; ")
    assert [line.split()[0] for line in told[1:]] == ["graded", "graded"]


def test_the_command_sends_captions_to_a_cluster_and_own_words_with_them(
    tmp_path: Path, own_home: Path, cluster: tuple[str, list[int]]
) -> None:
    folder = tmp_path / "notes"
    captions(folder, 3)
    (folder / "own.txt").write_text("First and ten, power. He flumpets ninety-one. Win.", "utf-8")
    own_home.mkdir()
    (own_home / "vocabulary.toml").write_text(
        '[[term]]\nid = "drive block"\ngroup = "techniques"\nforms = ["flumpets"]\n', "utf-8"
    )
    running = start("grade", "notes", "--player", "74", "--cluster", cluster[0], cwd=tmp_path)
    out, err = running.communicate(timeout=120)
    assert (running.returncode, err) == (0, "")
    assert "4 notes: 4 graded (4 rows)." in out
    with store.Library.open() as library:
        (own,) = [note for note in store.notes(library) if note.title == "own"]
        assert store.current_rows(library, own.id)[0].current.techniques == ["drive block"]


def test_without_dask_there_is_one_sentence(
    cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    ran = cli("grade", captions(tmp_path / "notes", 1)[0], "--cluster", "tcp://127.0.0.1:1")
    assert ran.code == 2
    assert ran.err == (
        "reviewer: --cluster needs Dask, which is not installed: pip install 'reviewer[cluster]'.\n"
    )


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:1", "nowhere at all", "tls://127.0.0.1:1"])
def test_a_cluster_that_does_not_answer_is_one_sentence(tmp_path: Path, address: str) -> None:
    captions(tmp_path, 1)
    out, err = start(address, tmp_path, "1", module="tests.many.far").communicate(timeout=120)
    assert out.startswith(f"no cluster answers at {address} (")
    assert out.count("\n") == 1
    assert "Traceback" not in err


def test_dask_is_loaded_for_a_cluster_only() -> None:
    program = (
        "import sys, reviewer.many, reviewer.commands.grade; "
        "print([name for name in sys.modules if name in ('dask', 'distributed')])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
