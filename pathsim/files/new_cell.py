# ruff: noqa: E501 - lines of the files that are written
"""A new cell folder that checks at once: an arm, a torch, what stands around, two points."""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass
from pathlib import Path

from pathsim.errors import CannotCheck, UnitError
from pathsim.files.cell_folder import load_cell
from pathsim.files.cell_writer import folder_aside
from pathsim.files.contents import CELL_FILE
from pathsim.files.ready_made import ARMS, ROWS_TEXT, TORCHES, arm_text, torch_text
from pathsim.files.urdf_start import copied_urdf, urdf_points, urdf_text
from pathsim.model import Cell
from pathsim.units import parse, units_of

#: Own arms, by the form in which their numbers come.
OWN_ARMS = ("drawing", "rows")
STANDS = ("floor", "pedestal", "hanging")
AROUND = ("bench", "wall", "post")
#: Height of a pedestal, and of what an arm hangs from, mm.
_PEDESTAL, _GIRDER = 500, 2400
#: How far from axis 1 the bench stands, mm, by arm.
_BENCH_AT = {"small": 700, "middle": 1050, "long": 1450, "drawing": 1050, "rows": 1050}


@dataclass(frozen=True)
class NewCell:
    """What a new cell shall have; words as in ``ARMS``, ``TORCHES``, ``STANDS``, ``AROUND``.

    ``wire``: stick-out with its unit. ``points``: a points file to start from. ``urdf``: a robot
    description file that takes the place of ``arm``.
    """

    arm: str = "middle"
    stands: str = "pedestal"
    torch: str = "45 deg"
    wire: str = "15 mm"
    around: tuple[str, ...] = ("bench",)
    points: Path | None = None
    urdf: Path | None = None


def write_new_cell(folder: Path, wanted: NewCell) -> Cell:
    """Write a cell folder that is not there yet; return it as it loads.

    Raises CannotCheck or CellFaults, and then nothing is left behind.
    """
    _require_known(wanted)
    name = require_new(folder)
    with folder_aside(folder.resolve().parent, name) as aside:
        if wanted.urdf is not None:
            _write(aside / "arm.yaml", urdf_text(copied_urdf(wanted.urdf, folder, aside)))
        else:
            arm = ROWS_TEXT if wanted.arm == "rows" else _arm_text(wanted.arm)
            _write(aside / "arm.yaml", arm)
        _write(aside / "torch.yaml", torch_text(TORCHES[wanted.torch][0]))
        names = _points(aside, wanted)
        _write(aside / CELL_FILE, _cell_text(folder.name, wanted, names))
        cell = load_cell(aside)
        aside.rename(folder)
    return cell


def copy_cell(folder: Path, other: Path) -> Cell:
    """Copy a cell's own folder to one beside it; return the copy as it loads.

    Raises CannotCheck or CellFaults, and then nothing is left behind.
    """
    load_cell(other)
    name = require_new(folder)
    source = (other.parent if other.name == CELL_FILE else other).resolve()
    if folder.resolve().parent != source.parent:
        raise CannotCheck(
            f"'{folder}' does not lie beside '{source.name}', whose paths are relative to its "
            f"folder; give a name such as '{other.parent / (source.name + '_new')}'"
        )
    with folder_aside(source.parent, name) as aside:
        shutil.copytree(source, aside, dirs_exist_ok=True)
        cell = load_cell(aside)
        aside.rename(folder)
    return cell


def require_new(folder: Path) -> str:
    """Require that a folder is not there, but the one that holds it is; return its name."""
    if os.path.lexists(folder):
        raise CannotCheck(f"'{folder}' exists already; give the name of a new folder")
    if not folder.resolve().parent.is_dir():
        raise CannotCheck(f"the folder '{folder.resolve().parent}' does not exist; make it first")
    return folder.resolve().name


def _require_known(wanted: NewCell) -> None:
    try:
        parse(wanted.wire, "length")
    except UnitError as error:
        units = units_of("length")
        raise CannotCheck(f"--wire: {error.came}; give a number and a unit ({units})") from error
    for what, word, words in (
        ("arm", wanted.arm, (*ARMS, *OWN_ARMS)),
        ("torch", wanted.torch, tuple(TORCHES)),
        ("stands", wanted.stands, STANDS),
        *(("around", one, AROUND) for one in wanted.around),
    ):
        if word not in words:
            raise CannotCheck(f"--{what} '{word}' is not known; give one of: {', '.join(words)}")


def _arm_text(arm: str) -> str:
    is_own = arm in OWN_ARMS
    return arm_text(ARMS["middle" if is_own else arm], is_own=is_own)


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")


def _points(aside: Path, wanted: NewCell) -> list[str]:
    """Write the points file; return the names that the program goes by."""
    if wanted.points is None and wanted.urdf is not None:
        _write(aside / "points.csv", urdf_points(aside))
        return ["home", "turned"]
    if wanted.points is None:
        text = (
            "# One taught point a row: joint values as the display shows them, or poses, or both.\n"
            "name,j1 deg,j2 deg,j3 deg,j4 deg,j5 deg,j6 deg\n"
            "home,30,-30,20,0,60,0\n"
            "over the bench,0,-15,15,0,60,0\n"
        )
        _write(aside / "points.csv", text)
        return ["home", "over the bench"]
    try:
        raw = wanted.points.read_bytes()
    except OSError as error:
        raise CannotCheck(f"'{wanted.points}' cannot be read ({error.strerror})") from error
    (aside / "points.csv").write_bytes(raw)
    return _names_in(raw)


def _names_in(raw: bytes) -> list[str]:
    """First two names in a points file whose header has a column ``name``."""
    from pathsim.files.value_table import is_blank, open_table

    reader, _ = open_table(raw.decode("utf-8-sig", errors="replace"))
    rows = [cells for cells in reader if not is_blank(cells)]
    head = [cell.strip().lower() for cell in rows[0]] if rows else []
    if "name" not in head:
        raise CannotCheck("the points file has no column 'name': see docs/files.md, points.csv")
    place = head.index("name")
    names = [row[place].strip() for row in rows[1:3] if len(row) > place]
    if len(names) < 2 or not all(names):
        raise CannotCheck("the points file holds fewer than two named points")
    return names


def _cell_text(name: str, wanted: NewCell, names: list[str]) -> str:
    """Return ``cell.yaml`` with a comment at everything that is to be filled in."""
    at, turned = {
        "floor": ("0 0 0 mm", "0 0 0 deg"),
        "pedestal": (f"0 0 {_PEDESTAL} mm", "0 0 0 deg"),
        "hanging": (f"0 0 {_GIRDER} mm", "180 0 0 deg"),
    }[wanted.stands]
    to_do = ["arm", "torch", "bodies", "points", "program"]
    bodies = "\n".join(_bodies(wanted))
    start, *others = [_yaml_text(one) for one in names]
    moves = [f"  - {{joint: {one}, speed: 40 %}}" for one in (*others, start)]
    return f"""# {name}: written by 'pathsim new'. Every number is an example till you put in yours.
# docs/files.md explains each key; 'pathsim check' says what is next.
format: 1
name: {_yaml_text(name.replace("_", " "))}

# What is not yet yours. Strike out each word when it is done.
to do: [{", ".join(to_do)}]

# "at": where the base stands; "turned": about the fixed x, then y, then z axis.
arm:   {{description: arm.yaml, at: {at}, turned: {turned}}}
torch: {{description: torch.yaml, wire: {wanted.wire}}}   # wire: the stick-out

# All that the arm could hit, with the numbers of a tape measure, or "mesh: FILE, unit: mm".
# Role "part" is what you weld: the wire may touch it.
bodies:
{bodies}
#  - {{name: my part,  role: part,  tube: {{width: 60 mm, height: 40 mm, wall: 3 mm, length: 400 mm}}, at: 1000 0 750 mm}}
#  - {{name: my clamp, role: clamp, toggle clamp: {{reach: 90 mm, height: 120 mm, width: 40 mm, base: 60 mm, arm: 40 mm, pad height: 0 mm}}, at: 900 100 750 mm}}

points: {{file: points.csv}}

# Clearance that you ask for: in the air, and on seams.
margins: {{air: 10 mm, seam: 1.5 mm}}

program:
  - start: {start}
{chr(10).join(moves)}
#  - {{linear: weld start, speed: 60 mm/s}}
#  - {{seam: weld end, speed: 6 mm/s}}
"""


def _yaml_text(text: str) -> str:
    """Write a text so that YAML reads it as one."""
    return "'" + text.replace("'", "''") + "'"


def _bodies(wanted: NewCell) -> list[str]:
    """Lines of ``bodies``: the floor, what the arm stands on, and what was asked for."""
    floor = "box: {length: 4 m, width: 4 m, height: 50 mm}, at: 0 0 -50 mm"
    lines = [f"  - {{name: floor, role: other, {floor}}}"]
    if wanted.stands == "pedestal":
        sizes = "{height: 500 mm, column: 250 mm, plate: 400 mm, thickness: 25 mm}"
        lines.append(f"  - {{name: pedestal, role: other, pedestal: {sizes}, at: 0 0 0 mm}}")
    if wanted.stands == "hanging":
        sizes = "{width: 300 mm, height: 290 mm, web: 9 mm, flange: 14 mm, length: 3 m}"
        lines.append(f"  - {{name: girder, role: other, beam: {sizes}, at: 0 0 {_GIRDER} mm}}")
    # A bench that an arm on the floor looks over is a low one, and stands farther away.
    x, top = _BENCH_AT[wanted.arm], 750
    if wanted.stands == "floor":
        x, top = x + 150, 250
    known = {
        "bench": (
            "bench",
            "table",
            f"bench: {{length: 900 mm, width: 1200 mm, height: {top} mm, thickness: 50 mm, "
            f"leg: 80 mm}}, at: {x} 0 0 mm",
        ),
        "wall": (
            "wall",
            "other",
            "wall: {length: 3 m, height: 2.2 m, thickness: 50 mm}, at: 0 1900 0 mm",
        ),
        "post": (
            "post",
            "other",
            "cylinder: {diameter: 200 mm, length: 3 m}, at: -1800 -1800 0 mm",
        ),
    }
    for word in dict.fromkeys(wanted.around):
        name, role, shape = known[word]
        lines.append(f"  - {{name: {name}, role: {role}, {shape}}}")
    return lines
