"""What the documents say is what the program does."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import click
import pytest

from reviewer import cli as command_line
from reviewer.cautions import CAUTION
from reviewer.commands.demo import figures
from reviewer.compare.score import Tally

ROOT = Path(__file__).parents[1]
DOCUMENTS = sorted(
    path
    for path in (*ROOT.glob("*.md"), *ROOT.glob("docs/*.md"), *ROOT.glob("*/README.md"))
    if path.is_file()
)
README = (ROOT / "README.md").read_text("utf-8")
GROUP = command_line.LazyGroup(name="reviewer")


def commands_in(text: str) -> list[list[str]]:
    """Every `reviewer …` line of a code block, taken apart as a shell would."""
    lines = re.findall(r"^    (?:\S+/)?reviewer (.+)$", text, re.M)
    return [shlex.split(line, comments=True) for line in lines]


CASES = [
    pytest.param(words, id=f"{path.name}: {' '.join(words)[:60]}")
    for path in DOCUMENTS
    for words in commands_in(path.read_text("utf-8"))
]


@pytest.mark.parametrize("words", CASES)
def test_a_command_in_the_documents_exists_with_its_options(words: list[str]) -> None:
    command = GROUP.get_command(click.Context(GROUP), words[0])
    assert command is not None, f"there is no command {words[0]}"
    rest = words[1:]
    if isinstance(command, click.Group) and rest and not rest[0].startswith("-"):
        inner = command.get_command(click.Context(command), rest[0])
        assert inner is not None, f"there is no command {words[0]} {rest[0]}"
        command, rest = inner, rest[1:]
    # parsing alone: an unknown option or value raises
    command.make_context(words[0], list(rest), resilient_parsing=False)


def test_every_command_is_in_the_readme() -> None:
    missing = [name for name in command_line.COMMANDS if f"reviewer {name}" not in README]
    assert missing == []


def test_options_named_in_the_readme_exist() -> None:
    known: set[str] = set()
    for command in command_line.COMMANDS:
        found = GROUP.get_command(click.Context(GROUP), command)
        assert found is not None
        members = found.commands.values() if isinstance(found, click.Group) else [found]
        known |= {option for member in members for param in member.params for option in param.opts}
    named = set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", README))
    assert named <= known


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_what_a_document_points_to_is_there(path: Path) -> None:
    text = path.read_text("utf-8")
    targets = re.findall(r"\]\(([^)#\s]+)\)", text)
    gone = [target for target in targets if "://" not in target and not (path.parent / target).exists()]
    assert gone == []


def test_the_readme_begins_with_the_job_and_two_commands() -> None:
    title, job, *_ = README.split("\n\n")
    assert title == "# Reviewer"
    assert job.startswith("A coach talks")
    first_blocks = re.findall(r"^    (.+)$", README, re.M)[:2]
    assert first_blocks[0].endswith("reviewer demo --no-screen")
    assert first_blocks[1].endswith("pytest")
    assert all("pip install" in block for block in first_blocks)


def test_the_checking_run_uses_the_readmes_packages() -> None:
    script = (ROOT / ".ci" / "run").read_text("utf-8")
    assert ".ci/packages" in script
    assert "pip\" install --quiet '.[test]'" in script


def test_the_caution_is_given_word_for_word() -> None:
    assert CAUTION in " ".join(README.split())


def test_the_readmes_figures_are_those_that_the_command_prints() -> None:
    """By their names; `tests/test_demo.py` holds the figures themselves to what is promised."""
    tally = Tally()
    for name in ("verdict", "player", "phase", "down and distance", "hands-off"):
        tally.mark(name, True)
    tally.gold["rep"] = tally.true["rep"] = tally.read["rep"] = 1
    printed = [re.split(r"\s{2,}", line)[0] for line in figures(tally)]
    block = README.split("reviewer demo --check`", 1)[1].split("## ", 1)[0]
    shown = [re.split(r"\s{2,}", line.strip())[0] for line in re.findall(r"^    (.+)$", block, re.M)]
    assert shown[1:] == printed
    shares = dict(re.findall(r"^    (.+?) {2,}([\d.]+) %", block, re.M))
    assert float(shares["reps found"]) >= 90
    assert float(shares["verdicts right"]) >= 85
