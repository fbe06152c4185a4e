"""What the program is made of, checked: `python -m tests.supply [--write] [--strict]`.

Looks at the lock file (each package with an exact version and a hash, everything that is asked for in it,
versions that fit), at the licence of every installed package against the lists in `supply.toml`, at
`docs/licences.md`, and at the files of the shipped speech models. Prints what differs, a line each, and
ends with 1 where there is a fault. What is installed in another version than the lock says is a remark;
`--strict` (the checking run) makes it a fault. `--write` writes `docs/licences.md` anew.
"""

from __future__ import annotations

import argparse
import hashlib
import re
import sys
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from importlib import metadata
from pathlib import Path
from typing import Any

from packaging.requirements import InvalidRequirement, Requirement
from packaging.utils import canonicalize_name

from reviewer.speech.shipped import SHIPPED, Shipped

ROOT = Path(__file__).parents[1]
LOCK = ROOT / ".ci" / "requirements.lock"
PAGE = ROOT / "docs" / "licences.md"
RULES = Path(__file__).with_suffix(".toml")

_PINNED = re.compile(r"([A-Za-z0-9._-]+)==([A-Za-z0-9.!+_-]+)")
_HASH = re.compile(r"--hash=sha256:([0-9a-f]{64})")
_LICENCE_FILE = re.compile(r"(?:^|/)(?:LICEN[CS]E|COPYING)[^/]*$", re.IGNORECASE)

Lock = Mapping[str, "Pinned"]


@dataclass(frozen=True)
class Pinned:
    """A package of the lock file: its name as written there, version, SHA-256 of its files."""

    name: str
    version: str
    hashes: tuple[str, ...]


@dataclass(frozen=True)
class Rules:
    """`supply.toml`: which licences may be in, how packages spell them, what packages are for."""

    allowed: frozenset[str]
    spelled: Mapping[str, str] = field(default_factory=dict)
    begins: Mapping[str, str] = field(default_factory=dict)
    data_only: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    inside: Mapping[str, str] = field(default_factory=dict)
    used: Mapping[str, str] = field(default_factory=dict)


def read_rules(path: Path = RULES) -> Rules:
    """The rules as they stand in the file."""
    data = tomllib.loads(path.read_text("utf-8"))
    tables = {name: data[name] for name in ("spelled", "begins", "data_only", "inside", "used")}
    return Rules(frozenset(data["allowed"]) | frozenset(data["weak_copyleft"]), **tables)


def read_lock(text: str) -> tuple[dict[str, Pinned], list[str]]:
    """The packages of a lock file by canonical name, and what is wrong with its lines."""
    found: dict[str, Pinned] = {}
    faults: list[str] = []
    plain = re.sub(r"\\\n", " ", re.sub(r"^\s*#.*\n", "", text, flags=re.M))
    for entry in filter(None, map(str.strip, plain.splitlines())):
        head, *rest = entry.split()
        pinned = _PINNED.fullmatch(head)
        if pinned is None:
            faults.append(f"the lock has {head[:60]!r}, which is no package with an exact version")
            continue
        hashes = tuple(_HASH.findall(entry))
        if not hashes:
            faults.append(f"{head} has no SHA-256 in the lock")
        if odd := [piece for piece in rest if not _HASH.fullmatch(piece)]:
            faults.append(f"{head} has {odd[0][:40]!r} in the lock, which is no SHA-256")
        key = canonicalize_name(pinned[1])
        if key in found:
            faults.append(f"{head} stands twice in the lock")
        found[key] = Pinned(pinned[1], pinned[2], hashes)
    if re.search(r"://|--(?:extra-)?index-url|--find-links", text):
        faults.append("the lock names a place to fetch from; it must hold names and hashes only")
    return found, faults


def asked_for(project: Mapping[str, Any]) -> list[Requirement]:
    """The dependencies of pyproject.toml, extras included."""
    lines = [*project["dependencies"]]
    for extra in project.get("optional-dependencies", {}).values():
        lines += extra
    return [Requirement(line) for line in lines]


def lock_faults(lock: Lock, wanted: Iterable[tuple[str, Requirement]]) -> Iterator[str]:
    """Requirements, each with who asks for it, that the lock does not meet."""
    for who, needed in wanted:
        pinned = lock.get(canonicalize_name(needed.name))
        if pinned is None:
            yield f"{who} needs {needed.name}, which is not in the lock"
        elif not needed.specifier.contains(pinned.version, prereleases=True):
            yield f"{who} needs {needed.name}{needed.specifier}, but the lock has {pinned.version}"


def needs(distribution: metadata.Distribution, extras: Iterable[str] = ()) -> list[Requirement]:
    """What an installed package needs on this machine, with these of its extras."""
    found = []
    for line in distribution.requires or ():
        try:
            needed = Requirement(line)
        except InvalidRequirement:
            continue  # pip could not have installed it by such a line
        marker = needed.marker
        if marker is None or any(marker.evaluate({"extra": extra}) for extra in ("", *extras)):
            found.append(needed)
    return found


def everything_needed(
    asked: Sequence[Requirement], installed: Mapping[str, metadata.Distribution]
) -> list[tuple[str, Requirement]]:
    """What is asked for and all that this needs in turn, each with who asks for it."""
    found: list[tuple[str, Requirement]] = []
    waiting = [("pyproject.toml", needed) for needed in asked]
    seen: set[tuple[str, frozenset[str]]] = set()
    while waiting:
        who, needed = waiting.pop(0)
        found.append((who, needed))
        key = (canonicalize_name(needed.name), frozenset(needed.extras))
        if key in seen or key[0] not in installed:
            continue
        seen.add(key)
        waiting += [(needed.name, further) for further in needs(installed[key[0]], needed.extras)]
    return found


def licence(distribution: metadata.Distribution, rules: Rules) -> str:
    """The licence a package states, as SPDX names where they are known; "" where it states none.

    Its SPDX expression counts first, then the classifiers, the licence field, and the licence file.
    """
    told = distribution.metadata
    if expression := told.get("License-Expression"):
        return str(expression)
    classed = [line.split(" :: ")[-1] for line in told.get_all("Classifier") or () if "License ::" in line]
    named = [_named(line, rules) for line in classed if line != "OSI Approved"]
    if named:
        return " AND ".join(dict.fromkeys(named))
    stated = str(told.get("License") or "").strip()
    if stated and "\n" not in stated and len(stated) < 80:
        return _named(stated, rules)
    return _from_file(distribution, rules)


def _named(text: str, rules: Rules) -> str:
    return rules.spelled.get(text.strip().lower(), text.strip())


def _from_file(distribution: metadata.Distribution, rules: Rules) -> str:
    for file in distribution.files or ():
        if not _LICENCE_FILE.search(str(file)):
            continue
        try:
            text = Path(str(distribution.locate_file(file))).read_text("utf-8", "replace")
        except OSError:
            continue
        start = " ".join(text.lower().split())[:2000]
        for words, name in rules.begins.items():
            if words in start:
                return name
    return ""


def allows(expression: str, allowed: Iterable[str]) -> bool:
    """Whether a licence expression can be met by allowed licences alone (AND: all, OR: one)."""
    known = sorted(allowed, key=len, reverse=True)
    names = "|".join(map(re.escape, known))
    tokens = re.findall(rf"\(|\)|(?:{names})(?![\w.+-])|\bAND\b|\bOR\b|[^\s()]+", expression)
    try:
        return _any_of(tokens, frozenset(known)) and not tokens
    except ValueError:
        return False


def _any_of(tokens: list[str], allowed: frozenset[str]) -> bool:
    met = _all_of(tokens, allowed)
    while tokens and tokens[0] == "OR":
        tokens.pop(0)
        met = _all_of(tokens, allowed) or met
    return met


def _all_of(tokens: list[str], allowed: frozenset[str]) -> bool:
    met = _one(tokens, allowed)
    while tokens and tokens[0] == "AND":
        tokens.pop(0)
        met = _one(tokens, allowed) and met
    return met


def _one(tokens: list[str], allowed: frozenset[str]) -> bool:
    token = tokens.pop(0) if tokens else ")"
    if token in (")", "AND", "OR"):
        raise ValueError("no expression")
    if token != "(":
        return token in allowed
    met = _any_of(tokens, allowed)
    if not tokens or tokens.pop(0) != ")":
        raise ValueError("no expression")
    return met


def imports(name: str, folder: Path) -> list[str]:
    """The modules below a folder that import a package."""
    statement = re.compile(rf"^\s*(?:import|from)\s+{re.escape(name)}\b", re.M)
    return sorted(
        str(file.relative_to(folder.parent))
        for file in folder.rglob("*.py")
        if statement.search(file.read_text("utf-8"))
    )


def licence_fault(
    distribution: metadata.Distribution, rules: Rules, program: Path = ROOT / "reviewer"
) -> str | None:
    """What is wrong with a package's licence: unknown, or not among those that may be in."""
    name, found = canonicalize_name(distribution.name), licence(distribution, rules)
    carries = rules.data_only.get(name)
    if carries is not None and found == carries["code"]:
        if users := imports(name.replace("-", "_"), program):
            return f"{name} is {found} and may only be read as data, but {users[0]} imports it"
        found = carries["data"]
    if not found:
        return f"{name} {distribution.version} states no licence"
    if not allows(found, rules.allowed):
        return f"{name} {distribution.version} has the licence {found!r}, which is not among those allowed"
    return None


def differences(lock: Lock, installed: Mapping[str, metadata.Distribution]) -> list[str]:
    """Where what is installed is not what the lock says."""
    lines = []
    for key, pinned in sorted(lock.items()):
        there = installed.get(key)
        if there is None:
            lines.append(f"{key} {pinned.version} is in the lock but not installed")
        elif there.version != pinned.version:
            lines.append(f"{key} is installed as {there.version}; the lock has {pinned.version}")
    return lines


def model_faults(models: Iterable[Shipped] = SHIPPED.values()) -> Iterator[str]:
    """Files of the shipped speech models that are not there or not as they must be, read in place."""
    for model in models:
        for file in model.files:
            digest = hashlib.sha256()
            parts = [part.find() for part in file.parts]
            for part in filter(None, parts):
                with part.open("rb") as handle:
                    while block := handle.read(1 << 22):
                        digest.update(block)
            if None in parts:
                yield f"the speech model {model.name} is not installed whole ({file.name})"
            elif digest.hexdigest() != file.digest:
                yield f"the speech model {model.name} is damaged ({file.name})"


def page(lock: Lock, installed: Mapping[str, metadata.Distribution], rules: Rules, asked: set[str]) -> str:
    """`docs/licences.md`: the packages of the lock, with version, licence and what each is for."""
    wanted_by: dict[str, list[str]] = {}
    for key in sorted(lock):
        for needed in needs(installed[key]) if key in installed else ():
            wanted_by.setdefault(canonicalize_name(needed.name), []).append(key)
    lines = [
        "# Licences of what is built in\n",
        "As each package states it in its metadata; the versions are those of `.ci/requirements.lock`. "
        "`python -m tests.supply` checks this page and `--write` writes it anew.\n",
        "| package | version | licence | used for |",
        "| --- | --- | --- | --- |",
    ]
    for key, pinned in sorted(lock.items()):
        stated = licence(installed[key], rules) if key in installed else "not installed"
        carries = rules.data_only.get(key)
        told = f"{carries['data']} (data only; its code is {stated})" if carries else stated
        used = rules.used.get(key, "") if key in asked else ""
        used = used or "needed by " + ", ".join(wanted_by.get(key, ["nothing any more"]))
        lines.append(f"| {_cell(key)} | {_cell(pinned.version)} | {_cell(told)} | {_cell(used)} |")
    remarks = [f"- {key} {rules.inside[key]}." for key in sorted(rules.inside) if key in lock]
    remarks += [f"- {key}: {one['because']}." for key, one in sorted(rules.data_only.items()) if key in lock]
    return "\n".join([*lines, "", "What the metadata do not say:\n", *remarks, ""])


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|")


@dataclass(frozen=True)
class Found:
    """The outcome of a check. faults: must be put right; differing: not what the lock says."""

    faults: tuple[str, ...]
    differing: tuple[str, ...]
    page: str
    summary: str


def look() -> Found:
    """Check the lock, the licences of what is installed, and the shipped models."""
    rules = read_rules()
    installed = {canonicalize_name(found.name): found for found in metadata.distributions()}
    lock, faults = read_lock(LOCK.read_text("utf-8"))
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    asked = asked_for(project)
    names = {canonicalize_name(needed.name) for needed in asked}
    faults += dict.fromkeys(lock_faults(lock, everything_needed(asked, installed)))
    unsaid = sorted(names - rules.used.keys())
    faults += [f"{name} is asked for, but supply.toml does not say what for" for name in unsaid]
    others = (found for key, found in sorted(installed.items()) if key != canonicalize_name(project["name"]))
    faults += filter(None, (licence_fault(found, rules) for found in others))
    faults += model_faults()
    return Found(
        tuple(faults),
        tuple(differences(lock, installed)),
        page(lock, installed, rules, names),
        f"{len(lock)} packages in the lock, {len(installed)} installed",
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Check everything; 1 where there is a fault."""
    parser = argparse.ArgumentParser(prog="python -m tests.supply")
    parser.add_argument("--write", action="store_true", help="write docs/licences.md anew")
    parser.add_argument("--strict", action="store_true", help="another version than the lock's is a fault")
    given = parser.parse_args(arguments)
    found = look()
    remarks = list(found.differing)
    if given.write:
        PAGE.write_text(found.page, "utf-8")
    elif not PAGE.is_file() or PAGE.read_text("utf-8") != found.page:
        remarks.append("docs/licences.md is not what is installed; `python -m tests.supply --write` mends it")
    faults = [*found.faults, *(remarks if given.strict else ())]
    for line in () if given.strict else remarks:
        print(f"remark: {line}")
    for line in faults:
        print(f"fault: {line}")
    print(f"{found.summary}, {len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
