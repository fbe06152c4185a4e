"""`reviewer doctor`: what works on this machine."""

from __future__ import annotations

import json
from dataclasses import asdict

import click

from reviewer.commands.terminal import console, say


@click.command()
@click.option("--json", "as_json", is_flag=True, help="One JSON object a line.")
def doctor(as_json: bool) -> None:
    """Say what works on this machine and what to do about the rest.

    Ends with exit code 0 when notes can be graded and reviewed, else with 2.
    """
    from reviewer.doctor import findings, works

    out = console()
    found = []
    for finding in findings():
        found.append(finding)
        if as_json:
            click.echo(json.dumps(asdict(finding)))
            continue
        sign, style = ("ok", "green") if finding.ok else ("NO" if finding.needed else "no", "red")
        out.print(f"{sign:3}", style=style, end="")
        say(out, f"{finding.name:15}{finding.about}", wrap=False)
    if not works(found):
        if not as_json:
            out.print("Notes cannot be graded before what is marked NO is put right.")
        raise click.exceptions.Exit(2)
    if not as_json:
        out.print("Notes can be graded and reviewed.")
