"""Every measurement that the project promises, or some of them by name: `python -m benchmarks [NAME…]`."""

from __future__ import annotations

import importlib
import pkgutil

import click

import benchmarks


def names() -> list[str]:
    """The measurements there are: the modules of this package, each with a `main`."""
    found = (module.name for module in pkgutil.iter_modules(benchmarks.__path__))
    return sorted(name for name in found if not name.startswith("_"))


@click.command()
@click.argument("chosen", nargs=-1, metavar="[NAME]…", type=click.Choice(names()))
def main(chosen: tuple[str, ...]) -> None:
    """Run the measurements named, or all of them, each as `python -m benchmarks.NAME` would."""
    for name in chosen or names():
        click.secho(f"{name}: {_first_line(name)}", bold=True)
        run = importlib.import_module(f"benchmarks.{name}").main
        if isinstance(run, click.Command):
            run.main(args=[], standalone_mode=False)
        else:
            run([])


def _first_line(name: str) -> str:
    return (importlib.import_module(f"benchmarks.{name}").__doc__ or "").splitlines()[0].split(": `")[0]


if __name__ == "__main__":
    main(prog_name="python -m benchmarks")
