# ruff: noqa: E501 - lines of the file that is written
"""A new cell's arm from a robot description file: its description, and two points within limits."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np

from pathsim.arm import Arm
from pathsim.errors import CannotCheck
from pathsim.files.arm_file import read_arm
from pathsim.files.contents import Contents
from pathsim.files.faults import FaultList
from pathsim.files.mesh_source import MeshSource
from pathsim.files.points_header import points_form

#: From one point to the other axis 1 goes so far, rad or m.
_WAY, _WAY_SLIDE = np.radians(15.0), 0.1
#: Joints without limits stand at 0.
_WIDEST = 20.0


def copied_urdf(urdf: Path, folder: Path, aside: Path) -> str:
    """Return the path of a description from the new cell's folder.

    One that lies in the folder that holds the cell is used where it is, with its meshes; any other is
    copied into ``aside`` alone. Raises CannotCheck where it cannot be read.
    """
    if not urdf.is_file():
        raise CannotCheck(f"--urdf '{urdf}' is no file")
    root = folder.resolve().parent
    if urdf.resolve().is_relative_to(root):
        return Path(os.path.relpath(urdf.resolve(), folder.resolve())).as_posix()
    (aside / urdf.name).write_bytes(urdf.read_bytes())
    return urdf.name


def urdf_text(path: str) -> str:
    """Return the arm's description of a robot description file."""
    quoted = "'" + path.replace("'", "''") + "'"
    return f"""# The arm of a robot description file. What that does not say stands here: examples, put in yours.
format: 1
name: my arm
# "tip": its last link, where the file has several ends; "packages": where "package://name/" lies.
urdf: {{file: {quoted}, acceleration: 500 deg/s2, sliding acceleration: 2 m/s2}}
# Of the data sheet: the largest of the tip.
tip: {{speed: 1500 mm/s, acceleration: 3000 mm/s2}}
"""


def urdf_points(aside: Path) -> str:
    """Return a points file with two points of the arm that ``aside`` describes.

    Raises CellFaults where the description cannot be read.
    """
    faults = FaultList()
    meshes = MeshSource(aside.parent, faults, Contents())
    found = read_arm(aside / "arm.yaml", "arm.yaml", meshes, faults)
    faults.raise_if_any()
    if found is None:
        raise CannotCheck("the robot description file cannot be used")
    arm = found.arm
    home = _within(arm, np.zeros(arm.dof))
    away = home.copy()
    away[0] += _WAY_SLIDE if arm.prismatic[0] else _WAY
    form = points_form(arm, None, None, None)
    units = [("mm", 1e-3) if kind == "length" else ("deg", np.pi / 180) for _, kind in form.axes]
    header = [f"{name} {unit}" for (name, _), (unit, _) in zip(form.axes, units, strict=True)]
    lines = [
        "# One taught point a row: joint values as the display shows them.",
        ",".join(["name", *header]),
    ]
    for name, q in (("home", home), ("turned", _within(arm, away))):
        shown = [f"{value / scale:.3f}" for value, (_, scale) in zip(q, units, strict=True)]
        lines.append(",".join([name, *shown]))
    return "\n".join(lines) + "\n"


def _within(arm: Arm, q: np.ndarray) -> np.ndarray:
    """Joints ``(dof,)`` put inside their limits, a tenth of the range away from them."""
    low, high = np.maximum(arm.lower, -_WIDEST), np.minimum(arm.upper, _WIDEST)
    inside = 0.1 * (high - low)
    return np.asarray(np.clip(q, low + inside, high - inside))
