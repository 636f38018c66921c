"""What all commands hang on."""

from __future__ import annotations

from typing import Annotated

import typer

from pathsim import __version__

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="Preview a taught arc-welding path: guaranteed clearance, wrist zones and limits.",
    epilog="A preview of the model supplied, not a safety function. First run slow, arc off.",
)


def _say_version(asked: bool) -> None:
    if asked:
        typer.echo(f"pathsim {__version__}")
        raise typer.Exit


@app.callback()
def program(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_say_version, is_eager=True, help="Say the version."),
    ] = False,
) -> None:
    """Take the options of the program itself; the version is said before any command is read."""
