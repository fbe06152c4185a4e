"""Every command that the tour of the grade book prints, run as printed, one after another."""

from __future__ import annotations

import re
import shlex
from fractions import Fraction
from pathlib import Path

from .cuts.conftest import make_film

ROOT = Path(__file__).parents[2]
TOUR = ROOT / "docs" / "gradebook.md"


def printed() -> list[list[str]]:
    """The commands' arguments, in the tour's order."""
    lines = re.findall(r"^    reviewer (.*)$", TOUR.read_text("utf-8"), re.MULTILINE)
    return [shlex.split(line) for line in lines]


def test_the_tour_runs_as_printed(cli, tmp_path, monkeypatch):
    (tmp_path / "shared").symlink_to(ROOT / "shared")
    monkeypatch.chdir(tmp_path)
    make_film(tmp_path / "wexmoor.mp4", frames=3200, rate=Fraction(5), sound=False)
    commands = printed()
    assert len(commands) > 25
    for command in commands:
        ran = cli(*command)
        assert ran.code == 0, (command, ran.err)
        assert "Traceback" not in ran.err
        if "--out" in command:
            out = tmp_path / command[command.index("--out") + 1]
            assert out.stat().st_size > 0
            assert not out.is_dir() or any(out.iterdir())
        else:
            assert ran.out.strip(), command
    assert (tmp_path / "clips" / "reel.mp4").stat().st_size > 0
