"""Find a speech model, put it together where it comes in parts, and know that it is undamaged.

A model is a folder of CTranslate2 Whisper files. Each file of a shipped model is checked against
its SHA-256 at every use: from a record of the last check while the file stands as it was then, by
reading it again when it changed or the check is older than a month. A file stands as it was while it is
the same one on the disk, of the same size, and neither its time stamp nor the system's own mark of the
last change moved: a time stamp can be put back, that mark cannot. Who can write the record can forge it;
`reviewer model NAME` asks the files alone. The network is touched only
for a model that the user named and that neither ships nor is a folder.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from reviewer import paths
from reviewer.errors import ModelError
from reviewer.leavings import sweep
from reviewer.speech import atomic
from reviewer.speech.shipped import DEFAULT, MODEL_FILE, SHIPPED, Shipped, ShippedFile

RECHECK_DAYS = 30.0
"""A file whose size and time stamp stand is read and hashed again after this many days."""

_NEEDED = (MODEL_FILE, "config.json", "tokenizer.json")
_RECORD = "checked.json"
_STANDS = ("size", "mtime_ns", "ctime_ns", "ino", "dev")

State = Literal["ready", "in parts", "missing", "damaged"]


@dataclass(frozen=True, slots=True)
class Model:
    """A usable model: its name, its folder and the SHA-256 of its model file, checked."""

    name: str
    path: Path
    digest: str


@dataclass(frozen=True, slots=True)
class ModelStatus:
    """One line of `list_models`. "in parts": installed, and put together at the first use.

    size: bytes on disk of the model file, 0 where there is none. detail: one sentence.
    """

    name: str
    state: State
    path: Path | None
    size: int
    default: bool
    detail: str


def find_model(name: str | None = None) -> Model:
    """The model to hear with, put together and checked where needed.

    name: None for the default; "base" or "tiny.en" for a shipped one; a folder that holds a
    CTranslate2 Whisper; or a name that faster-whisper knows, which may be fetched from the network.
    Raises ModelError where it is missing, damaged or cannot be written.
    """
    name = name or DEFAULT
    if name in SHIPPED:
        return _shipped(SHIPPED[name])
    folder = Path(name).expanduser()
    if folder.is_dir():
        return _from_folder(str(folder), folder.resolve())
    if folder.is_absolute() or (os.sep in name.rstrip(os.sep) and name.count("/") != 1):
        raise ModelError(f"there is no model folder {name}; check the path or name a model")
    return _from_network(name)


def is_to_be_fetched(name: str | None) -> bool:
    """Whether `find_model` would have to fetch this model from the network; asks nobody about it."""
    if name is None or name in SHIPPED or Path(name).expanduser().is_dir():
        return False
    from faster_whisper import available_models
    from faster_whisper.utils import download_model

    if "/" not in name and name not in available_models():
        return False
    try:
        download_model(name, local_files_only=True, cache_dir=str(paths.models() / "fetched"))
    except (OSError, ValueError):
        return not Path(name).is_absolute()
    return False


def list_models() -> list[ModelStatus]:
    """The shipped models and those fetched before, the default first, with their state."""
    found = [_status(model) for model in SHIPPED.values()]
    fetched = sorted((paths.models() / "fetched").glob("models--*/snapshots/*/model.bin"))
    for file in fetched:
        name = file.parents[2].name.removeprefix("models--").replace("--", "/")
        size = file.stat().st_size
        found.append(ModelStatus(name, "ready", file.parent, size, False, f"fetched, in {file.parent}"))
    return found


def verify(model: Model) -> None:
    """Read every file of the model again and compare; raise ModelError at the first difference."""
    shipped = SHIPPED.get(model.name)
    if shipped is None:
        if _hash(model.path / MODEL_FILE) != model.digest:
            raise ModelError(f"{model.path / MODEL_FILE} has changed since it was chosen; choose it again")
        return
    for file in shipped.files:
        _expect(model.path / file.name, file, shipped, fresh=True)


def _shipped(shipped: Shipped) -> Model:
    folder = _folder(shipped)
    if shipped.joined and not _sound(folder, shipped):
        _join(shipped)
    for file in shipped.files:
        _expect(folder / file.name, file, shipped)
    return Model(shipped.name, folder, shipped.files[0].digest)


def _folder(shipped: Shipped) -> Path:
    if shipped.joined:
        return paths.models() / shipped.name
    found = shipped.files[0].parts[0].find()
    if found is None:
        raise _not_installed(shipped)
    return found.parent


def _sound(folder: Path, shipped: Shipped) -> bool:
    """Whether the joined copy is there and right; a wrong one is simply joined again."""
    return all(
        (folder / file.name).is_file() and _digest(folder / file.name) == file.digest
        for file in shipped.files
    )


def _expect(path: Path, file: ShippedFile, shipped: Shipped, *, fresh: bool = False) -> None:
    if not path.is_file():
        raise _not_installed(shipped)
    if _digest(path, fresh=fresh) != file.digest:
        raise ModelError(f"the speech model file {path} is damaged; reinstall it with: {_reinstall(shipped)}")


def _join(shipped: Shipped) -> None:
    """Put the model together beside its place, check it, and only then move it there."""
    if shipped.missing():
        raise _not_installed(shipped)
    home = paths.models()
    target = home / shipped.name
    try:
        paths.private_folder(home)
        sweep(home, f".{shipped.name}-*")
        beside = Path(tempfile.mkdtemp(dir=home, prefix=f".{shipped.name}-"))
    except OSError as error:
        raise _unwritable(shipped, error) from error
    try:
        for file in shipped.files:
            if _copy(file, beside / file.name) != file.digest:
                raise ModelError(
                    f"the speech model {shipped.name} is damaged in its package ({file.name}); "
                    f"reinstall it with: {_reinstall(shipped)}"
                )
        _move_into_place(beside, target, shipped)
    except OSError as error:
        raise _unwritable(shipped, error) from error
    finally:
        shutil.rmtree(beside, ignore_errors=True)


def _copy(file: ShippedFile, target: Path) -> str:
    """Write the parts one after another to `target`; the SHA-256 of what was written."""
    found = hashlib.sha256()
    with open(target, "wb", opener=paths.private_opener) as out:
        for part in file.parts:
            source = part.find()
            if source is None:
                continue  # the digest then differs, which says it better
            with source.open("rb") as handle:
                while block := handle.read(1 << 22):
                    found.update(block)
                    out.write(block)
        out.flush()
        os.fsync(out.fileno())
    return found.hexdigest()


def _move_into_place(beside: Path, target: Path, shipped: Shipped) -> None:
    if target.exists():
        away = Path(tempfile.mkdtemp(dir=target.parent, prefix=f".{shipped.name}-old-"))
        target.replace(away / shipped.name)
        shutil.rmtree(away, ignore_errors=True)
    try:
        beside.replace(target)
    except OSError:
        # another process was quicker; its copy is as good when it passes the check
        if not _sound(target, shipped):
            raise


def _from_folder(name: str, folder: Path) -> Model:
    for needed in _NEEDED:
        # without its tokenizer the library would go to the network for one
        if not (folder / needed).is_file():
            raise ModelError(
                f"{folder} holds no CTranslate2 Whisper model ({needed} is missing); name another folder"
            )
    return Model(name, folder, _digest(folder / MODEL_FILE))


def _from_network(name: str) -> Model:
    from faster_whisper import available_models
    from faster_whisper.utils import download_model

    if "/" not in name and name not in available_models():
        known = ", ".join(SHIPPED)
        raise ModelError(
            f"no speech model is named {name}; name a folder, one that comes along ({known}), "
            f"or one to fetch ({', '.join(available_models())})"
        )
    cache = str(paths.models() / "fetched")
    for local in (True, False):
        try:
            return _from_folder(name, Path(download_model(name, local_files_only=local, cache_dir=cache)))
        except (OSError, ValueError) as error:
            if not local:
                raise ModelError(
                    f"the speech model {name} could not be fetched; connect to the network, "
                    f"or use one that comes along ({', '.join(SHIPPED)})"
                ) from error
    raise AssertionError("unreachable")


def _status(shipped: Shipped) -> ModelStatus:
    default = shipped.name == DEFAULT
    packages = " ".join(shipped.packages())
    joined = paths.models() / shipped.name
    if shipped.joined and not (joined / MODEL_FILE).is_file():
        if shipped.missing():
            return ModelStatus(shipped.name, "missing", None, 0, default, f"install {packages}")
        return ModelStatus(shipped.name, "in parts", None, 0, default, "put together at the first use")
    try:
        folder = _folder(shipped)
        size = (folder / MODEL_FILE).stat().st_size
        for file in shipped.files:
            _expect(folder / file.name, file, shipped)
    except (ModelError, OSError) as error:
        return ModelStatus(shipped.name, "damaged", None, 0, default, str(error))
    return ModelStatus(shipped.name, "ready", folder, size, default, f"checked, in {folder}")


def _not_installed(shipped: Shipped) -> ModelError:
    return ModelError(f"the speech model {shipped.name} is not installed; run: {_reinstall(shipped)}")


def _unwritable(shipped: Shipped, error: OSError) -> ModelError:
    return ModelError(
        f"the speech model {shipped.name} cannot be put together in {paths.models()} "
        f"({error.strerror or error}); free some space there, or set {paths.HOME_VARIABLE} "
        f"to a folder that can be written"
    )


def _reinstall(shipped: Shipped) -> str:
    return f"pip install --force-reinstall --no-deps {' '.join(shipped.packages())}"


def _digest(path: Path, *, fresh: bool = False) -> str:
    """SHA-256 of a file, from the record of checks while the file stands as it was."""
    stat = path.stat()
    key = str(path.resolve())
    stands = {name: getattr(stat, f"st_{name}") for name in _STANDS}
    record = _read_record()
    if not fresh and (known := _still_known(record.get(key), stands)) is not None:
        return known
    found = _hash(path)
    record[key] = {**stands, "digest": found, "checked": time.time()}
    # a model used in place works from a read-only library too; it is then hashed each time
    with suppress(OSError):
        atomic.write_text(paths.models() / _RECORD, json.dumps(record, indent=1))
    return found


def _still_known(entry: Any, stands: dict[str, int]) -> str | None:
    """The digest of an entry of the record, while it is of the file as it stands and not too old."""
    if not isinstance(entry, dict) or any(entry.get(name) != value for name, value in stands.items()):
        return None
    digest, checked = entry.get("digest"), entry.get("checked")
    if not isinstance(digest, str) or not isinstance(checked, int | float):
        return None
    return digest if 0 <= time.time() - checked < RECHECK_DAYS * 86_400 else None


def _read_record() -> dict[str, Any]:
    try:
        found = json.loads((paths.models() / _RECORD).read_text("utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}  # no record, or a damaged one: everything is hashed again
    return found if isinstance(found, dict) else {}


def _hash(path: Path) -> str:
    with path.open("rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()
