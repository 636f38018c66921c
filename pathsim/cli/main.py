"""The command line: ``pathsim check``, ``view``, ``advise``, ``sheet`` and the others."""

from __future__ import annotations

import gc
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pathsim import __version__
from pathsim.cli.console import ask_for, checked, table_console, with_bar
from pathsim.errors import CannotCheck, PathsimError
from pathsim.files.contents import input_files
from pathsim.findings import Level
from pathsim.outputs import Output, OutputFile
from pathsim.stopping import Stopped, signals_as_usual, stopped_by_signals

if TYPE_CHECKING:
    from pathsim.model import Cell

CLEAR, FOUND, COULD_NOT = 0, 1, 2
_BY_SIGNAL, _INTERRUPTED = 128, 130
#: How many new things until garbage is looked for: a command ends before it has made much.
_SELDOM = (50_000, 20, 100)

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


@app.command()
def check(
    cell: Annotated[Path, typer.Argument(help="The cell folder, with cell.yaml in it.")],
    json: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write the whole result here.")
    ] = None,
    fail_on: Annotated[
        Level, typer.Option("--fail-on", help="Exit with 1 from this level of finding on.")
    ] = Level.WATCH,
    brief: Annotated[
        bool,
        typer.Option("--brief", help="Print no tables: the unchecked, findings, verdict."),
    ] = False,
) -> None:
    """Check every move of a cell's program against everything that stands in the cell.

    Exit code 0: clear. 1: findings at or above the level. 2: could not check, the reason
    is on standard error.
    """
    from pathsim.report import print_brief, print_result, result_as_json

    places: list[OutputFile] = []

    def loaded(read: Cell) -> None:
        if json is not None:
            places.append(OutputFile.free(json, Output.RESULT, input_files(cell, read)))

    result = checked(cell, loaded=loaded)
    for place in places:
        place.write(result_as_json(result))
    (print_brief if brief else print_result)(result, table_console())
    raise typer.Exit(FOUND if result.has(fail_on) else CLEAR)


@app.command()
def view(
    cell: Annotated[Path, typer.Argument(help="The cell folder, with cell.yaml in it.")],
) -> None:
    """Check a cell and show it in 3D: play the program, go to each finding.

    Saving the cell's files checks it again. Press ? in the window for the keys.
    """
    from pathsim.view.probe import require_window

    require_window()
    from pathsim.session import Session
    from pathsim.view.window import view_cell

    session = Session()
    with signals_as_usual():
        view_cell(lambda: checked(cell, session), cell, session)


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
    write: Annotated[
        bool, typer.Option("--write", help="Put the cheapest explanation into the description.")
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option("-o", "--out", metavar="FILE", help="Draw the arm at its zero here (PNG)."),
    ] = None,
) -> None:
    """Say an arm's description back in words, and hold it against readings off the display.

    Exit code 0: it agrees, or nothing was held against it. 1: it does not agree. 2: could not
    be done, the reason is on standard error.
    """
    from pathsim.cli.arm import ArmQuestion, answer

    if out is not None:
        typer.echo(_arm_drawn(cell, out))
    question = ArmQuestion(cell, readings, rotation, frame, shows, write)
    agrees = answer(question, table_console(), with_bar)
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
        from pathsim.cli.explain import write_explain_page

        typer.echo(
            write_explain_page(cell, finding, page, lambda work: with_bar(work, "explaining"))
        )
        return
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
) -> None:
    """Check a cell and write the sheet that goes to the first run.

    Exit code 0: written, and no stop finding. 1: written, with stop findings. 2: not written.
    """
    from pathsim.cli.sheet import write_sheet

    share = None if override is None else override / 100
    path, is_stop = write_sheet(
        cell, out, share, stills=stills, with_bar=lambda work: with_bar(work, "checking")
    )
    typer.echo(path)
    raise typer.Exit(FOUND if is_stop else CLEAR)


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
        str, typer.Option("--frame", help="base or world: where x, y, z are counted from.")
    ] = "base",
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


def main(arguments: list[str] | None = None) -> int:
    """Run the command line and return its exit code."""
    gc.set_threshold(*_SELDOM)
    try:
        with stopped_by_signals() as came:
            code = _exit_code(arguments, came)
            code = _BY_SIGNAL + came[0] if came else code
    except PathsimError as error:
        print(f"Could not check: {error}", file=sys.stderr)  # noqa: T201
        return COULD_NOT
    except KeyboardInterrupt:
        code = _INTERRUPTED
    except Stopped as stopped:
        code = stopped.exit_code
    if code >= _BY_SIGNAL:
        print("Stopped. No file was left half written.", file=sys.stderr)  # noqa: T201
    return code


def _exit_code(arguments: list[str] | None, came: list[int]) -> int:
    """Run the commands; wrong usage shows itself on standard error and gives 2.

    ``came``: signals so far; an error after one of them is only what the signal broke.
    """
    try:
        return int(app(arguments, standalone_mode=False) or 0)
    except typer.Exit as leaving:
        return leaving.exit_code
    except PathsimError:
        raise  # main says it as it is
    except Exception as error:
        if hasattr(error, "format_message") and hasattr(error, "show"):
            error.show()
            return COULD_NOT
        if came:
            raise Stopped(came[0]) from error
        # An error that nobody foresaw must not look like "findings" (1) or "clear" (0).
        what = " ".join(str(error).split())
        print(f"Could not check: unforeseen {type(error).__name__}: {what}", file=sys.stderr)  # noqa: T201
        return COULD_NOT
