"""An hour of talk takes no more memory than five minutes."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def _heard(minutes: int, folder: Path) -> tuple[int, float]:
    command = [sys.executable, "-m", "tests.speech.hour", str(minutes), str(folder)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    words, peak_mb = done.stdout.split()
    return int(words), float(peak_mb)


def test_memory_does_not_grow_with_the_length_of_a_recording(tmp_path: Path) -> None:
    few, short_mb = _heard(5, tmp_path)
    many, long_mb = _heard(60, tmp_path)
    # fourteen half-second words in each ten seconds; where a cut is made one may be parted in two
    assert few >= 5 * 6 * 14
    assert 12 * few * 0.98 <= many <= 12 * few * 1.02
    assert long_mb / short_mb < 1.2, f"{short_mb:.0f} MB for five minutes, {long_mb:.0f} MB for an hour"
