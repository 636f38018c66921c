"""The commands that check a cell and show it: check, view, still, motion."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pathsim.cli.app import app
from pathsim.cli.check import FAIL_ON, check_and_print
from pathsim.cli.console import checked, with_bar
from pathsim.cli.exit_codes import FOUND
from pathsim.errors import CannotCheck
from pathsim.files.contents import input_files
from pathsim.findings import Level
from pathsim.outputs import Output, OutputFile
from pathsim.stopping import signals_as_usual

if TYPE_CHECKING:
    from pathsim.model import Cell


@app.command()
def check(
    cell: Annotated[Path, typer.Argument(help="The cell folder, with cell.yaml in it.")],
    json: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write the whole result here.")
    ] = None,
    fail_on: Annotated[
        Level, typer.Option("--fail-on", help="Exit with 1 from this level of finding on.")
    ] = FAIL_ON,
    brief: Annotated[
        bool,
        typer.Option("--brief", help="Print no tables: the unchecked, findings, verdict."),
    ] = False,
) -> None:
    """Check every move of a cell's program against everything that stands in the cell.

    Exit code 0: clear. 1: findings at or above the level. 2: could not check, the reason
    is on standard error.
    """
    raise typer.Exit(check_and_print(cell, json, fail_on, brief))


@app.command()
def view(
    cell: Annotated[Path, typer.Argument(help="The cell folder, with cell.yaml in it.")],
) -> None:
    """Check a cell and show it in 3D: play the program, go to each finding.

    Saving the cell's files checks it again. Press ? in the window for the keys.
    """
    from pathsim.view.beside import Beside, of_module
    from pathsim.view.opening import open_window

    beside = Beside(of_module("pathsim.cli.beside_window", str(cell)))
    try:
        with signals_as_usual():
            open_window(beside, cell, lambda work: with_bar(work, "reading the cell"))
    finally:
        beside.close()


@app.command()
def still(
    cell: Annotated[Path, typer.Argument(help="The cell folder, with cell.yaml in it.")],
    out: Annotated[Path, typer.Option("-o", "--out", metavar="FILE", help="PNG, or WebP.")],
    at: Annotated[
        str, typer.Option("--at", help="Seconds, 'worst', or 'all' for every view and finding.")
    ] = "worst",
    clip: Annotated[
        bool, typer.Option("--clip", help="Write the whole program as an animated WebP.")
    ] = False,
    size: Annotated[str, typer.Option("--size", help="Width x height in pixels.")] = "1280x800",
) -> None:
    """Check a cell and write pictures of it, without a window."""
    from pathsim.scene import build_scene
    from pathsim.session import Session
    from pathsim.view.probe import begin_off_screen, require_library
    from pathsim.view.stills import picture_size, write_clip, write_stills

    pixels = picture_size(size)
    wanted = ".webp" if clip else ".png"
    if out.suffix.lower() != wanted:
        raise CannotCheck(f"a {'clip' if clip else 'still'} is written as {wanted}, came '{out}'")
    require_library()
    begin_off_screen()
    places: list[OutputFile] = []

    def loaded(read: Cell) -> None:
        kind = Output.CLIP if clip else Output.STILL
        places.append(OutputFile.free(out, kind, input_files(cell, read)))

    session = Session()
    scene = build_scene(checked(cell, session, loaded), session)
    write = write_clip if clip else write_stills
    for path in with_bar(lambda bar: write(scene, at, places[0], pixels, bar)):
        typer.echo(path)


@app.command()
def motion(
    cell: Annotated[Path, typer.Argument(help="The cell folder, with cell.yaml in it.")],
    out: Annotated[Path, typer.Option("-o", "--out", metavar="FILE", help="CSV, or JSON.")],
) -> None:
    """Write the motion at all its knots: time, axes, tip, tip speed, arc on. Checks nothing."""
    from pathsim.files import load_cell
    from pathsim.motion import plan_program
    from pathsim.report.motion_table import motion_as_csv, motion_as_json

    kinds = {
        ".csv": (motion_as_csv, Output.MOTION_TABLE), ".json": (motion_as_json, Output.MOTION),
    }  # fmt: skip
    if out.suffix.lower() not in kinds:
        raise CannotCheck(f"the motion is written as .csv or .json, came '{out}'")
    write, kind = kinds[out.suffix.lower()]
    loaded = load_cell(cell)
    place = OutputFile.free(out, kind, input_files(cell, loaded))
    trajectory = plan_program(loaded)
    place.write(write(loaded, trajectory))
    broken = [track.number for track in trajectory.tracks if track.fault is not None]
    if broken:
        numbers = ", ".join(map(str, broken))
        typer.echo(f"Not laid to their ends: moves {numbers}; run 'pathsim check'.", err=True)
        raise typer.Exit(FOUND)
