"""Values and speeds of axes in words: degrees for turning ones, millimetres for slides."""

from __future__ import annotations

from pathsim.model import Cell
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
