"""Values and speeds of axes in words: degrees for turning ones, millimetres for slides."""

from __future__ import annotations

import numpy as np

from pathsim.arm import Arm
from pathsim.model import Cell, Point
from pathsim.transforms import Array
from pathsim.units import degrees, millimetres


def axis_name(cell: Cell, axis: int) -> str:
    """Name of an axis at the start of a sentence."""
    name = cell.axes.names[axis]
    return name[0].upper() + name[1:]


def axis_value(cell: Cell, axis: int, value: float, digits: int = 1) -> str:
    """Say a position of an axis."""
    return (millimetres if cell.axes.prismatic[axis] else degrees)(value, digits)


def axis_speed(cell: Cell, axis: int, value: float) -> str:
    """Say a speed of an axis."""
    return f"{axis_value(cell, axis, value, 0)}/s"


def on_display(cell: Cell, axis: int, q: Array) -> str:
    """Say in brackets what the display shows there, where it counts otherwise than the model."""
    arm = cell.arm
    if axis >= arm.dof or arm.readings.is_identity:
        return ""
    shown = float(arm.readings.shown(q[: arm.dof])[axis])
    return f" ({axis_value(cell, axis, shown)} on the display)"


def column_name(arm: Arm, joint: int) -> str:
    """Return what a points file calls a joint of the arm."""
    if arm.has_rail:
        return "rail" if joint == 0 else f"j{joint}"
    return f"j{joint + 1}"


def joint_values(cell: Cell, q: Array) -> str:
    """Say the joints that a pose leaves open as the display shows them: ``j1 -7.8, j2 1.8 deg``."""
    arm = cell.arm
    shown = arm.readings.shown(q[: arm.dof])
    said = {True: [], False: []}  # type: dict[bool, list[str]]
    for joint, value in enumerate(shown):
        if joint != arm.held:
            slides = bool(arm.prismatic[joint])
            number = f"{round((1e3 if slides else np.degrees(1.0)) * value, 1) + 0.0:.1f}"
            said[slides].append(f"{column_name(arm, joint)} {number}")
    parts = [(", ".join(said[True]), "mm"), (", ".join(said[False]), "deg")]
    return ", ".join(f"{text} {unit}" for text, unit in parts if text)


def asked_for(cell: Cell, point: Point) -> str:
    """Say the posture that a point asks for: ``ahead high plus, j6 about -170 deg``."""
    about = [f"{column_name(cell.arm, joint)} about {degrees(value, 0)}"
             for joint, value in point.about]  # fmt: skip
    return ", ".join([*([str(point.posture)] if point.posture else []), *about])
