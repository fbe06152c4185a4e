"""Every command that the tour of the grade book prints, run as printed, one after another."""

from __future__ import annotations

import re
import shlex
from fractions import Fraction
from pathlib import Path

from .cuts.conftest import make_film

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
TOUR = ROOT / "docs" / "gradebook.md"


def printed(text: str) -> list[list[str]]:
    """The commands' arguments, in the text's order."""
    return [shlex.split(line) for line in re.findall(r"^    reviewer (.*)$", text, re.MULTILINE)]


def run_all(cli, folder: Path, commands: list[list[str]]) -> None:
    for command in commands:
        ran = cli(*command)
        assert ran.code == 0, (command, ran.err)
        assert "Traceback" not in ran.err
        if "--out" in command:
            out = folder / command[command.index("--out") + 1]
            assert out.stat().st_size > 0
            assert not out.is_dir() or any(out.iterdir())
        else:
            assert ran.out.strip(), command


def test_the_tour_runs_as_printed(cli, tmp_path, monkeypatch):
    (tmp_path / "shared").symlink_to(ROOT / "shared")
    monkeypatch.chdir(tmp_path)
    make_film(tmp_path / "wexmoor.mp4", frames=3200, rate=Fraction(5), sound=False)
    commands = printed(TOUR.read_text("utf-8"))
    assert len(commands) > 25
    run_all(cli, tmp_path, commands)
    assert (tmp_path / "clips" / "reel.mp4").stat().st_size > 0


def test_the_readmes_part_runs_as_printed(cli, tmp_path, monkeypatch):
    (tmp_path / "shared").symlink_to(ROOT / "shared")
    monkeypatch.chdir(tmp_path)
    part = re.search(r"^## Add them up$.*?^##", README.read_text("utf-8"), re.MULTILINE | re.DOTALL)
    assert part is not None
    commands = printed(part[0])
    assert commands[0] == ["game", "season", "shared/season"]
    run_all(cli, tmp_path, commands)
