"""The command line itself: help at once, exit codes, stopping, what other programs read."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import click
import pytest

from reviewer import cli as command_line
from reviewer import paths, store
from tests.conftest import Cli
from tests.talk import TEXT

HEAVY = (
    "numpy", "spacy", "textual", "faster_whisper", "ctranslate2", "av", "scipy", "sqlite_utils", "pydantic",
    "rich", "onnxruntime", "jinja2", "rapidfuzz",
)  # fmt: skip


def test_help_answers_before_anything_heavy_is_loaded() -> None:
    program = (
        "import sys; from reviewer.cli import main; code = main(['--help']); "
        f"print('HEAVY', code, [name for name in {HEAVY!r} if name in sys.modules], len(sys.modules))"
    )
    ran = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    last = ran.stdout.splitlines()[-1].split()
    assert last[:3] == ["HEAVY", "0", "[]"]
    # click alone brings about 150 modules; a creeping import shows here first
    assert int(last[3]) < 300


def test_every_command_named_in_the_help_is_there() -> None:
    group = command_line.LazyGroup(name="reviewer")
    for name in command_line.COMMANDS:
        command = group.get_command(click.Context(group), name)
        assert isinstance(command, click.Command), name
        assert command.help or command.short_help, name


@pytest.mark.parametrize("name", command_line.COMMANDS)
def test_every_command_has_help(cli: Cli, name: str) -> None:
    ran = cli(name, "--help")
    assert ran.code == 0
    assert ran.out.startswith("Usage: ")
    assert "Traceback" not in ran.out + ran.err


def test_the_version(cli: Cli) -> None:
    from reviewer import __version__

    assert cli("--version").out == f"reviewer, version {__version__}\n"


def test_a_wrong_option_ends_with_2(cli: Cli) -> None:
    ran = cli("grade", "--colour", "blue")
    assert ran.code == 2
    assert "No such option" in ran.err


def run_reviewer(*arguments: str, home: Path) -> subprocess.Popen[str]:
    program = "import sys; from reviewer.cli import main; sys.exit(main())"
    return subprocess.Popen(
        [sys.executable, "-c", program, *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, paths.HOME_VARIABLE: str(home)},
    )


def test_output_that_nobody_reads_any_more_is_no_error(own_home: Path, tmp_path: Path) -> None:
    note = tmp_path / "note.txt"
    note.write_text("\n\n".join(TEXT for _ in range(60)), "utf-8")
    running = run_reviewer("grade", str(note), "--player", "74", "--json", home=own_home)
    assert running.stdout is not None
    assert running.stderr is not None
    running.stdout.readline()
    running.stdout.close()
    told = running.stderr.read()
    running.stderr.close()
    assert (running.wait(timeout=120), told) == (0, "")


STOPPABLE = """
import os, signal, sys
from reviewer.speech import transcribe
from reviewer.errors import Stopped

def hear(path, *, should_stop, **given):
    print("hearing", flush=True)
    while not should_stop():
        signal.pause()
    raise Stopped("stopped while hearing note.wav; what was heard is kept, hear it again to go on")

transcribe.hear = hear
from reviewer.cli import main
sys.exit(main(sys.argv[1:]))
"""


def test_ctrl_c_stops_at_a_good_moment_and_says_how_to_go_on(own_home: Path, tmp_path: Path) -> None:
    note = tmp_path / "note.wav"
    note.write_bytes(b"RIFF")
    running = subprocess.Popen(
        [sys.executable, "-c", STOPPABLE, "grade", str(note), "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, paths.HOME_VARIABLE: str(own_home)},
    )
    assert running.stdout is not None
    assert running.stdout.readline() == "hearing\n"
    running.send_signal(signal.SIGINT)
    out, err = running.communicate(timeout=120)
    assert running.returncode == 130
    assert out == ""
    assert (
        err == "reviewer: stopped while hearing note.wav; what was heard is kept, hear it again to go on.\n"
    )


@pytest.fixture
def graded(cli: Cli, tmp_path: Path) -> Path:
    note = tmp_path / "week six.txt"
    note.write_text(TEXT, "utf-8")
    assert cli("grade", note, "--player", "74", "--opponent", "Calder Stags").code == 0
    return note


def test_search_answers_with_note_time_and_words(cli: Cli, graded: Path) -> None:
    (line,) = cli("search", "anchors", "--json").out.splitlines()
    hit = json.loads(line)
    assert (hit["note"], hit["rep"], hit["player"], hit["verdict"]) == ("week six", 2, "74", "win")
    assert hit["start"] < hit["end"]
    first, last = hit["marks"][0]
    assert hit["text"][first:last] == "anchors"
    table = cli("search", "anchors").out
    assert "[anchors]" in table
    assert "week six" in table


@pytest.mark.parametrize(
    ("arguments", "reps"),
    [
        (("--verdict", "loss"), [3]),
        (("--verdict", "win"), [2, 1]),
        (("--down", "3"), [3]),
        (("--phase", "run"), [1]),
        (("--technique", "sits down"), [2]),
        (("--fault", "overset"), [3]),
        (("--set", "jump set"), [2]),
        (("--move", "bull"), [2]),
        (("--concept", "stretch"), [1]),
        (("--opponent", "95"), [3]),
        (("--opponent", "stags", "--down", "2"), [2]),
        (("--event", "hurry", "--verdict", "win"), []),
        (("--player", "75"), []),
        (("--confirmed",), []),
        (("inside hands",), [2]),
        (("bull rush", "--unconfirmed"), [2]),
    ],
)
def test_search_filters(cli: Cli, graded: Path, arguments: tuple[str, ...], reps: list[int]) -> None:
    found = [json.loads(line) for line in cli("search", *arguments, "--json").out.splitlines()]
    assert [hit["rep"] for hit in found if hit["rep"]] == reps


def test_a_search_is_kept_under_a_name(cli: Cli, graded: Path) -> None:
    cli("search", "--opponent", "stags", "--down", "1", "--save", "first downs")
    found = [json.loads(line) for line in cli("search", "--saved", "First downs", "--json").out.splitlines()]
    assert [hit["rep"] for hit in found] == [1]


def test_nothing_found_is_said_and_no_error(cli: Cli, graded: Path) -> None:
    ran = cli("search", "zebra")
    assert (ran.code, ran.out) == (0, "")
    assert "Nothing was found" in ran.err


def test_notes_are_listed_shown_renamed_and_deleted(cli: Cli, graded: Path) -> None:
    listed = json.loads(cli("notes", "--json").out)
    assert (listed["slug"], listed["rows"], listed["confirmed"]) == ("week-six", 3, 0)
    assert "week-six" in cli("notes").out
    assert len(cli("notes", "week-six", "--json").out.splitlines()) == 3
    assert "3 rows in 3 reps" in cli("notes", "1").out
    assert "has no times for captions" in cli("notes", "week-six", "--captions").err
    cli("notes", "week-six", "--rename", "Stags away")
    assert json.loads(cli("notes", "--json").out)["title"] == "Stags away"
    kept = cli("notes", "week-six", "--delete")
    assert kept.code == 2
    assert "Nobody can be asked here" in kept.err
    assert cli("notes", "week-six", "--delete", "--yes").code == 0
    assert cli("notes", "--json").out == ""


def test_a_backup_brings_notes_back_and_what_it_replaces_is_kept(
    cli: Cli, graded: Path, tmp_path: Path
) -> None:
    target = tmp_path / "kept.db"
    assert cli("backup", target).out == f"1 notes are kept in {target}.\n"
    assert cli("backup", target).code == 2
    other = tmp_path / "other.txt"
    other.write_text("First and ten, power. He pulls and kicks out ninety-one. Win.", "utf-8")
    cli("grade", other, "--player", "74")
    ran = cli("restore", target, "--yes")
    assert ran.code == 0
    assert json.loads(cli("notes", "--json").out)["title"] == "week six"
    (replaced,) = paths.home().glob("gradebook.before-restore-*.db")
    with store.Library.open(replaced, read_only=True) as library:
        assert {note.title for note in store.notes(library)} == {"week six", "other"}
    with store.Library.open() as library:
        assert store.check(library) == []


def test_vocabulary_finds_a_term_by_any_way_to_say_it(cli: Cli) -> None:
    told = cli("vocabulary", "pancaked").out
    assert told.startswith("knockdown  (events)\n")
    assert "Also said: " in told
    near = cli("vocabulary", "bulrush")
    assert "these are near" in near.err
    assert near.out.startswith("bull rush  (moves)")
    assert "swim" in cli("vocabulary", "--group", "move").out
    overview = cli("vocabulary").out
    assert "outside zone" in " ".join(overview.split())


def test_ones_own_vocabulary_is_listed(cli: Cli, own_home: Path) -> None:
    own_home.mkdir()
    paths.user_vocabulary().write_text(
        '[[term]]\nid = "swim"\ngroup = "moves"\nforms = ["windmill"]\n\n'
        '[[term]]\nid = "log jam"\ngroup = "techniques"\ndefinition = "Two men in one gap."\n'
        'forms = ["log jam"]\n',
        "utf-8",
    )
    told = cli("vocabulary", "--own").out
    assert "swim: windmill" in told
    assert "log jam (new, techniques): log jam" in told
    assert cli("vocabulary", "windmill").out.startswith("swim  (moves")


def test_what_was_taught_is_listed_and_can_be_forgotten(cli: Cli, own_home: Path) -> None:
    from reviewer.review.own_words import add_entry

    with store.Library.open() as library:
        number = store.learn(library, "form", "swim", "go over him")
    add_entry(number, "week six, 0:12", {"id": "swim", "group": "moves", "forms": ["go over him"]})
    assert "“go over him” is swim" in cli("vocabulary", "--own").out
    assert cli("vocabulary", "--forget", number).code == 0
    assert cli("vocabulary", "--own").out == ""
    assert paths.user_vocabulary().read_text("utf-8").strip() == ""


def test_models_are_listed(cli: Cli) -> None:
    told = cli("model").out
    assert "base (default)" in told
    assert "in parts" in told
    assert cli("model", "tiny.en").out.startswith("tiny.en is undamaged, in ")


def test_doctor_looks_at_everything(cli: Cli, monkeypatch: pytest.MonkeyPatch) -> None:
    from reviewer.speech import sound

    monkeypatch.setattr(sound, "list_inputs", lambda: ())
    monkeypatch.setattr(sound, "list_outputs", lambda: ())
    ran = cli("doctor", "--json")
    found = {line["name"]: line for line in map(json.loads, ran.out.splitlines())}
    assert ran.code == 0
    assert [name for name, line in found.items() if not line["ok"]] == ["microphone", "speaker"]
    assert "plug one in" in found["microphone"]["about"]
    assert set(found) == {
        "Python", "library folder", "grade book", "disk", "speech model", "vocabulary", "recordings",
        "microphone", "speaker", "terminal",
    }  # fmt: skip


def test_doctor_ends_with_2_where_the_main_job_does_not_work(
    cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from reviewer.speech import shipped

    (tmp_path / "file").touch()
    monkeypatch.setenv(paths.HOME_VARIABLE, str(tmp_path / "file" / "home"))
    monkeypatch.setattr(shipped.Part, "find", lambda part: None)
    ran = cli("doctor")
    assert ran.code == 2
    told = " ".join(ran.out.split())
    assert "NO library folder" in told
    assert "cannot be written" in told
    assert "NO speech model the speech model base is not installed; run: pip install" in told
    assert "Notes cannot be graded" in told


def test_a_notes_words_go_out_as_captions(cli: Cli, tmp_path: Path) -> None:
    said = "WEBVTT\n\n00:00:02.000 --> 00:00:06.000\nFirst and ten, duo. He drives 91. Win.\n"
    note = tmp_path / "note.vtt"
    note.write_text(said, "utf-8")
    cli("grade", note, "--player", "74")
    assert cli("notes", "note", "--captions").out == said
