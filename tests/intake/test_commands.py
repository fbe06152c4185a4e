"""Import commands, run as a user runs them; and the sample season."""

import json
from pathlib import Path

import pytest

from reviewer.cli import main
from reviewer.errors import InputError
from reviewer.intake.season import load_season
from reviewer.store.library import Library
from reviewer.store.notes import current_rows, notes

SEASON = Path(__file__).parents[2] / "shared" / "season"


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("REVIEWER_HOME", str(tmp_path / "home"))


def run(capsys, *arguments):
    code = main([str(argument) for argument in arguments])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_rosters_games_and_plays_from_nothing(capsys, tmp_path):
    own = ("--team", "Tarn Hollow", "--season", "2031", "--own")
    code, out, said = run(capsys, "roster", "import", SEASON / "roster.csv", *own, "--level", "professional")
    assert (code, out, said) == (0, "Tarn Hollow, 2031: 10 men\n", "")
    code, out, _ = run(
        capsys, "roster", "import", SEASON / "roster-opponents.csv", "--season", "2031", "--opponents"
    )
    assert len(out.splitlines()) == 12
    code, out, _ = run(capsys, "roster", "show", "tarn hollow")
    assert "2031  63  RG   Corwin Tabbert  until 2031-10-13" in out.splitlines()
    code, out, _ = run(capsys, "game", "import", SEASON / "games.csv", "--team", "Tarn Hollow")
    assert out == "12 games, 12 of them new\n"
    code, out, _ = run(capsys, "game", "show", "--season", "2031")
    assert "2031-11-21  Stillwater Quay, away" in out
    code, out, said = run(capsys, "plays", "import", SEASON / "plays" / "11-wexmoor.csv", "--game", "wexmoor")
    assert (code, said) == (0, "")
    assert out.endswith(" plays\n")


def test_what_was_not_understood_goes_to_stderr(capsys, tmp_path):
    path = tmp_path / "r.csv"
    path.write_text("No,Name,Pos\n95,Teo Brand,LT\nTBD,Bo Fenn,C\n")
    code, out, said = run(
        capsys, "roster", "import", path, "--team", "T", "--season", "1", "--level", "professional"
    )
    assert (code, out) == (0, "T, 1: 1 men\n")
    assert said.splitlines() == [
        "Not understood:",
        "  Line 3 (TBD, Bo Fenn, C): has no number from 0 to 99; the line is left out.",
        "Numbers to look at (kept as they are):",
        "  Line 2 (95 Teo Brand LT): professional rule 5-1-2: offensive linemen wear 50 to 79.",
    ]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("roster", "import", "nowhere.csv"), "There is no file nowhere.csv"),
        (("roster", "show", "nobody"), "There is no roster of 'nobody'"),
        (("game", "import", SEASON / "roster.csv"), "has no headings for opponent"),
        (("plays", "import", SEASON / "plays" / "11-wexmoor.csv", "--game", "x"), "There is no game 'x'"),
        (("plays", "lay", "x"), "There is no note x"),
    ],
)
def test_what_goes_wrong_is_one_sentence(capsys, arguments, says):
    with Library.open():
        pass
    code, out, said = run(capsys, *arguments)
    assert (code, out) == (2, "")
    assert says in said
    assert len(said.strip().splitlines()) == 1


def test_a_play_list_is_laid_beside_the_games_notes(capsys):
    with Library.open() as library:
        load_season(library, SEASON)
    code, out, said = run(
        capsys, "plays", "import", SEASON / "plays" / "01-calder-falls.csv", "--game", "2031-09-05"
    )
    assert (code, said) == (0, "")
    assert "Calder Falls, line, game 1: " in out
    assert "reps matched" in out
    code, again, _ = run(capsys, "plays", "lay", "calder-falls-line-game-1", "--no-fill")
    assert code == 0
    assert again.splitlines()[0] in out


def test_the_season_keeps_what_was_said_with_its_time():
    with Library.memory() as library:
        told = []
        loaded = load_season(library, SEASON, lambda done, of: told.append((done, of)))
        assert (loaded.games, loaded.notes, loaded.rows) == (12, 12, 800)
        assert told[-1] == (12, 12)
        rows = [row for note in notes(library) for row in current_rows(library, note.id)]
        assert len(rows) == 800
        for row in rows:
            for pieces in row.current.evidence.values():
                assert all(row.current.start <= p.start <= p.end <= row.current.end + 0.02 for p in pieces)
        assert sum(row.confirmed for row in rows) == 713
        assert sum(bool(row.corrected) for row in rows) == 73
        for row in rows:
            assert row.confirmed or not row.corrected


def test_the_sample_season_is_what_its_maker_makes(tmp_path, monkeypatch):
    import runpy

    maker = runpy.run_path(str(SEASON / "make.py"))
    for folder in ("plays", "notes"):
        (tmp_path / folder).mkdir()
    maker["main"].__globals__["HERE"] = tmp_path
    maker["main"]()
    for path in sorted(tmp_path.rglob("*.*")):
        assert path.read_bytes() == (SEASON / path.relative_to(tmp_path)).read_bytes(), path.name


def test_a_folder_that_is_no_season(tmp_path):
    with Library.memory() as library:
        with pytest.raises(InputError, match="holds no season"):
            load_season(library, tmp_path)
        (tmp_path / "notes").mkdir()
        (tmp_path / "notes" / "01.jsonl").write_text("{not json")
        with pytest.raises(InputError, match="cannot be read"):
            load_season(library, tmp_path)


def test_every_sample_line_is_valid_json_with_known_terms():
    terms = set()
    for path in (SEASON / "notes").glob("*.jsonl"):
        for line in path.read_text("utf-8").splitlines()[1:]:
            for entry in json.loads(line)["rows"]:
                terms |= {
                    (f, t)
                    for f in ("techniques", "faults", "moves", "games", "events")
                    for t in entry["row"].get(f, ())
                }
    from reviewer.language.vocabulary import load_vocabulary

    known = {(term.group, term.id) for term in load_vocabulary().terms}
    assert terms <= known


def test_a_whole_season_by_command_and_again(capsys):
    for _ in range(2):
        code, out, _ = run(capsys, "game", "season", SEASON)
        assert (code, out) == (0, "12 games, 12 notes, 800 rows\n")
    code, _, said = run(capsys, "game", "season", SEASON / "plays")
    assert code == 2
    assert "holds no season" in said


def test_a_note_is_tied_to_a_game_and_untied(capsys, tmp_path):
    run(capsys, "game", "import", SEASON / "games.csv", "--team", "Tarn Hollow")
    path = tmp_path / "monday.txt"
    path.write_text("First and ten, inside zone. Seventy-four reaches ninety-four, that's a win.")
    assert run(capsys, "grade", path, "--player", "74")[0] == 0
    code, out, _ = run(capsys, "game", "note", "monday", "wexmoor")
    assert (code, out) == (0, "monday: 2031-11-14 Wexmoor\n")
    code, out, _ = run(capsys, "sheet", "--game", "wexmoor", "--format", "csv")
    assert code == 0 and ",74," in out
    code, out, _ = run(capsys, "game", "note", "monday", "--none")
    assert (code, out) == (0, "monday: no game\n")
    assert run(capsys, "sheet", "--game", "wexmoor")[0] == 2
    code, _, said = run(capsys, "game", "note", "monday")
    assert code == 2 and "Say which game" in said
