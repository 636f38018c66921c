"""The motion as a table for plotting: CSV or JSON, a row a knot."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

import numpy as np

from pathsim.caution import CAUTION
from pathsim.model import Cell
from pathsim.motion import Trajectory
from pathsim.transforms import quat_wxyz_from_rotation

NAME, VERSION = "pathsim-motion", 1
#: What the numbers are counted in; a display may count joints otherwise.
COUNTED = (
    "Joints as the arm's model counts them, not as its display; the tip in the world, its turn as "
    "a quaternion w-x-y-z."
)


def motion_columns(cell: Cell) -> list[str]:
    """Names of the columns, with their units."""
    axes = [
        f"{name.removeprefix('the ')} {'mm' if slides else 'deg'}"
        for name, slides in zip(cell.axes.names, cell.axes.prismatic, strict=True)
    ]
    tip = ["x mm", "y mm", "z mm", "qw", "qx", "qy", "qz", "tip mm/s"]
    return ["t s", "move", *axes, *tip, "arc on"]


def motion_rows(cell: Cell, trajectory: Trajectory) -> list[list[float]]:
    """Rows at all knots. The tip is in the world; its speed is that on the part, behind each knot.

    Between knots every axis moves evenly. The arc burns from the end of a seam's
    preflow to the end of its crater time and burnback, not in postflow or a wait after it.
    """
    rows: list[list[float]] = []
    scale = np.where(cell.axes.prismatic, 1e3, np.degrees(1.0))
    for track in trajectory.tracks:
        T = cell.tool_poses(track.q)
        quat = quat_wxyz_from_rotation(T[:, :3, :3])
        tips = cell.tips_on_part(track.q)
        way = np.linalg.norm(np.diff(tips, axis=0), axis=1)
        speed = np.append(way / np.diff(track.t), 0.0)
        arc_ends = track.arc_start + track.arc_seconds
        for k, time in enumerate(track.t):
            burning = track.move.arc_on and track.arc_start - 1e-9 <= time <= arc_ends + 1e-9
            rows.append(
                [
                    round(float(time), 9), float(track.number),
                    *(round(float(v), 9) for v in track.q[k] * scale),
                    *(round(float(v) * 1e3, 6) for v in T[k, :3, 3]),
                    *(round(float(v), 9) for v in quat[k]),
                    round(float(speed[k]) * 1e3, 6), float(burning),
                ]
            )  # fmt: skip
    return rows


def motion_as_csv(cell: Cell, trajectory: Trajectory) -> str:
    """Return the motion as CSV with a comment line that says what it is."""
    stream = io.StringIO()
    stream.write(f"# {NAME} {VERSION}: {cell.name}. {COUNTED} {CAUTION}\n")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(motion_columns(cell))
    for row in motion_rows(cell, trajectory):
        writer.writerow([row[0], int(row[1]), *row[2:-1], int(row[-1])])
    return stream.getvalue()


def motion_as_json(cell: Cell, trajectory: Trajectory) -> str:
    """Return the motion as JSON: columns once, then rows."""
    document: dict[str, Any] = {
        "format": NAME,
        "version": VERSION,
        "counted": COUNTED,
        "caution": CAUTION,
        "cell": {"name": cell.name, "sha256": cell.fingerprint},
        "columns": motion_columns(cell),
        "rows": motion_rows(cell, trajectory),
    }
    return json.dumps(document, ensure_ascii=False, allow_nan=False) + "\n"
