"""A longer run: `python -m tests.fuzz [TIMES] [SEED]`, 20 times the examples by default."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

if __name__ == "__main__":
    os.environ["FUZZ_TIMES"] = sys.argv[1] if len(sys.argv) > 1 else "20"
    seed = [f"--hypothesis-seed={sys.argv[2]}"] if len(sys.argv) > 2 else []
    sys.exit(pytest.main([str(Path(__file__).parent), "-x", *seed]))
