"""Every measurement that the project promises, or some of them by name: `python -m benchmarks [NAME…]`."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Sequence

import click

import benchmarks
from benchmarks._figures import PAGE, Figure, as_markdown, as_text, put_into


def names() -> list[str]:
    """The measurements there are: the modules of this package, each with a `main`."""
    found = (module.name for module in pkgutil.iter_modules(benchmarks.__path__))
    return sorted(name for name in found if not name.startswith("_"))


def written() -> list[str]:
    """Those whose figures stand in `docs/benchmarks.md`: with a `measure` that gives them."""
    return [name for name in names() if f"<!-- measured: {name} -->" in PAGE.read_text("utf-8")]


@click.command()
@click.argument("chosen", nargs=-1, metavar="[NAME]…", type=click.Choice(names()))
@click.option("--write", is_flag=True, help="Write the tables into docs/benchmarks.md.")
def main(chosen: tuple[str, ...], write: bool) -> None:
    """Run the measurements named, or all of them, each as `python -m benchmarks.NAME` would."""
    for name in chosen or (written() if write else names()):
        click.secho(f"{name}: {_first_line(name)}", bold=True)
        module = importlib.import_module(f"benchmarks.{name}")
        if write:
            write_down(name, module.measure())
        elif isinstance(module.main, click.Command):
            module.main.main(args=[], standalone_mode=False)
        else:
            module.main([])


def write_down(name: str, figures: Sequence[Figure]) -> None:
    """Put figures into the page, and print them. A page without a place for them stays as it is."""
    try:
        page = put_into(PAGE.read_text("utf-8"), name, as_markdown(figures))
    except ValueError as problem:
        raise click.UsageError(str(problem)) from None
    PAGE.write_text(page, "utf-8")
    click.echo(as_text(figures))


def _first_line(name: str) -> str:
    return (importlib.import_module(f"benchmarks.{name}").__doc__ or "").splitlines()[0].split(": `")[0]


if __name__ == "__main__":
    main(prog_name="python -m benchmarks")
