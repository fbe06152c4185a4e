"""What a process needed: seconds, processor seconds, memory."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Spent:
    """wall_s, cpu_s: seconds. peak_mb: most memory at once, in megabytes. out: what it printed."""

    wall_s: float
    cpu_s: float
    peak_mb: float
    out: str


def spent(command: Sequence[str], env: Mapping[str, str] | None = None) -> Spent:
    """Run a command to its end. Raises RuntimeError with what it said where it fails."""
    with tempfile.TemporaryFile("w+") as out, tempfile.TemporaryFile("w+") as err:
        began = time.perf_counter()
        child = subprocess.Popen(command, stdout=out, stderr=err, env={**os.environ, **(env or {})})
        _, status, used = os.wait4(child.pid, 0)
        wall = time.perf_counter() - began
        child.returncode = os.waitstatus_to_exitcode(status)
        out.seek(0)
        err.seek(0)
        if child.returncode:
            raise RuntimeError(
                f"{' '.join(command[:4])} … ended with {child.returncode}: {err.read()[-2000:]}"
            )
        # kilobytes on Linux, bytes on a Mac
        peak = used.ru_maxrss / (1_000_000 if sys.platform == "darwin" else 1_000)
        return Spent(wall, used.ru_utime + used.ru_stime, peak, out.read())
