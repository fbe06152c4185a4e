"""The lock, the licences and the shipped models, with made-up packages and with the real ones."""

from __future__ import annotations

import hashlib
import warnings
from dataclasses import replace
from email.message import Message
from importlib import metadata
from pathlib import Path
from typing import Any

import pytest
from packaging.requirements import Requirement

from reviewer.speech.shipped import Part, Shipped, ShippedFile
from tests import supply
from tests.supply import Pinned, allows, licence, licence_fault, lock_faults, read_lock

RULES = supply.read_rules()
HASH = "--hash=sha256:" + "a" * 64


class Package(metadata.Distribution):
    """A package that is nowhere installed."""

    def __init__(self, folder: Path | None = None, needs: tuple[str, ...] = (), **told: Any) -> None:
        self.folder = folder
        self.told = {"Name": "made-up", "Version": "1.0", **told}
        self.needed = needs

    @property
    def metadata(self) -> Any:
        message = Message()
        for name, values in self.told.items():
            for value in values if isinstance(values, list) else [values]:
                message[name.replace("_", "-")] = value
        return message

    @property
    def requires(self) -> list[str]:
        return list(self.needed)

    @property
    def files(self) -> Any:
        assert self.folder is not None or "License" not in self.told
        return [metadata.PackagePath(p.name) for p in self.folder.iterdir()] if self.folder else []

    def read_text(self, filename: str) -> str | None:
        return None

    def locate_file(self, path: Any) -> Any:
        assert self.folder is not None
        return self.folder / path


@pytest.mark.parametrize(
    ("told", "found", "fine"),
    [
        ({"License_Expression": "MIT"}, "MIT", True),
        ({"License_Expression": "BSD-3-Clause AND (MIT OR GPL-3.0-only)"}, None, True),
        ({"License_Expression": "MIT AND GPL-3.0-only"}, None, False),
        ({"License_Expression": "AGPL-3.0-only"}, None, False),
        ({"License_Expression": "MIT OR"}, None, False),
        ({"License_Expression": "(MIT"}, None, False),
        # an exception is one more thing that somebody has to read
        ({"License_Expression": "Apache-2.0 WITH LLVM-exception"}, None, False),
        ({"Classifier": ["License :: OSI Approved :: MIT License"]}, "MIT", True),
        ({"Classifier": ["License :: Other/Proprietary License"]}, "Other/Proprietary License", False),
        (
            {"Classifier": ["License :: OSI Approved", "License :: OSI Approved :: ISC License (ISCL)"]},
            "ISC",
            True,
        ),
        (
            {
                "Classifier": [
                    "License :: OSI Approved :: MIT License",
                    "License :: OSI Approved :: GNU General Public License v3 or later (GPLv3+)",
                ]
            },
            "MIT AND GPL-3.0-or-later",
            False,
        ),
        ({}, "", False),
    ],
)
def test_what_a_package_states_is_held_against_the_list(
    told: dict[str, Any], found: str | None, fine: bool
) -> None:
    package = Package(**told)
    assert licence(package, RULES) == (told.get("License_Expression") if found is None else found)
    assert (licence_fault(package, RULES) is None) is fine


def test_a_licence_field_and_a_licence_file_are_read(tmp_path: Path) -> None:
    assert licence(Package(tmp_path, License="Apache 2.0"), RULES) == "Apache-2.0"
    (tmp_path / "LICENSE").write_text("MIT License\n\nCopyright (c) somebody\n")
    assert licence(Package(tmp_path), RULES) == "MIT"
    (tmp_path / "LICENSE").write_text("All rights reserved; ask me first.\n")
    assert licence(Package(tmp_path), RULES) == ""
    assert licence_fault(Package(tmp_path), RULES) == "made-up 1.0 states no licence"


def test_data_of_a_package_may_be_read_while_nothing_imports_its_code(tmp_path: Path) -> None:
    rules = replace(RULES, data_only={"made-up": {"code": "GPL-3.0-or-later", "data": "MIT"}})
    package = Package(License_Expression="GPL-3.0-or-later")
    program = tmp_path / "program"
    program.mkdir()
    (program / "sounds.py").write_text('path = locate("made_up/words.txt")\n')
    assert licence_fault(package, rules, program) is None
    (program / "sounds.py").write_text("def words():\n    import made_up\n")
    told = licence_fault(package, rules, program)
    assert told is not None
    assert told.endswith("may only be read as data, but program/sounds.py imports it")
    assert licence_fault(package, RULES, program) is not None
    # a new release under another licence is looked at again
    assert licence_fault(Package(License_Expression="AGPL-3.0-only"), rules, program) is not None


def test_a_name_in_another_name_is_not_that_licence() -> None:
    assert allows("BSD-3-Clause", ["BSD-3-Clause", "BSD"])
    assert not allows("BSD-4-Clause", ["BSD"])
    assert not allows("MIT-like", ["MIT"])
    assert not allows("", ["MIT"])


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        (f"one==1.0 \\\n    {HASH}\n", None),
        ("one==1.0\n", "one==1.0 has no SHA-256 in the lock"),
        (f"one>=1.0 {HASH}\n", "is no package with an exact version"),
        (f"one==1.0 {HASH[:-1]}\n", "has no SHA-256"),
        (f"one==1.0 {HASH} {HASH[:-1]}\n", "which is no SHA-256"),
        (f"one==1.0 {HASH}\nOne==1.1 {HASH}\n", "stands twice"),
        (f"one @ https://somewhere.example/one.whl {HASH}\n", "names a place to fetch from"),
        (f"--index-url somewhere\none==1.0 {HASH}\n", "names a place to fetch from"),
    ],
)
def test_the_lines_of_a_lock(text: str, fault: str | None) -> None:
    _, faults = read_lock(text)
    assert (fault is None and not faults) or any(fault in told for told in faults if fault)


def test_a_lock_must_hold_what_is_asked_for_and_what_that_needs() -> None:
    installed: dict[str, metadata.Distribution] = {
        "one": Package(needs=("two>=2", "three; python_version < '3'", "four; extra == 'more'"))
    }
    asked = [Requirement("one[more]>=1")]
    wanted = supply.everything_needed(asked, installed)
    assert [(who, needed.name) for who, needed in wanted] == [
        ("pyproject.toml", "one"),
        ("one", "two"),
        ("one", "four"),
    ]
    lock = {"one": Pinned("one", "0.9", ()), "two": Pinned("two", "2.1", ())}
    assert list(lock_faults(lock, wanted)) == [
        "pyproject.toml needs one>=1, but the lock has 0.9",
        "one needs four, which is not in the lock",
    ]


def test_what_is_installed_otherwise_is_named() -> None:
    lock = {"gone": Pinned("gone", "1", ()), "made-up": Pinned("Made_Up", "1.1", ())}
    assert supply.differences(lock, {"made-up": Package()}) == [
        "gone 1 is in the lock but not installed",
        "made-up is installed as 1.0; the lock has 1.1",
    ]


def test_a_name_cannot_break_the_page() -> None:
    lock = {"made-up": Pinned("made-up", "1", ("a",))}
    package = Package(License_Expression="MIT | x\n| forged | row |")
    lines = supply.page(lock, {"made-up": package}, RULES, set()).splitlines()
    (row,) = [line for line in lines if line.startswith("| made-up")]
    assert row == "| made-up | 1 | MIT \\| x \\| forged \\| row \\| | needed by nothing any more |"


def test_a_model_file_that_differs_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "one").write_bytes(b"first ")
    (tmp_path / "two").write_bytes(b"second")
    monkeypatch.setattr(
        Part, "find", lambda part: found if (found := tmp_path / part.inside).is_file() else None
    )
    parts = (Part("p", "1", "one"), Part("p", "1", "two"))
    file = ShippedFile("model.bin", hashlib.sha256(b"first second").hexdigest(), parts)
    model = Shipped("small", (file,), joined=True)
    assert list(supply.model_faults([model])) == []
    (tmp_path / "two").write_bytes(b"sec0nd")
    assert list(supply.model_faults([model])) == ["the speech model small is damaged (model.bin)"]
    (tmp_path / "two").unlink()
    assert list(supply.model_faults([model])) == ["the speech model small is not installed whole (model.bin)"]


def test_this_project_and_this_machine(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The real lock, licences and page. Other versions than the lock's are only told here; the checking
    run has the lock's own and is strict."""
    monkeypatch.setattr(supply, "model_faults", lambda: [])  # tests/speech/test_models.py reads them
    code = supply.main([])
    out = capsys.readouterr().out
    assert code == 0, out
    for line in out.splitlines():
        if line.startswith("remark: "):
            warnings.warn(line, stacklevel=1)


def test_a_fault_ends_with_one(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(supply, "model_faults", lambda: [])
    monkeypatch.setattr(supply, "PAGE", tmp_path / "licences.md")
    assert supply.main(["--strict"]) == 1
    assert "docs/licences.md is not what is installed" in capsys.readouterr().out
    monkeypatch.setattr(supply.metadata, "distributions", lambda: [Package(License_Expression="Mine-1.0")])
    assert supply.main(["--write"]) == 1
    assert "'Mine-1.0', which is not among those allowed" in capsys.readouterr().out
