"""A Dask cluster of this machine, until stdin is closed: `python -m tests.many.cluster`.

Prints its address, then the process ids of its workers.
"""

from __future__ import annotations

import sys

from distributed import LocalCluster


def main() -> None:
    """Two workers, each a process with one thread."""
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1"
    ) as cluster:
        print(cluster.scheduler_address, flush=True)
        print(*(worker.pid for worker in cluster.workers.values()), flush=True)
        sys.stdin.read()


if __name__ == "__main__":
    main()
