"""What a worker of a cluster does with a note, and what goes there and back."""

from __future__ import annotations

import tempfile
import threading
import time
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path

from reviewer import __version__, paths
from reviewer.errors import InputError, ModelError, ReviewerError
from reviewer.many.work import Desk, Result, Shared, Task
from reviewer.pipeline.grade import ShouldStop
from reviewer.speech import atomic
from reviewer.speech.models import Model
from reviewer.speech.shipped import SHIPPED

_ASK_EVERY_S = 1.0
_ENDINGS = (".json", ".part.jsonl", ".scores")


@dataclass(frozen=True)
class Order:
    """What is the same for every note of a run. vocabulary: the text of the user's own words.

    model_digest: of the model that is to hear; "" for whatever the worker has.
    """

    name: str
    version: str
    shared: Shared
    vocabulary: str
    model_digest: str


@dataclass(frozen=True)
class Parcel:
    """One note to hear. digest: of its content. kept: what was heard of it before, by file name."""

    task: Task
    digest: str
    kept: Mapping[str, str]


@dataclass(frozen=True)
class Answer:
    """What a worker says. absent: it has not the file. kept: what was heard, by file name."""

    done: Result | None = None
    absent: bool = False
    kept: Mapping[str, str] = field(default_factory=dict)

    def keep(self, folder: Path) -> None:
        """Put what was heard with the transcripts, as hearing here would have. Raises ReviewerError."""
        from reviewer.errors import LibraryError

        for name, text in self.kept.items():
            try:
                atomic.write_text(folder / Path(name).name, text)
            except OSError as error:
                raise LibraryError(
                    f"the transcript cannot be kept in {folder} ({error.strerror or error}); free some space "
                    "there"
                ) from error

    def result(self, task: Task) -> Result:
        """The result with the note's own path instead of the worker's."""
        assert self.done is not None
        read = self.done.read
        if read is None:
            return self.done
        return replace(self.done, read=replace(read, source=replace(read.source, path=_own_path(task))))


def _own_path(task: Task) -> Path | None:
    return task.source.path if task.source is not None else task.path


def order_for(shared: Shared, name: str) -> Order:
    """An order for workers elsewhere: nothing in it is a path of this machine but a model's folder."""
    own = shared.vocabulary or paths.user_vocabulary()
    try:
        words = own.read_text("utf-8")
    except FileNotFoundError:
        words = ""
    how, digest = replace(shared.how, cache=None), ""
    if isinstance(how.model, Model) and how.load is None:
        digest = how.model.digest
        how = replace(how, model=how.model.name if how.model.name in SHIPPED else str(how.model.path))
    plain = replace(shared, how=how, known=frozenset(), vocabulary=None)
    return Order(name, __version__, plain, words, digest)


def kept_of(folder: Path, digest: str) -> dict[str, str]:
    """What is kept of a recording with the transcripts: file name to text."""
    found = {}
    for file in folder.glob(f"{digest[:20]}-*"):
        if file.name.endswith(_ENDINGS):
            with suppress(OSError, ValueError):
                found[file.name] = file.read_text("utf-8")
    return found


_lock = threading.Lock()  # a desk does one note at a time
_desk: tuple[str, Desk] | None = None


def hear_far(parcel: Parcel, order: Order, data: bytes | None) -> Answer:
    """Hear and read one note on a worker. data: the content of its file, None to find it at its path."""
    if order.version != __version__:
        wrong = (
            f"a worker has Reviewer {__version__}, here it is {order.version}; install the same version there"
        )
        return Answer(Result(parcel.task.number, error=ReviewerError(wrong)))
    with _lock, tempfile.TemporaryDirectory(prefix="reviewer-") as folder:
        path = _file(parcel, data, Path(folder))
        if path is None:
            return Answer(absent=True)
        cache = Path(folder) / "transcripts"
        for name, text in parcel.kept.items():
            atomic.write_text(cache / Path(name).name, text)
        task = replace(parcel.task, path=path)
        desk = _desk_for(order, Path(folder))
        result = _checked(desk.do(task, should_stop=_stop_asked(order.name), cache=cache), order)
        kept = kept_of(cache, parcel.digest)
        new = {name: text for name, text in kept.items() if parcel.kept.get(name) != text}
        return Answer(result, kept=new)


def forget_desk(name: str) -> None:
    """Give a run's reader and model back, when it is over."""
    global _desk
    if _desk is not None and _desk[0] == name:
        _desk = None


def _file(parcel: Parcel, data: bytes | None, folder: Path) -> Path | None:
    from reviewer.speech.decode import digest

    path = parcel.task.path
    if parcel.task.source is not None:
        return path
    if data is not None:
        sent = folder / path.name
        sent.write_bytes(data)
        return sent
    try:
        return path if digest(path) == parcel.digest else None
    except InputError:
        return None


def _desk_for(order: Order, folder: Path) -> Desk:
    global _desk
    if _desk is None or _desk[0] != order.name:
        own = folder / "vocabulary.toml"
        own.write_text(order.vocabulary, "utf-8")
        desk = Desk(replace(order.shared, vocabulary=own), _processors())
        desk.load()
        _desk = (order.name, desk)
    return _desk[1]


def _processors() -> int:
    from distributed import get_worker

    return max(1, int(get_worker().state.nthreads))


def _stop_asked(name: str) -> ShouldStop:
    """Whether the one who gives out the notes said to stop; asked no more than once a second."""
    from distributed import Event

    event, state = Event(name), {"next": 0.0, "stop": 0.0}

    def asked() -> bool:
        now = time.monotonic()
        if not state["stop"] and now >= state["next"]:
            state["next"] = now + _ASK_EVERY_S
            state["stop"] = float(event.is_set())
        return bool(state["stop"])

    return asked


def _checked(result: Result, order: Order) -> Result:
    """Another model under the same name would hear other words."""
    read = result.read
    heard = read.heard.settings.get("model_digest", "") if read is not None else ""
    if order.model_digest and heard and heard != order.model_digest:
        wrong = "a worker has another speech model under this name; install the same one there"
        return Result(result.number, error=ModelError(wrong))
    return result
