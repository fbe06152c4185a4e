"""Recordings heard by the fake on a cluster: `python -m tests.many.far ADDRESS FOLDER [SECONDS]`.

SECONDS: how long the cluster is waited for. Prints each note's outcome and name as it comes. In a process
of its own, because the tests' own has no network, not even to itself.
"""

from __future__ import annotations

import sys
from pathlib import Path

from reviewer import store
from reviewer.errors import ReviewerError
from reviewer.many import grade_many
from reviewer.many.cluster import Cluster
from reviewer.pipeline import Setting, find_notes
from tests.many.rig import CONTEXT, how


def main() -> None:
    """Grade the folder's recordings into the library."""
    address, folder = sys.argv[1], Path(sys.argv[2])
    within_s = float(sys.argv[3]) if len(sys.argv) > 3 else 60.0
    try:
        with store.Library.open() as library:
            grade_many(
                find_notes([folder]),
                Setting(CONTEXT),
                library=library,
                how=how(folder.absolute()),
                hands=Cluster(address, within_s=within_s),
                each=lambda report: print(report.outcome, report.path.name, report.sentence, flush=True),
            )
    except ReviewerError as problem:
        print(problem)
        sys.exit(2)


if __name__ == "__main__":
    main()
