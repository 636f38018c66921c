"""The commands that make a cell and hold it against the real one: arm, new, place, mesh."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from pathsim.cli.app import app
from pathsim.cli.console import ask_for, table_console, typed, with_bar
from pathsim.cli.exit_codes import CLEAR, FOUND
from pathsim.errors import CannotCheck
from pathsim.files.contents import input_files
from pathsim.outputs import Output, OutputFile


@app.command()
def arm(
    cell: Annotated[Path, typer.Argument(help="The cell folder, with cell.yaml in it.")],
    readings: Annotated[
        Path | None,
        typer.Option("--readings", metavar="FILE", help="Rows of joint readings with poses (CSV)."),
    ] = None,
    rotation: Annotated[
        str | None,
        typer.Option(
            "--rotation", help="How poses in the readings turn, as in 'points'; else the cell's."
        ),
    ] = None,
    frame: Annotated[
        str | None, typer.Option("--frame", help="base or world; else the cell's, else base.")
    ] = None,
    shows: Annotated[
        str, typer.Option("--shows", help="Whose pose the display shows: tool or flange.")
    ] = "tool",
    ask: Annotated[
        bool, typer.Option("--ask", help="Ask for posture after posture, and write the readings.")
    ] = False,
    write: Annotated[
        bool, typer.Option("--write", help="Put the cheapest explanation into the description.")
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option("-o", "--out", metavar="FILE", help="Draw the arm at its zero here (PNG)."),
    ] = None,
) -> None:
    """Say an arm's description back in words, and compare it with readings off the display.

    Exit code 0: it agrees, or nothing was compared with it. 1: it does not agree. 2: could not
    be done, the reason is on standard error.
    """
    from pathsim.cli.arm import ArmQuestion, answer

    if ask and readings is None:
        raise CannotCheck("--ask needs --readings: the file that the answers go to")
    if out is not None:
        typer.echo(_arm_drawn(cell, out))
    question = ArmQuestion(cell, readings, rotation, frame, shows, write)
    agrees = answer(question, table_console(), with_bar, typed if ask else None)
    raise typer.Exit(CLEAR if agrees else FOUND)


def _arm_drawn(cell: Path, out: Path) -> Path:
    """Draw the arm of a cell with all joints at 0; return where."""
    from pathsim.files import load_cell
    from pathsim.view.arm_still import write_arm_still
    from pathsim.view.probe import require_library

    if out.suffix.lower() != ".png":
        raise CannotCheck(f"the picture is written as .png, came '{out}'")
    require_library()
    loaded = load_cell(cell)
    place = OutputFile.free(out, Output.STILL, input_files(cell, loaded))
    write_arm_still(loaded, place)
    return place.path


@app.command()
def new(
    cell: Annotated[Path, typer.Argument(help="The cell folder to make; it must not be there.")],
    source: Annotated[
        Path | None, typer.Option("--from", metavar="CELL", help="Copy this cell's folder.")
    ] = None,
    arm: Annotated[
        str | None,
        typer.Option("--arm", help="small, middle, long; or your own: drawing, rows."),
    ] = None,
    stands: Annotated[
        str | None, typer.Option("--stands", help="floor, pedestal or hanging.")
    ] = None,
    torch: Annotated[
        str | None, typer.Option("--torch", help="straight, '22 deg' or '45 deg'.")
    ] = None,
    wire: Annotated[
        str | None, typer.Option("--wire", help="Stick-out with its unit, such as '15 mm'.")
    ] = None,
    around: Annotated[
        list[str] | None,
        typer.Option("--around", help="bench, wall or post; more than once for more."),
    ] = None,
    points: Annotated[
        Path | None, typer.Option("--points", metavar="FILE", help="Points to start from (CSV).")
    ] = None,
    urdf: Annotated[
        Path | None, typer.Option("--urdf", metavar="FILE", help="The arm, in place of --arm.")
    ] = None,
) -> None:
    """Write a commented cell folder that checks at once; asks for what no option says.

    Exit code 0: written. 2: not written, the reason is on standard error.
    """
    from pathsim.cli.new import new_cell

    lines = new_cell(
        cell,
        source,
        arm=arm,
        stands=stands,
        torch=torch,
        wire=wire,
        around=None if around is None else tuple(around),
        points=points,
        urdf=urdf,
        ask=ask_for if sys.stdin.isatty() else None,
    )
    for line in lines:
        typer.echo(line)


@app.command()
def place(
    cell: Annotated[Path, typer.Argument(help="The cell folder, with cell.yaml in it.")],
    what: Annotated[str, typer.Argument(help="A group or body of the cell, or 'torch'.")],
    touches: Annotated[Path, typer.Argument(help="Rows of touched places (CSV).")],
    frame: Annotated[
        str | None,
        typer.Option("--frame", help="base or world: where x, y, z count from; else the points'."),
    ] = None,
    touch: Annotated[
        str, typer.Option("--touch", help="How far a touch may be off, 95 times in 100.")
    ] = "1 mm",
    write: Annotated[
        bool, typer.Option("--write", help="Put place and 'known to' into cell.yaml.")
    ] = False,
    points: Annotated[
        bool, typer.Option("--points", help="Say which weld points are off, and their new values.")
    ] = False,
) -> None:
    """Say where a jig or body stands, or where the torch's tip is, by places that were touched.

    Exit code 0: the touches fit. 1: they do not. 2: could not be done, the reason is on
    standard error.
    """
    from pathsim.cli.place import PlaceQuestion, answer_place

    question = PlaceQuestion(cell, what, touches, frame, touch, write, points)
    fits = answer_place(question, table_console())
    raise typer.Exit(CLEAR if fits else FOUND)


@app.command()
def mesh(
    file: Annotated[Path, typer.Argument(help="STL, OBJ, OFF, PLY, GLB, 3MF or STEP file.")],
    unit: Annotated[
        str, typer.Option("--unit", help="mm, cm, m or in; else the likeliest is taken.")
    ] = "",
    up: Annotated[str, typer.Option("--up", help="y or z: which axis of the file is up.")] = "",
    out: Annotated[
        Path | None, typer.Option("-o", "--out", metavar="FILE", help="Draw it here (PNG).")
    ] = None,
) -> None:
    """Say what a mesh file is: size, unit, triangles, whether it closes, and its line for a cell.

    Exit code 0: it can be used. 2: it cannot, the reason is on standard error.
    """
    from pathsim.cli.mesh import print_mesh

    if out is not None and out.suffix.lower() != ".png":
        raise CannotCheck(f"the picture is written as .png, came '{out}'")
    place = None if out is None else OutputFile.free(out, Output.STILL, (file,))
    found = print_mesh(file, unit, up, table_console())
    if place is not None:
        from pathsim.view.mesh_still import write_mesh_still
        from pathsim.view.probe import require_library

        require_library()
        write_mesh_still(found.mesh, place)
        typer.echo(place.path)
