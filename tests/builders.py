"""Small arms, meshes and cells for tests, put together without files."""

from __future__ import annotations

import dataclasses

import numpy as np
import trimesh

from pathsim.arm import Arm
from pathsim.model import (
    Body,
    Cell,
    Margins,
    Mesh,
    Move,
    MoveKind,
    Point,
    Program,
    Role,
    TiltAxis,
    Torch,
    TorchPiece,
    TurningTable,
)
from pathsim.transforms import frozen, pose, rotation_about, translation

HALF = np.pi / 2
#: The textbooks' arm in standard Denavit-Hartenberg rows: Corke, Robotics toolbox, mdl_puma560.
PUMA_ROWS = [
    (0.0, HALF, 0.0),
    (0.4318, 0.0, 0.0),
    (0.0203, -HALF, 0.15005),
    (0.0, HALF, 0.4318),
    (0.0, -HALF, 0.0),
    (0.0, 0.0, 0.0),
]
#: An arm of our own with a spherical wrist.
SHOP_ROWS = [
    (0.16, -HALF, 0.43, 0.0),
    (0.59, 0.0, 0.0, -HALF),
    (0.13, -HALF, 0.0, 0.0),
    (0.0, HALF, 0.64, 0.0),
    (0.0, -HALF, 0.0, 0.0),
    (0.0, 0.0, 0.10, 0.0),
]
#: An arm of our own whose last three axes do not meet.
OFFSET_WRIST_ROWS = [
    (0.0, HALF, 0.35),
    (-0.55, 0.0, 0.0),
    (-0.48, 0.0, 0.0),
    (0.0, HALF, 0.16),
    (0.0, -HALF, 0.12),
    (0.0, 0.0, 0.11),
]


def offset_wrist_arm() -> Arm:
    return Arm.from_dh(OFFSET_WRIST_ROWS, "standard")


def puma() -> Arm:
    return Arm.from_dh(PUMA_ROWS, "standard")


def shop_arm(limits=None) -> Arm:
    return Arm.from_dh(
        SHOP_ROWS,
        "standard",
        limits=np.tile([-2 * np.pi, 2 * np.pi], (6, 1)) if limits is None else limits,
        speed=np.full(6, 3.0),
        acceleration=np.full(6, 8.0),
    )


def box(size=(1.0, 1.0, 1.0), at=(0.0, 0.0, 0.0)) -> Mesh:
    shape = trimesh.creation.box(size)
    return Mesh(shape.vertices + np.asarray(at), shape.faces)


def ball(radius=1.0, at=(0.0, 0.0, 0.0), fineness=3) -> Mesh:
    shape = trimesh.creation.icosphere(fineness, radius)
    return Mesh(shape.vertices + np.asarray(at), shape.faces)


def needle(start, end) -> Mesh:
    """A triangle with no area: a pin of no thickness."""
    return Mesh(np.array([start, end, end], float), np.array([[0, 1, 2]]))


def sheet(corners) -> Mesh:
    """A single open quadrilateral."""
    return Mesh(np.array(corners, float), np.array([[0, 1, 2], [0, 2, 3]]))


def torch(pieces=None) -> Torch:
    pieces = pieces or (TorchPiece("nozzle", box((0.03, 0.03, 0.2), (0, 0, 0.1))),)
    T = pose(rotation_about([0.0, 1.0, 0.0], np.pi / 6), [0.05, 0.0, 0.24])
    return Torch("test torch", tuple(pieces), frozen(T), 0.015, 0.001)


def cell(
    points,
    moves,
    *,
    start="home",
    bodies=(),
    arm=None,
    links=None,
    pieces=None,
    margins=(0.01, 0.0015, 0.0015),
    table=None,
) -> Cell:
    """A cell of points ``{name: q}``, or Points, and moves; links are ``None`` unless given.

    Points that moves go to and nobody gives are where the start is, until a test teaches them.
    """
    named = {name for move in moves for name in (move.target, move.via) if name is not None}
    points = {**dict.fromkeys(sorted(named), points[start]), **points}
    arm = arm or shop_arm()
    links = links or (None,) * (arm.dof + 1)
    return Cell(
        name="test",
        arm=arm,
        T_world_base=frozen(np.eye(4)),
        link_meshes=tuple(links),
        tip_speed=1.5,
        tip_acceleration=3.0,
        torch=torch(pieces),
        bodies=tuple(bodies),
        points={
            name: q if isinstance(q, Point) else Point(name, frozen(q), None)
            for name, q in points.items()
        },
        margins=Margins(*margins),
        program=Program(start, tuple(moves)),
        table=table,
    )


def sound(c: Cell) -> Cell:
    """The cell with its wire straight out of the nozzle's middle, and home again at the end."""
    tcp = frozen(translation([0.0, 0.0, 0.2 + c.torch.wire_length]))
    program = c.program
    if program.moves[-1].target != program.start:
        program = dataclasses.replace(program, moves=(*program.moves, joint(program.start)))
    straight = dataclasses.replace(c.torch, T_flange_tcp=tcp)
    return dataclasses.replace(c, torch=straight, program=program)


def body(mesh, name="block", role=Role.OTHER, at=(0.0, 0.0, 0.0), on_table=False, bears=None,
         on_tilt=False):  # fmt: skip
    return Body(name, role, mesh, frozen(translation(at)), on_table, bears, on_tilt=on_tilt)


def turning_table(at=(0.0, 0.0, 0.0), axis=(0.0, 0.0, 1.0), tilt=None) -> TurningTable:
    """A table at ``at`` that turns about ``axis``; ``tilt``: place and axis of what tilts it."""
    carrier = None if tilt is None else TiltAxis(_axis_at(*tilt), -2.0, 2.0, 1.0, 3.0)
    return TurningTable(_axis_at(at, axis), -2 * np.pi, 2 * np.pi, 1.5, 4.0, carrier)


def _axis_at(at, axis):
    z = np.asarray(axis, float) / np.linalg.norm(axis)
    x = np.cross(np.eye(3)[np.argmin(np.abs(z))], z)
    x /= np.linalg.norm(x)
    return frozen(pose(np.column_stack([x, np.cross(z, x), z]), at))


def rail_arm(arm=None) -> Arm:
    """The shop arm on a rail along y."""
    T = pose([[0, 1, 0], [0, 0, 1], [1, 0, 0]], np.zeros(3))
    return (arm or shop_arm()).on_rail(T, (-2.0, 2.0), 1.0, 2.0)


def joint(target, speed=0.5) -> Move:
    return Move(MoveKind.JOINT, target, speed)


def linear(target, speed=0.1) -> Move:
    return Move(MoveKind.LINEAR, target, speed)


def seam(target, speed=0.01, weave=None, crater=0.0, via=None) -> Move:
    kind = MoveKind.LINEAR if via is None else MoveKind.ARC
    return Move(kind, target, speed, via, True, weave, crater)
