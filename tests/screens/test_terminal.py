"""An evening in a real terminal (tmux): grade, review by keys, leave, come back, the sheet written out."""

from __future__ import annotations

import csv
import os
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml

from reviewer import paths, store
from tests.screens.evening import DATA
from tests.screens.test_record_terminal import REVIEWER, Terminal


def run(*arguments: str) -> str:
    """A command of the program, which must end well."""
    done = subprocess.run([*REVIEWER, *arguments], capture_output=True, text=True, env=os.environ)
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture
def graded(tmp_path: Path) -> int:
    """The evening's talk as a text note, graded by the command; the number of its rows."""
    data = yaml.safe_load((DATA / "evening.yaml").read_text("utf-8"))
    talk, roster = tmp_path / "half.txt", tmp_path / "roster.csv"
    talk.write_text("\n\n".join(block["text"] for block in data["blocks"]), "utf-8")
    men = "\n".join(",".join(man) for man in data["roster"])
    roster.write_text(f"jersey,name,position,side\n{men}\n", "utf-8")
    rows = run(
        "grade", str(talk), "--roster", str(roster), "--player", "71", "--opponent", "Harrow Lake", "--json"
    )  # fmt: skip
    return len(rows.splitlines())


@pytest.fixture
def folder() -> Iterator[Path]:
    """A folder with a short name, as sockets need it."""
    with tempfile.TemporaryDirectory(prefix="tmux") as name:
        yield Path(name)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_from_the_talk_to_the_sheet(graded: int, folder: Path, tmp_path: Path, size: tuple[int, int]) -> None:
    environment = {"REVIEWER_HOME": str(paths.home()), "TERM": "xterm-256color", "LANG": "C.UTF-8"}
    terminal = Terminal(size, [*REVIEWER, "review"], environment, folder)
    try:
        terminal.see(f"{graded} of {graded} left")
        terminal.press("l")
        terminal.see("L: learn the words for next time")
        # typed ahead, as by somebody who knows where he is going
        terminal.press("f", "w", "h", "i", "Enter")
        terminal.see("faults:")
        for left in range(graded - 1, 0, -1):
            terminal.press("Space")
            terminal.see(f"{left} of {graded} left")
        terminal.press("Space")
        terminal.see("all confirmed")
        terminal.press("q")
        terminal.ends()
    finally:
        terminal.close()
    with store.Library.open() as library:
        (note,) = store.notes(library)
        fixed = [row for row in store.current_rows(library, note.id) if row.corrected]
        assert note.confirmed == graded
    assert [row.current.verdict for row in fixed] == ["loss"]
    assert "whiff" in fixed[0].current.faults
    sheet = tmp_path / "sheet.csv"
    run("sheet", "--player", "71", "--out", str(sheet))
    with sheet.open(newline="", encoding="utf-8-sig") as file:
        text = " ".join(" ".join(line) for line in csv.reader(file))
    assert "whiff" in text


def test_a_closed_terminal_loses_nothing(graded: int, folder: Path) -> None:
    environment = {"REVIEWER_HOME": str(paths.home()), "TERM": "xterm-256color", "LANG": "C.UTF-8"}
    terminal = Terminal((80, 24), [*REVIEWER, "review"], environment, folder)
    try:
        terminal.see(f"{graded} of {graded} left")
        terminal.press("Space")
        terminal.see(f"{graded - 1} of {graded} left")
    finally:
        terminal.close()
    with store.Library.open() as library:
        assert store.notes(library)[0].confirmed == 1
