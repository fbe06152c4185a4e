"""Print anew what the README shows: `python -m tests.readme`.

A block of the README under a comment `<!-- printed: COMMAND -->` is what that command prints on the demo
recordings. "| first reps" shows the beginning and the end of its first table.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from reviewer import paths

README = Path(__file__).parents[1] / "README.md"
COLUMNS = "100"
FIRST_REPS = 4

_BLOCK = re.compile(r"(<!-- printed: (.+?) -->\n\n)((?:    .*\n|\n(?=    ))+)")


def main() -> None:
    """Replace every printed block."""
    with tempfile.TemporaryDirectory() as home:
        printed("reviewer demo --no-screen", home)  # heard once, for all blocks
        text = _BLOCK.sub(lambda found: found[1] + indented(shown(found[2], home)), README.read_text("utf-8"))
    README.write_text(text, "utf-8")


def shown(what: str, home: str) -> str:
    """What stands in the README for a command."""
    command, _, part = what.partition(" | ")
    # searches and the like look into the demo's own library
    place = home if command.startswith("reviewer demo") else str(Path(home) / "demo")
    text = printed(command, place)
    return first_reps(text) if part == "first reps" else text


def printed(command: str, home: str) -> str:
    """What a command prints, without blanks at the ends of lines."""
    program = "import sys; from reviewer.cli import main; sys.exit(main())"
    env = {**os.environ, paths.HOME_VARIABLE: home, "COLUMNS": COLUMNS}
    ran = subprocess.run(
        [sys.executable, "-c", program, *command.split()[1:]],
        env=env,
        capture_output=True,
        text=True,
        check=True,
    )
    return "\n".join(line.rstrip() for line in ran.stdout.splitlines())


def first_reps(text: str) -> str:
    """The head of the first table with its first reps, and the lines under it."""
    lines = text.split("\n\n")[0].splitlines()
    cut = next(n for n, line in enumerate(lines) if re.match(rf"\s*!?{FIRST_REPS + 1}\s", line))
    foot = next(n for n in range(len(lines) - 1, cut, -1) if re.match(r"\s*!?\d+\s+\d+:\d\d", lines[n])) + 1
    while lines[foot].startswith("  "):
        foot += 1
    return "\n".join([*lines[:cut], "  …", *lines[foot:]])


def indented(text: str) -> str:
    """A code block."""
    return "".join(f"    {line}".rstrip() + "\n" for line in text.splitlines())


if __name__ == "__main__":
    main()
