"""What the whole pass costs, from recording to stored rows: `python -m benchmarks.grade [NOTE…]`.

Without notes the demo recordings are graded, in a library of their own that is thrown away. Times are
shares of the recording's length; loading the program and the model is in them.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from reviewer import paths
from reviewer.speech.decode import duration


def main(named: list[str]) -> None:
    """Grade each note in a process of its own and print what it took."""
    notes = [Path(name) for name in named] or sorted(paths.demo_audio().glob("*.ogg"))
    program = "import sys; from reviewer.cli import main; sys.exit(main())"
    with tempfile.TemporaryDirectory() as home:
        env = {**os.environ, paths.HOME_VARIABLE: home}
        # the model is put together once in a library's life, not with each note
        subprocess.run(
            [sys.executable, "-c", program, "model", "base"], env=env, check=True, stdout=subprocess.DEVNULL
        )
        print(f"{'note':28}{'length':>9}{'wall':>9}{'share':>8}{'CPU':>9}{'share':>8}")
        for note in notes:
            seconds = duration(note)
            before, began = os.times(), time.monotonic()
            command = [sys.executable, "-c", program, "grade", str(note), "--json"]
            subprocess.run(command, env=env, check=True, stdout=subprocess.DEVNULL)
            wall, after = time.monotonic() - began, os.times()
            cpu = after.children_user + after.children_system - before.children_user - before.children_system
            took = f"{wall:>7.1f} s{wall / seconds:>8.3f}{cpu:>7.1f} s{cpu / seconds:>8.3f}"
            print(f"{note.name:28}{seconds:>7.0f} s{took}")


if __name__ == "__main__":
    main(sys.argv[1:])
