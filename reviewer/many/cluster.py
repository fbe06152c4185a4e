"""A Dask cluster that hears and reads notes; its results are stored here.

A worker needs Reviewer installed in the same version, and a speech model. It takes a recording from its path
where it finds the same file there, else the file is sent to it; both go without a trace when the note is
done: what was heard comes back and is kept here with the other transcripts. A worker that dies is replaced
by Dask, and its note is done again by another.
"""

from __future__ import annotations

import uuid
from collections import Counter, deque
from collections.abc import Iterator, Sequence
from contextlib import suppress
from typing import TYPE_CHECKING, Any

from reviewer import paths
from reviewer.errors import InputError, ReviewerError, Stopped
from reviewer.many.far import Answer, Parcel, forget_desk, hear_far, kept_of, order_for
from reviewer.many.work import Result, Shared, Task, Tell
from reviewer.pipeline.grade import ShouldStop, content_digest
from reviewer.pipeline.source import open_source

if TYPE_CHECKING:
    from distributed import Client, Future

MOST_SENT_BYTES = 1_000_000_000
"""A larger file must be where the workers find it."""

_ASK_EVERY_S = 0.2
_AHEAD = 2  # notes given out for each that can be heard at once, so that no worker waits
_TRIES = 3
"""Times that a note's work may be lost before it is suspected of ending the workers, and as often again."""


class Cluster:
    """The workers that a Dask scheduler has."""

    def __init__(self, address: str, *, within_s: float = 10.0) -> None:
        """address: the scheduler's, as "tcp://host:8786". within_s: how long it is waited for.

        Raises InputError where Dask is not installed.
        """
        try:
            import distributed  # noqa: F401
        except ImportError:
            raise InputError(
                "--cluster needs Dask, which is not installed: pip install 'reviewer[cluster]'"
            ) from None
        self.address = address
        self._within_s = within_s

    def run(
        self, tasks: Sequence[Task], shared: Shared, *, tell: Tell, should_stop: ShouldStop
    ) -> Iterator[Result]:
        """See `Hands.run`."""
        client = _client(self.address, self._within_s)
        try:
            yield from _Run(client, self.address, tasks, shared, tell).results(should_stop)
        finally:
            # a scheduler that is gone is waited for no longer
            client.close(timeout=2)


def _client(address: str, within_s: float) -> Client:
    from distributed import Client

    try:
        return Client(address, timeout=within_s)
    except (OSError, ValueError, TypeError) as error:  # TypeError: it wants a certificate
        raise InputError(
            f"no cluster answers at {address} ({type(error).__name__}); check the address "
            "(tcp://HOST:8786) and that its scheduler runs"
        ) from error


class _Run:
    """One run on a cluster."""

    def __init__(
        self, client: Client, address: str, tasks: Sequence[Task], shared: Shared, tell: Tell
    ) -> None:
        self._client = client
        self._address = address
        self._left = deque(tasks)
        self._shared = shared
        self._tell = tell
        self._cache = shared.how.cache or paths.transcripts()
        self._name = f"reviewer-{uuid.uuid4().hex}"
        self._order: Any = order_for(shared, self._name)
        self._under_way: dict[Future, tuple[Task, str]] = {}
        self._sent: dict[int, Future] = {}
        self._tries: Counter[int] = Counter()
        # the notes beside one that ends its worker look the same: each suspect is tried by itself
        self._suspects: deque[tuple[Task, str]] = deque()
        self._alone: set[int] = set()

    def results(self, should_stop: ShouldStop) -> Iterator[Result]:
        from distributed import Event

        stop = Event(self._name, client=self._client)
        try:
            stopping = False
            while self._left or self._under_way or self._suspects:
                if not stopping and should_stop():
                    # those under way come back with what they have heard
                    stopping = True
                    self._left.clear()
                    self._suspects.clear()
                    stop.set()
                yield from self._give_out(should_stop)
                yield from self._take_in()
        finally:
            self._client.cancel(list(self._under_way))
            if self._client.status == "running":
                with suppress(Exception):
                    self._client.run(forget_desk, self._name)

    def _give_out(self, should_stop: ShouldStop) -> Iterator[Result]:
        threads = sum(self._client.nthreads().values()) if self._left else 0
        while self._left and len(self._under_way) < max(1, _AHEAD * threads):
            task = self._left.popleft()
            try:
                source = task.source or open_source(task.path)
                digest = content_digest(source, should_stop)
            except Stopped:
                return
            except ReviewerError as problem:
                yield Result(task.number, error=problem)
                continue
            if digest in self._shared.known:
                yield Result(task.number, known=digest)
                continue
            self._submit(task, digest)
        if self._suspects and not self._under_way:
            task, digest = self._suspects.popleft()
            self._alone.add(task.number)
            self._submit_again(task, digest)

    def _submit_again(self, task: Task, digest: str) -> None:
        # the worker that held the sent file may be dead, and the file with it
        if task.number in self._sent:
            self._send(task)
        self._submit(task, digest)

    def _submit(self, task: Task, digest: str) -> None:
        self._tries[task.number] += 1
        parcel = Parcel(task, digest, kept_of(self._cache, digest))
        future = self._client.submit(
            hear_far,
            parcel,
            self._order,
            self._sent.get(task.number),
            key=f"{self._name}-{task.number}-{self._tries[task.number]}",
            pure=False,
        )
        self._under_way[future] = (task, digest)

    def _take_in(self) -> Iterator[Result]:
        from distributed import wait
        from distributed.client import FuturesCancelledError

        if not self._under_way:
            return
        with suppress(TimeoutError, FuturesCancelledError):
            wait(list(self._under_way), timeout=_ASK_EVERY_S, return_when="FIRST_COMPLETED")
        for future in [one for one in self._under_way if one.done()]:
            task, digest = self._under_way.pop(future)
            yield from self._answered(task, digest, future)

    def _answered(self, task: Task, digest: str, future: Future) -> Iterator[Result]:
        from distributed import KilledWorker

        if future.status == "finished":
            answer = future.result()
            future.release()
            yield from self._take(task, digest, answer)
            return
        if self._client.status != "running":
            raise ReviewerError(_gone(self._address))
        problem = future.exception() if future.status == "error" else None
        if problem is not None and not isinstance(problem, KilledWorker):
            yield Result(task.number, error=_unable(task, problem))
        elif problem is None and self._tries[task.number] % _TRIES:
            self._submit_again(task, digest)
        elif task.number not in self._alone:
            self._suspects.append((task, digest))
        else:
            yield Result(task.number, error=_killer(task))

    def _take(self, task: Task, digest: str, answer: Answer) -> Iterator[Result]:
        if answer.absent:
            if task.number in self._sent or not self._send(task):
                yield Result(task.number, error=_too_large(task))
            else:
                self._submit(task, digest)
            return
        answer.keep(self._cache)
        self._sent.pop(task.number, None)
        self._tell(task.number, 1.0)
        yield answer.result(task)

    def _send(self, task: Task) -> bool:
        """Send a task's file to the workers; False where it is too large or gone."""
        try:
            if task.path.stat().st_size > MOST_SENT_BYTES:
                return False
            self._sent[task.number] = self._client.scatter(task.path.read_bytes(), hash=False)
        except OSError:
            return False
        return True


def _gone(address: str) -> str:
    return (
        f"the cluster at {address} does not answer any more; what is done is stored, "
        "the same command goes on from there"
    )


def _too_large(task: Task) -> InputError:
    return InputError(
        f"{task.path} could not be sent to the cluster (over {MOST_SENT_BYTES // 1_000_000_000} GB, or "
        "gone); put it where the workers find it under the same path, or grade it without --cluster"
    )


def _killer(task: Task) -> InputError:
    return InputError(
        f"{task.path.name} ended each worker that read it; the file is damaged or their memory too small: "
        "grade it without --cluster"
    )


def _unable(task: Task, problem: BaseException) -> InputError:
    if isinstance(problem, ImportError):
        why = f"a worker lacks what it needs ({problem}); install Reviewer in the same version there"
    else:
        why = f"the cluster could not do it ({problem})"
    return InputError(f"{task.path.name}: {why}, or grade it without --cluster")
