"""The command line: ``pathsim check CELL``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pathsim.errors import PathsimError
from pathsim.findings import Level

if TYPE_CHECKING:
    from pathsim.check import CheckResult
    from pathsim.model import Cell

CLEAR, FOUND, COULD_NOT = 0, 1, 2
_INTERRUPTED = 130
#: Width of tables when the output is no terminal.
_PLAIN_WIDTH = 110

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="Preview a taught arc-welding path: guaranteed clearance, wrist zones and limits.",
    epilog="A preview of the model supplied, not a safety function. First run slow, arc off.",
)


@app.callback()
def _pathsim() -> None:
    """Keep 'check' a command of its own, so that others can stand beside it."""


@app.command()
def check(
    cell: Annotated[Path, typer.Argument(help="The cell folder, with cell.yaml in it.")],
    json: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write the whole result here.")
    ] = None,
    fail_on: Annotated[
        Level, typer.Option("--fail-on", help="Exit with 1 from this level of finding on.")
    ] = Level.WATCH,
) -> None:
    """Check every move of a cell's program against everything that stands in the cell.

    Exit code 0: clear. 1: findings at or above the level. 2: could not check, the reason
    is on standard error.
    """
    from rich.console import Console

    from pathsim.report import print_result, result_as_json

    console = Console(soft_wrap=False)
    if not console.is_terminal:
        console = Console(width=_PLAIN_WIDTH)
    result = _checked(cell)
    if json is not None:
        from pathsim.files.atomic_write import write_whole

        write_whole(json, result_as_json(result))
    print_result(result, console)
    raise typer.Exit(FOUND if result.has(fail_on) else CLEAR)


def _checked(folder: Path) -> CheckResult:
    """Load and check, with a bar on a terminal's standard error."""
    from rich.console import Console
    from rich.progress import Progress

    from pathsim.files import load_cell

    messages = Console(stderr=True)
    if not messages.is_terminal:
        return _run(load_cell(folder))
    with Progress(console=messages, transient=True) as bar:
        task = bar.add_task("reading the cell", total=1.0)
        cell = load_cell(folder)
        return _run(cell, lambda text, share: bar.update(task, description=text, completed=share))


def _run(cell: Cell, progress: object = None) -> CheckResult:
    from pathsim.check import check as run

    return run(cell, progress=progress)  # type: ignore[arg-type]


def main(arguments: list[str] | None = None) -> int:
    """Run the command line and return its exit code."""
    try:
        code = _exit_code(arguments)
    except PathsimError as error:
        print(f"Could not check: {error}", file=sys.stderr)  # noqa: T201
        return COULD_NOT
    except KeyboardInterrupt:
        code = _INTERRUPTED
    if code == _INTERRUPTED:
        print("Stopped; nothing was written.", file=sys.stderr)  # noqa: T201
    return code


def _exit_code(arguments: list[str] | None) -> int:
    """Run the commands; wrong usage shows itself on standard error and gives 2."""
    try:
        return int(app(arguments, standalone_mode=False) or 0)
    except typer.Exit as leaving:
        return leaving.exit_code
    except Exception as error:
        if hasattr(error, "format_message") and hasattr(error, "show"):
            error.show()
            return COULD_NOT
        raise
