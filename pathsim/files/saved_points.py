"""Points as the text of a points file that brings them back."""

from __future__ import annotations

import csv
import io

import numpy as np

from pathsim.errors import CannotCheck
from pathsim.files.exact_numbers import text
from pathsim.files.points_header import PLACE, about_column, points_form, turn_columns
from pathsim.model import Cell, Point
from pathsim.transforms import inverse, quat_wxyz_from_rotation

#: How poses are written: no convention of angles is exact in every rotation.
ROTATION, FRAME = "quaternion w-x-y-z", "base"
_UNITS = {"angle": "rad", "length": "m"}


def points_text(cell: Cell) -> str:
    """Return the points of a cell as CSV, one row each, in rad and m."""
    form = points_form(cell.arm, cell.table, ROTATION, FRAME)
    points = [point for point in cell.points.values() if not point.derived]
    has_axes = any(p.q is not None for p in points)
    has_held = any(p.held is not None for p in points)
    axes = [a for a in form.axes if has_axes or (has_held and a[0] in form.held)]
    has_pose = any(p.T_base_tcp is not None for p in points)
    pose = (*PLACE, *turn_columns(ROTATION)) if has_pose else ()
    rough = {joint: about_column(name) for name, joint in _about(form.about)}
    asked = sorted({joint for p in points for joint, _ in p.about})
    unknown = [joint for joint in asked if joint not in rough]
    if unknown:
        raise CannotCheck(f"no points file has rough values for {cell.axes.names[unknown[0]]}")
    header = ["name", *(f"{name} {_UNITS[kind]}" for name, kind in axes)]
    header += [f"{name} m" if name in PLACE else name for name in pose]
    header += [f"{rough[joint]} rad" for joint in asked] + ["posture"]
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(header)
    for point in points:
        values = _axes(cell, point, form.names, form.held)
        cells = [values.get(name, "") for name, _ in axes]
        cells += _pose(cell, point) if has_pose else []
        about = dict(point.about)
        cells += [text(about[joint]) if joint in about else "" for joint in asked]
        writer.writerow([point.name, *cells, str(point.posture) if point.posture else ""])
    return stream.getvalue()


def _about(columns: dict[str, int]) -> list[tuple[str, int]]:
    """Return axis names with the joint of each column of rough values."""
    return [(name.removeprefix(about_column("")), joint) for name, joint in columns.items()]


def _axes(
    cell: Cell, point: Point, names: tuple[str, ...], held: tuple[str, ...]
) -> dict[str, str]:
    """Return what the display shows of a point's axes, by column."""
    if point.q is not None:
        dof = cell.arm.dof
        shown = [*cell.arm.readings.shown(point.q[:dof]), *point.q[dof:]]
        return {name: text(value) for name, value in zip(names, shown, strict=True)}
    if point.held is None:
        return {}
    values = np.array(point.held)
    arm = cell.arm
    if arm.held is not None and not arm.readings.is_identity:
        mix, zero = arm.readings.mix[arm.held, arm.held], arm.readings.zero[arm.held]
        values[0] = (values[0] - zero) / mix
    return {name: text(value) for name, value in zip(held, values, strict=True)}


def _pose(cell: Cell, point: Point) -> list[str]:
    """Return place and rotation of a point's pose as the display shows them; blanks without one."""
    if point.T_base_tcp is None:
        return [""] * 7
    shown = cell.arm.readings.T_base_shown
    T = point.T_base_tcp
    if not np.array_equal(shown, np.eye(4)):
        T = inverse(shown) @ T
    return [text(value) for value in (*T[:3, 3], *quat_wxyz_from_rotation(T[:3, :3]))]
