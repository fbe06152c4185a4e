"""Model files that somebody meddled with, and the record of their checks."""

from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewer import paths
from reviewer.errors import ModelError
from reviewer.speech import models
from reviewer.speech.shipped import MODEL_FILE, Part, Shipped, ShippedFile
from tests.conftest import Cli
from tests.fuzz.hostile import fuzzed, result_or_sentence, spoilt

GOOD, BAD = b"weights of a model", b"weights of a m0del"


TEMPLATE = b"""{"PATH": {"size": SIZE, "mtime_ns": MTIME_NS, "ctime_ns": CTIME_NS, "ino": INO, "dev": DEV,
"digest": "DIGEST", "checked": CHECKED}}"""


@pytest.fixture(params=[True, False], ids=["joined in the library", "used where it lies"])
def model(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shipped model of one file, found once; the file that is loaded."""
    package = tmp_path / "package"
    package.mkdir()
    (package / MODEL_FILE).write_bytes(GOOD)
    monkeypatch.setattr(Part, "find", lambda part: package / part.inside)
    file = ShippedFile(MODEL_FILE, hashlib.sha256(GOOD).hexdigest(), (Part("p", "1", MODEL_FILE),))
    monkeypatch.setitem(models.SHIPPED, "base", Shipped("base", (file,), joined=request.param))
    return models.find_model().path / MODEL_FILE


def meddle(path: Path) -> os.stat_result:
    """One byte is another one, and the time stamps are put back."""
    before = path.stat()
    path.write_bytes(BAD)
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert path.stat().st_size == before.st_size
    assert path.stat().st_mtime_ns == before.st_mtime_ns
    return before


def record() -> Path:
    return paths.models() / "checked.json"


def is_caught(path: Path) -> bool:
    """Whether loading refuses the file, or joins a right one in its place."""
    try:
        found = models.find_model()
    except ModelError as problem:
        assert "is damaged; reinstall it with: pip install" in str(problem)
        return True
    return (found.path / MODEL_FILE).read_bytes() == GOOD


def forge(path: Path, **said: Any) -> None:
    """A record that says of the file as it now stands that it was found right."""
    stat = path.stat()
    entry = {name: getattr(stat, f"st_{name}") for name in ("size", "mtime_ns", "ctime_ns", "ino", "dev")}
    whole = {**entry, "digest": hashlib.sha256(GOOD).hexdigest(), **said}
    record().write_text(json.dumps({str(path.resolve()): whole}))


def test_a_byte_flipped_under_an_old_time_stamp(model: Path) -> None:
    meddle(model)
    assert is_caught(model)


def test_the_check_by_hand_asks_the_file_and_not_the_record(model: Path, cli: Cli) -> None:
    meddle(model)
    forge(model, checked=models.time.time())
    # a forged record deceives the loading; the command does not believe it, and puts it right
    assert models.find_model().path == model.parent
    ran = cli("model", "base")
    assert ran.code == 2
    assert "is damaged; reinstall it with: pip install" in ran.err
    assert is_caught(model)


@pytest.mark.parametrize("days", [31.0, -1.0, -100_000.0])
def test_a_forged_record_does_not_outlive_a_month(model: Path, days: float) -> None:
    """An old check is made again; one from the future is none."""
    meddle(model)
    forge(model, checked=models.time.time() - days * 86_400)
    assert is_caught(model)


def test_a_record_of_another_machine(model: Path) -> None:
    meddle(model)
    forge(model, checked=models.time.time(), ino=1, dev=1)
    assert is_caught(model)


def test_a_file_moved_into_its_place(model: Path) -> None:
    before = model.stat()
    other = model.with_name("other")
    other.write_bytes(BAD)
    os.utime(other, ns=(before.st_atime_ns, before.st_mtime_ns))
    other.replace(model)
    assert is_caught(model)


def test_a_link_put_in_its_place(model: Path, tmp_path: Path) -> None:
    before = model.stat()
    (tmp_path / "elsewhere").write_bytes(BAD)
    os.utime(tmp_path / "elsewhere", ns=(before.st_atime_ns, before.st_mtime_ns))
    model.unlink()
    model.symlink_to(tmp_path / "elsewhere")
    assert is_caught(model)


def test_a_folder_put_in_its_place(model: Path, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    (other / MODEL_FILE).write_bytes(BAD)
    model.parent.rename(tmp_path / "away")
    model.parent.symlink_to(other)
    assert is_caught(model)
    assert (other / MODEL_FILE).read_bytes() == BAD


def test_a_link_moved_from_a_good_file_to_a_bad_one(model: Path, tmp_path: Path) -> None:
    good, bad = tmp_path / "good", tmp_path / "bad"
    good.write_bytes(GOOD)
    bad.write_bytes(BAD)
    model.unlink()
    model.symlink_to(good)
    assert models.find_model().path == model.parent
    model.unlink()
    model.symlink_to(bad)
    assert is_caught(model)


@fuzzed(40)
@given(data=st.data())
def test_any_record_at_all(data: st.DataObject, tmp_path_factory: pytest.TempPathFactory) -> None:
    """A spoilt record never keeps a model from loading, and never lets a damaged one through."""
    home = tmp_path_factory.mktemp("home")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(paths.HOME_VARIABLE, str(home))
        path = home / MODEL_FILE
        path.write_bytes(GOOD)
        right = hashlib.sha256(GOOD).hexdigest()
        patch.setattr(Part, "find", lambda part: path)
        file = ShippedFile(MODEL_FILE, right, (Part("p", "1", MODEL_FILE),))
        patch.setitem(models.SHIPPED, "base", Shipped("base", (file,), joined=False))
        models.find_model()
        entry = json.loads(record().read_text())[str(path)]
        spoilt_text = data.draw(spoilt([TEMPLATE, b"[1]", b'{"PATH": [1]}', b"[" * 100_000]))
        for name, value in {"PATH": path, **{key.upper(): value for key, value in entry.items()}}.items():
            spoilt_text = spoilt_text.replace(name.encode(), str(value).encode())
        record().write_bytes(spoilt_text)
        assert models.find_model().digest == right
        path.write_bytes(BAD)
        assert result_or_sentence(models.find_model) is None
