"""The commands about what to do: advise, explain, sheet."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pathsim.cli.app import app
from pathsim.cli.console import table_console, with_bar
from pathsim.cli.exit_codes import CLEAR, FOUND
from pathsim.errors import CannotCheck
from pathsim.findings import Level
from pathsim.report.paper import Paper


@app.command()
def advise(
    cell: Annotated[Path, typer.Argument(help="The cell folder, with cell.yaml in it.")],
    write: Annotated[
        Path | None,
        typer.Option("--write", metavar="NEW_FOLDER", help="Write a copy with the best cures."),
    ] = None,
    json: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write the advice here.")
    ] = None,
    fail_on: Annotated[
        Level, typer.Option("--fail-on", help="Exit with 1 from this level of finding on.")
    ] = Level.WATCH,
) -> None:
    """Say which points would cure what was found, each checked with the whole program.

    Exit codes are those of 'check', about the cell as it is. 0: clear. 1: findings at or above
    the level. 2: could not be done, the reason is on standard error.
    """
    from pathsim.cli.advise import AdviceQuestion, print_advice

    question = AdviceQuestion(cell, write, json)
    result = print_advice(question, table_console(), lambda work: with_bar(work, "trying points"))
    raise typer.Exit(FOUND if result.has(fail_on) else CLEAR)


@app.command()
def explain(
    cell: Annotated[Path, typer.Argument(help="The cell folder, with cell.yaml in it.")],
    finding: Annotated[
        str | None,
        typer.Argument(help="Its number in the list of 'pathsim check'; a page needs none."),
    ] = None,
    page: Annotated[
        Path | None,
        typer.Option("--page", metavar="FILE", help="Write all findings, explained, as HTML."),
    ] = None,
) -> None:
    """Say why a finding came about, for people who learn it, and what cures it."""
    if page is not None:
        from pathsim.cli.explain import write_and_print

        raise typer.Exit(write_and_print(cell, finding, page))
    if finding is None:
        raise CannotCheck(
            f"which finding? give its number ('pathsim check {cell}' numbers them), or --page "
            "FILE.html for all of them"
        )
    from pathsim.cli.advise import print_explanation

    print_explanation(cell, finding, table_console())


@app.command()
def sheet(
    cell: Annotated[Path, typer.Argument(help="The cell folder, with cell.yaml in it.")],
    out: Annotated[Path, typer.Option("-o", "--out", metavar="FILE", help="PDF, or HTML.")],
    override: Annotated[
        float | None,
        typer.Option(
            "--override", min=1, max=100, help="Speed of the first run, %; or the cell's."
        ),
    ] = None,
    stills: Annotated[bool, typer.Option(help="Pictures of the moments to stand by.")] = True,
    paper: Annotated[Paper, typer.Option(help="What it is printed on.")] = Paper.A4,
) -> None:
    """Check a cell and write the sheet that goes to the first run.

    Exit code 0: written, and no stop finding. 1: written, with stop findings. 2: not written.
    """
    from pathsim.cli.sheet import write_and_print

    share = None if override is None else override / 100
    raise typer.Exit(write_and_print(cell, out, share, stills=stills, paper=paper))
