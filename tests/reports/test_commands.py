"""The commands, run as a user runs them."""

import json
import re
import shutil
from pathlib import Path

import pytest
import webvtt

from reviewer import paths
from reviewer.cli import main
from reviewer.reports.formats.schemas import schema_text, schemas
from reviewer.store.edit import set_confirmed, set_fields
from reviewer.store.films import film_of
from reviewer.store.library import Library
from reviewer.store.notes import current_rows, notes
from reviewer.store.saved import save_search

from .cuts.conftest import make_film

SHARED = Path(__file__).parents[2] / "shared"


@pytest.fixture
def home(season_file):
    """The sample season as the user's own library."""
    paths.home().mkdir(parents=True)
    shutil.copy(season_file, paths.database())
    return paths.home()


def run(capsys, *arguments):
    """Exit code, stdout, stderr."""
    code = main([str(argument) for argument in arguments])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_a_sheet_in_the_terminal(home, capsys):
    code, out, _ = run(capsys, "sheet", "--player", "74", "--game", "calder falls")
    assert code == 0
    assert out.startswith("74 Halvard Quist")
    assert "Won and lost: 15–4–3, 79 % (57–91)" in out
    assert "the reps are too few to be sure" in out


def test_a_sheet_by_name_scale_and_days(home, capsys):
    code, out, _ = run(
        capsys, "sheet", "--player", "quist", "--since", "2031-09-12", "--until", "2031-09-19",
        "--scale", "zero-one-two", "--format", "json",
    )  # fmt: skip
    assert code == 0
    data = json.loads(out)
    assert data["title"] == "74 Halvard Quist"
    assert [row["game"] for row in data["tables"]["by_game"]["rows"]] == [
        "2031-09-12 Ebbing Point",
        "2031-09-19 Norwick Tech",
    ]
    assert any("Zero, one, two" in str(fact["value"]) for fact in data["facts"])


@pytest.mark.parametrize("ending", ["html", "pdf", "xlsx", "csv", "json", "md", "txt"])
def test_the_ending_says_the_format(home, capsys, tmp_path, ending):
    out = tmp_path / f"sheet.{ending}"
    code, shown, said = run(capsys, "sheet", "--player", "74", "--out", out)
    assert (code, shown) == (0, "")
    assert said == f"Written: {out}\n"
    assert out.stat().st_size > 1000


def test_an_anonymous_sheet_names_nobody(home, capsys):
    code, out, _ = run(capsys, "sheet", "--player", "74", "--anonymous", "--format", "md")
    assert code == 0
    assert out.startswith("# one player")
    for secret in ("Quist", "Calder", "2031", "bulls him"):
        assert secret not in out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("sheet", "--player", "99"), "There are no graded reps of 99 here; grade a note first."),
        (("sheet", "--game", "Nowhere"), "There is no game 'Nowhere'"),
        (("sheet", "--format", "pdf"), "needs a file; name one with --out."),
        (("sheet", "--scale", "stars"), "There is no grading scale 'stars'"),
        (("sheet", "--since", "soon"), "--since takes a day such as 2031-09-05"),
        (("opponent", "nobody"), "'nobody' is no opponent with graded reps; name one of: Calder Falls,"),
        (("opponent", "a"), "fits several opponents; name one of:"),
        (("agree", "1", "1"), "name two notes on the same film"),
        (("agree", "1", "999"), "There is no note 999"),
        (("cutlist", "--player", "99"), "There is nothing to cut"),
        (
            ("cutlist", "--player", "74", "--game", "Wexmoor", "--format", "edl"),
            "name the film with --film or the rate with --rate",
        ),
        (("cutlist", "--player", "74"), "moments of 12 films; name a folder"),
        (("cutlist", "--player", "74", "--sync", "1=2"), "Sync marks belong to one recording"),
        (("cutlist", "--note", "1", "--format", "clips"), "name the film with --film"),
        (("cutlist", "--saved", "nothing"), "There is no saved search 'nothing'"),
    ],
)  # fmt: skip
def test_what_goes_wrong_is_one_sentence(home, capsys, arguments, says):
    code, out, said = run(capsys, *arguments)
    assert code == 2
    assert out == ""
    assert says in said
    assert sum(line.startswith("reviewer: ") for line in said.splitlines()) == 1
    assert said.splitlines()[-1].startswith("reviewer: ")


def test_without_a_library_everything_is_a_sentence(capsys):
    code, _, said = run(capsys, "sheet", "--player", "74")
    assert code == 2
    assert "grade a note first" in said


def test_an_opponent_and_one_of_his_men(home, capsys):
    code, out, _ = run(capsys, "opponent", "oxpas")
    assert code == 0
    assert out.startswith("Oxpasture")
    with (SHARED / "season" / "roster-opponents.csv").open(encoding="utf-8") as file:
        jersey, name = next(line.split(",")[1:3] for line in file if line.startswith("Oxpasture"))
    code, out, _ = run(capsys, "opponent", "Oxpasture", "--man", jersey)
    assert out.startswith(f"Oxpasture {jersey} {name}")
    code, out, _ = run(capsys, "opponent", "Oxpasture", "--man", jersey, "--anonymous")
    assert code == 0
    assert name not in out
    assert "Oxpasture" not in out


def test_the_machine_and_the_coach(home, capsys):
    code, out, _ = run(capsys, "agree", "machine", "all", "--format", "json")
    assert code == 0
    data = json.loads(out)
    assert data["facts"][0]["value"] == 713
    fields = {row["field"]: row for row in data["tables"]["fields"]["rows"]}
    # counted from the notes' own files: 16 verdicts and 8 distances were first read otherwise
    assert (fields["Verdict"]["same_of"], fields["Verdict"]["same_hits"]) == (713, 713 - 16)
    assert fields["Distance"]["same_of"] - fields["Distance"]["same_hits"] == 8
    assert 0.9 < fields["Verdict"]["kappa"] < 1
    assert fields["Pass set"]["same_share"] == 1.0


def test_chapters_of_a_search_on_stdout(home, capsys):
    code, out, said = run(capsys, "cutlist", "bull", "rush", "--player", "74", "--game", "Wexmoor")
    assert code == 0
    assert len(webvtt.from_string(out)) >= 1
    assert "no sync mark" in said


def test_a_saved_search_cut_into_a_folder(home, capsys, tmp_path):
    with Library.open() as library:
        save_search(library, "bulls", "bull rush player:74")
    code, _, said = run(capsys, "cutlist", "--saved", "bulls", "--out", tmp_path / "cuts")
    assert code == 0
    files = sorted(path.name for path in (tmp_path / "cuts").iterdir())
    assert files[0].endswith(".vtt")
    assert said.count("Written:") == len(files) > 1


def test_sync_marks_are_kept_with_the_note(home, capsys):
    arguments = ("cutlist", "--game", "Wexmoor", "--player", "74", "--format", "edl")
    code, first, said = run(capsys, *arguments, "--rate", "29.97df", "--sync", "10=60", "--sync", "310=361")
    assert code == 0
    assert "2 sync marks: film = +49.97 s + 1.00333 x recording" in said
    code, again, said = run(capsys, *arguments)
    assert again == first
    with Library.open(read_only=True) as library:
        note = next(n for n in notes(library) if n.opponent == "Wexmoor")
        assert film_of(library, note.id).marks == ((10.0, 60.0), (310.0, 361.0))


def test_clips_and_a_reel_of_reps_to_show(home, capsys, tmp_path):
    film = make_film(tmp_path / "wexmoor.mp4", frames=900, sound=False)
    code, _, said = run(
        capsys, "cutlist", "--note", "wexmoor-line-game-11", "--player", "74", "--show", "2",
        "--format", "clips", "--film", film, "--out", tmp_path / "clips", "--before", "0", "--after", "0",
        "--reel",
        "--sync", "0=0", "--sync", "600=20",
    )  # fmt: skip
    assert code == 0, said
    names = sorted(path.name for path in (tmp_path / "clips").iterdir())
    assert [name.split()[0] for name in names] == ["001", "002", "clips.json", "reel.mp4"]
    assert "did not run along with the talk" in said


def test_schemas_in_shared_are_those_of_the_program():
    for name, schema in schemas().items():
        wanted = (SHARED / "schemas" / name).read_text("utf-8")
        assert schema_text(schema) == wanted, (
            f"write {name} anew: python -m reviewer.reports.formats.schemas shared/schemas"
        )


@pytest.mark.parametrize("form", ["vtt", "edl", "otio"])
def test_an_anonymous_cut_list_has_the_same_cuts_and_names_nobody(home, capsys, tmp_path, form):
    arguments = ("cutlist", "--player", "74", "--game", "Wexmoor", "--format", form, "--rate", "25")
    code, open_, _ = run(capsys, *arguments)
    code, hidden, _ = run(capsys, *arguments, "--anonymous")
    assert code == 0
    assert "Wexmoor" in open_ or form == "vtt"
    for secret in ("Wexmoor", "WEXMOOR", "2031", "Quist", "74 win", "74:"):
        assert secret not in hidden
    assert "P1 win" in hidden
    times = re.compile(r"\d\d:\d\d:\d\d[:.]\d\d+|\"value\": [\d.]+")
    assert times.findall(hidden) == times.findall(open_) != []


def test_an_anonymous_cut_list_of_many_games_names_no_file_by_them(home, capsys, tmp_path):
    code, _, _ = run(capsys, "cutlist", "bull", "rush", "--anonymous", "--out", tmp_path / "cuts")
    assert code == 0
    names = sorted(path.name for path in (tmp_path / "cuts").iterdir())
    assert names[:2] == ["film 01.vtt", "film 02.vtt"]


def test_clips_are_never_anonymous(home, capsys, tmp_path):
    code, _, said = run(
        capsys, "cutlist", "--player", "74", "--anonymous", "--format", "clips", "--out", tmp_path / "c"
    )
    assert code == 2
    assert "Clips show the men themselves" in said
    assert not (tmp_path / "c").exists()


def test_anonymous_agreement_hides_the_numbers_that_differ(home, capsys):
    with Library.open() as library:
        row = current_rows(library, 1)[0]
        set_fields(library, row.id, {"opponents": ["57"]})
        set_confirmed(library, row.id)
    code, open_, _ = run(capsys, "agree", "machine", "1", "--format", "csv")
    code, hidden, _ = run(capsys, "agree", "machine", "1", "--format", "csv", "--anonymous")
    assert code == 0
    assert "/ 57 (1)" in open_
    assert "57" not in [word for line in hidden.splitlines() for word in line.split()]
    assert re.search(r"D\d+ / D\d+ \(1\)", hidden)


def test_a_sheet_of_one_note(home, capsys):
    code, out, _ = run(capsys, "sheet", "--player", "74", "--note", "wexmoor-line-game-11")
    assert code == 0
    assert "Game: 2031-11-14 Wexmoor" in out


def test_a_second_grader_is_compared_and_not_counted_unseen(home, capsys):
    talk = SHARED / "season" / "second-grader.txt"
    code, _, said = run(capsys, "grade", talk, "--player", "74", "--game", "Wexmoor", "--season", "2031")
    assert code == 0, said
    code, out, _ = run(capsys, "agree", "wexmoor-line-game-11", "second-grader", "--format", "json")
    assert code == 0
    data = json.loads(out)
    assert data["facts"][0]["value"] == 22
    verdict = next(row for row in data["tables"]["fields"]["rows"] if row["field"] == "Verdict")
    assert 0 < verdict["kappa"] < 1
    code, out, _ = run(capsys, "sheet", "--player", "74", "--game", "Wexmoor")
    assert "count twice" in " ".join(out.split())


def test_searches_are_kept_listed_repeated_and_forgotten(home, capsys):
    first = run(capsys, "search", "pancake", "--player", "66", "--save", "big ones", "--json")[1]
    assert first
    assert run(capsys, "search", "--kept")[1] == 'big ones: pancake player:"66"\n'
    assert json.loads(run(capsys, "search", "--kept", "--json")[1])["typed"] == 'pancake player:"66"'
    assert run(capsys, "search", "--saved", "Big Ones", "--json")[1] == first
    assert run(capsys, "search", "--forget", "big ones")[0] == 0
    assert "No search is kept yet" in run(capsys, "search", "--kept")[2]
    code, _, said = run(capsys, "search", "--forget", "big ones")
    assert code == 2 and "There is no saved search" in said


def test_a_kept_search_keeps_its_distance_and_order(home, capsys):
    given = ("search", "loss", "--distance", "7 - 10", "--sort", "down", "--json")
    first = run(capsys, *given, "--save", "far")[1]
    assert run(capsys, "search", "--kept")[1] == 'far: loss distance:"7-10" sort:"down"\n'
    assert run(capsys, "search", "--saved", "far", "--json")[1] == first
    places = [(hit["down"], hit["distance"]) for hit in map(json.loads, first.splitlines())]
    assert places == sorted(places)
    assert {distance for _, distance in places} <= {7, 8, 9, 10}


@pytest.mark.parametrize("how", [("--json",), ()])
def test_a_search_for_sharing_names_nobody(home, capsys, how):
    named = [json.loads(line) for line in run(capsys, "search", "bull rush", "--json")[1].splitlines()]
    code, out, _ = run(capsys, "search", "bull rush", "--anonymous", *how)
    assert code == 0
    told = [json.loads(line) for line in out.splitlines()] if how else []
    if how:
        assert [(hit["start"], hit["verdict"]) for hit in told] == [
            (hit["start"], hit["verdict"]) for hit in named
        ]
        assert {hit["player"] for hit in told} == {f"P{n}" for n in range(1, 7)}
    for hidden in ("Wexmoor", "Calder", "Seventy", "rush", "line, game"):
        assert hidden not in out
    assert "P1" in out
    assert "note 01" in out
