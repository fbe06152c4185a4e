"""The command line: `reviewer COMMAND`. Each command is loaded only when it is called.

Results go to stdout, remarks and progress to stderr. Exit codes: 0 done, 2 bad input or something
the user can put right (one sentence on stderr), 130 stopped by the user.
"""

from __future__ import annotations

import difflib
import importlib
import io
import os
import sys
from typing import Any

import click

from reviewer import __version__
from reviewer.errors import InputError, ReviewerError, Stopped

BAD_INPUT = 2
STOPPED = 130
MOST_LETTERS = 400
"""Letters of a message."""

COMMANDS: dict[str, tuple[str, str]] = {
    "grade": ("reviewer.commands.grade:grade", "Hear notes, read them, and show the grade rows."),
    "review": ("reviewer.commands.review:review", "Confirm or fix the rows of a note, screen by keys."),
    "record": ("reviewer.commands.record:record", "Talk: record a note, then grade it."),
    "search": ("reviewer.commands.search:search", "Find past notes by words, technique, opponent, …"),
    "notes": ("reviewer.commands.notes:notes", "List the notes in the library."),
    "demo": ("reviewer.commands.demo:demo", "Grade the demo recordings in a library of their own."),
    "doctor": (
        "reviewer.commands.doctor:doctor",
        "Say what works on this machine and what to do about the rest.",
    ),
    "model": ("reviewer.commands.model:model", "List and verify the speech models."),
    "vocabulary": (
        "reviewer.commands.vocabulary:vocabulary",
        "Look up terms; list and remove what you taught.",
    ),
    "roster": ("reviewer.intake.commands:roster", "Import and show rosters."),
    "game": ("reviewer.intake.commands:game", "Import and show games."),
    "plays": ("reviewer.intake.commands:plays", "Lay a play list beside a note."),
    "players": ("reviewer.reports.player_commands:players", "List, add, rename, retire your players."),
    "sheet": ("reviewer.reports.commands:sheet", "A player's grade sheet."),
    "opponent": ("reviewer.reports.commands:opponent", "What an opponent uses, and on whom it works."),
    "agree": ("reviewer.reports.commands:agree", "How far two graders, or machine and coach, agree."),
    "cutlist": ("reviewer.reports.commands:cutlist", "Moments of film for a search or sheet."),
    "backup": ("reviewer.commands.keep:backup", "Copy the library safely."),
    "restore": ("reviewer.commands.keep:restore", "Bring a backup back."),
    "merge": ("reviewer.commands.merge:merge", "Bring another coach's library in."),
    "forget": ("reviewer.commands.forget:forget", "Remove a person from the library."),
    "rescue": ("reviewer.commands.rescue:rescue", "Save what can be read of a damaged library."),
}
"""Command name to where it lives and its line in the help (so that help loads no command)."""


class LazyGroup(click.Group):
    """A group whose commands are imported when they are called, so that help answers at once."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        where = COMMANDS.get(name)
        if where is None:
            return None
        module, _, attribute = where[0].partition(":")
        command: click.Command = getattr(importlib.import_module(module), attribute)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            raise InputError(f"there is no command {args[0]!r}; {_offer(args[0])}")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])

    def invoke(self, ctx: click.Context) -> Any:
        try:
            result = super().invoke(ctx)
            sys.stdout.flush()
        except BrokenPipeError:
            # whoever read the output has seen enough; a second failure while Python ends would print
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            return None
        return result


def _offer(name: str) -> str:
    near = difflib.get_close_matches(name, COMMANDS, n=1)
    return f"did you mean {near[0]}?" if near else "`reviewer --help` lists them"


@click.command(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="reviewer")
def cli() -> None:
    """Talk through a lineman's film; get an honest grade sheet."""


def main(arguments: list[str] | None = None) -> int:
    """Run the command line; the console script. Returns the exit code."""
    try:
        code = cli.main(args=arguments, prog_name="reviewer", standalone_mode=False)
        return code if isinstance(code, int) else 0
    except click.ClickException as problem:
        _show(problem)
        return problem.exit_code
    except Stopped as stopped:
        _say(str(stopped))
        return STOPPED
    except ReviewerError as problem:
        _say(str(problem))
        return BAD_INPUT
    except (click.Abort, KeyboardInterrupt):
        _say("stopped")
        return STOPPED


def _show(problem: click.ClickException) -> None:
    """Click's own message; what was typed comes back in it and must not act on the terminal."""
    from reviewer.review.plain import plain

    told = io.StringIO()
    problem.show(file=told)
    for line in told.getvalue().rstrip("\n").split("\n"):
        click.echo(plain(line), err=True)


def as_sentence(told: str) -> str:
    """A message for a person: one line, always ended, with nothing in it that acts on the terminal.

    A long one, because a name or a value in it is long, keeps its beginning and its end.
    """
    from reviewer.review.plain import plain

    told = plain(told)
    if len(told) > MOST_LETTERS:
        told = f"{told[: MOST_LETTERS // 2]} … {told[-MOST_LETTERS // 2 :]}"
    return told if told.endswith((".", "?", "!")) else f"{told}."


def _say(sentence: str) -> None:
    click.echo(f"reviewer: {as_sentence(sentence)}", err=True)


if __name__ == "__main__":
    sys.exit(main())
