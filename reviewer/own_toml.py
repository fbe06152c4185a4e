"""The TOML files that the user writes: bounded, and refused with a sentence whatever is in them."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from reviewer.errors import InputError

MOST_BYTES = 2_000_000


def read_toml(path: Path, what: str, advice: str) -> dict[str, Any]:
    """The tables of a TOML file.

    Raises InputError, "`what` `path` cannot be read (why); `advice`.", where it cannot be read, is
    absurdly large, or is no TOML.
    """
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
        if len(data) > MOST_BYTES:
            raise ValueError(f"it is larger than {MOST_BYTES // 1_000_000} MB")
        return tomllib.loads(data.decode("utf-8"))
    except OSError as problem:
        why = problem.strerror or str(problem)
    except RecursionError:
        why = "it is nested too deeply"
    except ValueError as problem:  # what is no TOML, no UTF-8, or a number of thousands of digits
        why = str(problem)
    raise InputError(f"{what} {path} cannot be read ({why}); {advice}.")
