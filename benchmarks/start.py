"""How soon the program answers, against the smallest click command: `python -m benchmarks start`.

Processor seconds of a process from its start to its end, the least of several.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Mapping, Sequence

import click

from benchmarks._figures import Figure, as_text
from benchmarks._process import spent

TIMES = 9
LIMIT_S = 0.2

_CLICK = """
import click
@click.command()
def main():
    '''Nothing.'''
main(["--help"])
"""
_OURS = "import sys; from reviewer.cli import main; sys.exit(main(sys.argv[1:]))"


def measure(times: int = TIMES) -> list[Figure]:
    """`reviewer --help`, a command's help, and the list of an empty library."""
    with tempfile.TemporaryDirectory() as home:
        env = {"REVIEWER_HOME": home}
        python = least(("pass",), times, env)
        smallest = least((_CLICK,), times, env)
        others = (("smallest click command", smallest),)
        return [
            Figure("`reviewer --help`", least((_OURS, "--help"), times, env), "s CPU", others, LIMIT_S),
            Figure("`reviewer grade --help`", least((_OURS, "grade", "--help"), times, env), "s CPU", others),
            Figure("`reviewer notes`", least((_OURS, "notes"), times, env), "s CPU", others),
            Figure("`reviewer --help`, Python's own start", python, "s CPU"),
        ]


def least(program: Sequence[str], times: int, env: Mapping[str, str]) -> float:
    """The least processor seconds of a Python program with its arguments."""
    return min(spent([sys.executable, "-c", *program], env).cpu_s for _ in range(times))


@click.command()
def main() -> None:
    """Print the figures."""
    click.echo(as_text(measure()))


if __name__ == "__main__":
    main()
