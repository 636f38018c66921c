"""An arm and a torch as the description files that bring them back."""

from __future__ import annotations

from typing import Any

import numpy as np

from pathsim.arm import Arm
from pathsim.errors import CannotCheck
from pathsim.files.exact_numbers import fixed_angles, text
from pathsim.files.mesh_writer import MeshFolder
from pathsim.model import Cell, Mesh
from pathsim.transforms import Array, rotation_from_angles

#: So much of a rotation may get lost in its angles: rounding, and no more.
LOST = 1e-12


def arm_document(cell: Cell, meshes: MeshFolder) -> dict[str, Any]:
    """Return the arm description of a cell; raises CannotCheck for what one cannot say."""
    arm = cell.arm
    document: dict[str, Any] = {
        "format": 1,
        "name": arm.name,
        "chain": [
            {"axis": _frame(axis), "link": _frame(link)}
            for axis, link in zip(arm.fixed, arm.ends, strict=True)
        ],
        "joints": [_joint(arm, joint) for joint in range(arm.dof)],
    }
    if arm.held is not None:
        document["held joint"] = int(arm.held) + 1
    document["tip"] = {
        "speed": f"{text(cell.tip_speed)} m/s",
        "acceleration": f"{text(cell.tip_acceleration)} m/s2",
    }
    if np.isfinite(cell.tip_jerk):
        document["tip"]["jerk"] = f"{text(cell.tip_jerk)} m/s3"
    document["links"] = _links(cell, meshes)
    if cell.natural_frequency is not None:
        document["natural frequency"] = f"{text(cell.natural_frequency)} Hz"
    readings = _readings(arm)
    if readings:
        document["readings"] = readings
    return document


def _frame(T: Array) -> dict[str, Any]:
    return {"at": f"{text(T[:3, 3])} m", "rows": [float(v) for v in T[:3, :3].ravel()]}


def _joint(arm: Arm, joint: int) -> dict[str, Any]:
    slides = bool(arm.prismatic[joint])
    unit = "m" if slides else "rad"
    span = np.array([arm.lower[joint], arm.upper[joint]])
    if arm.shown_limits is not None:
        span = arm.shown_limits[joint]
    known = {
        "limits": (span, unit),
        "speed": (arm.speed[joint], f"{unit}/s"),
        "acceleration": (arm.acceleration[joint], f"{unit}/s2"),
    }
    entry: dict[str, Any] = {"moves": "slides"} if slides else {}
    for name, (value, of) in known.items():
        if not np.isfinite(value).all():
            what = "no " + name if name == "limits" else f"no largest {name}"
            raise CannotCheck(
                f"{arm.joint_name(joint)} has {what}, which an arm description has to say. Give "
                f"the arm its {name} first"
            )
        entry[name] = f"{text(value)} {of}"
    if np.isfinite(arm.jerk[joint]):
        entry["jerk"] = f"{text(arm.jerk[joint])} {unit}/s3"
    return entry


def _readings(arm: Arm) -> dict[str, Any]:
    readings = arm.readings
    entry: dict[str, Any] = {}
    if arm.shown_limits is not None:
        entry["limits"] = "as displayed"
    joints = [_reading(arm, j) for j in range(arm.dof)]
    entry |= (
        {"joints": [j for j in joints if len(j) > 1]} if any(len(j) > 1 for j in joints) else {}
    )
    if not np.array_equal(readings.T_base_shown, np.eye(4)):
        entry["poses from"] = placed(readings.T_base_shown, "the frame of displayed poses")
    return entry


def _reading(arm: Arm, joint: int) -> dict[str, Any]:
    """Return how the display counts one joint; just its number where it counts as the model."""
    mix, zero = arm.readings.mix[joint], float(arm.readings.zero[joint])
    others = [int(k) for k in np.flatnonzero(mix) if k != joint]
    entry: dict[str, Any] = {"joint": joint + 1}
    name = arm.joint_name(joint)
    if len(others) > 1:
        raise CannotCheck(
            f"the display couples {name} to {len(others)} others; an arm description has one"
        )
    if abs(mix[joint]) != 1.0:
        raise CannotCheck(
            f"the display counts {name} by {mix[joint]:g}; an arm description has 1 or -1"
        )
    if zero and arm.prismatic[joint]:
        raise CannotCheck(
            f"the display has another zero for {name}, which slides; an arm description has zeros "
            "of turning joints only"
        )
    if mix[joint] < 0:
        entry["sign"] = -1
    if zero:
        entry["zero"] = f"{text(zero)} rad"
    if others:
        entry |= {"coupled to": others[0] + 1, "coupling": float(mix[others[0]])}
    return entry


def _links(cell: Cell, meshes: MeshFolder) -> dict[str, Any]:
    shapes = [_link(cell, k, mesh, meshes) for k, mesh in enumerate(cell.link_meshes)]
    entry: dict[str, Any] = {"drawn in": "link frames", "unit": "m", "shapes": shapes}
    if cell.approximate_links:
        entry["solids"] = [int(link) for link in cell.approximate_links]
    shared = cell.shared_room
    room: dict[str, Any] = {}
    for name, pairs in (("within", shared.within), ("joined", shared.joined)):
        if pairs:
            room[name] = [[int(a), int(b)] for a, b in pairs]
    if shared.ball is not None:
        ball = shared.ball
        at, radius = f"{text(np.array(ball.centre))} m", f"{text(ball.radius)} m"
        room["ball"] = {"other": int(ball.other), "at": at, "radius": radius}
    return entry | ({"shared room": room} if room else {})


def _link(cell: Cell, k: int, mesh: Mesh | None, meshes: MeshFolder) -> dict[str, Any]:
    if mesh is None:
        return {"link": k, "mesh": "none"}
    entry = {"link": k, "mesh": meshes.put(cell.link_name(k), mesh, "m")}
    return entry | _drawn_to(cell.link_drawn_to(k))


def _drawn_to(off: float) -> dict[str, Any]:
    return {"drawn to": f"{text(off)} m"} if off > 0 else {}


def torch_document(cell: Cell, meshes: MeshFolder) -> dict[str, Any]:
    """Return the torch description of a cell."""
    torch = cell.torch
    unit = torch.unit or "m"
    return {
        "format": 1,
        "name": torch.name,
        "tool centre point": placed(torch.T_flange_tcp, "the tool centre point", always=True),
        "wire diameter": f"{text(torch.wire_diameter)} m",
        "unit": unit,
        "pieces": [
            {"name": piece.name, "mesh": meshes.put(piece.name, piece.mesh, unit)}
            | _drawn_to(piece.drawn_to)
            for piece in torch.pieces
        ],
    }


def placed(T: Array, what: str, *, always: bool = False) -> dict[str, Any]:
    """Return a pose as ``at`` and ``turned``; CannotCheck when angles cannot say its rotation.

    ``always``: with its turn even where there is none.
    """
    angles = fixed_angles(T[:3, :3])
    off = float(np.abs(rotation_from_angles("fixed x-y-z", angles) - T[:3, :3]).max())
    if off > LOST:
        raise CannotCheck(
            f"{what}: its rotation is off a pure turn by {off:.2g}, which angles cannot say. Make "
            "the pose with pathsim.pose_at"
        )
    entry = {"at": f"{text(T[:3, 3])} m"}
    return entry | ({"turned": f"{text(angles)} rad"} if always or angles.any() else {})
