"""Cells with one seam between plates of a given joint, for tests of the wire.

The seam runs along y, the torch stands square to it. A joint is drawn in the plane across the
seam: angles are from the wire, seen from the tip.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import trimesh

from pathsim.model import DwellCounts, Mesh, Pattern, Role, TorchPiece, Weave
from pathsim.transforms import inverse, rotation_about, translation
from tests.builders import ball, body, cell, joint, linear, seam

HOME = np.array([0.0, 0.2, 0.1, 0.0, 1.2, 0.0])
BASE = cell({"home": HOME}, [joint("home")])
#: Pose of the tool in the middle of the seam.
MIDDLE = translation([0.05, 0.04, -0.15]) @ BASE.arm.pose(HOME) @ BASE.torch.T_flange_tcp
#: Towards the torch, and across the seam.
UP = -MIDDLE[:3, 2]
ACROSS = np.cross([0.0, 1.0, 0.0], UP)
LENGTH = 0.08


def joints_at(offset, near=HOME):
    """Joint values with the tool where it is in the middle, moved by ``offset`` (3,) m."""
    goal = translation(offset) @ MIDDLE @ inverse(BASE.torch.T_flange_tcp)
    found = BASE.arm.inverse(goal)
    return found[np.argmin(np.abs(found - near).max(axis=1))]


def weave(amplitude):
    """A zigzag of 2 Hz, or none."""
    if not amplitude:
        return None
    return Weave("w", Pattern.ZIGZAG, amplitude, 2.0, 0.0, 0.0, DwellCounts.ADDED)


def seam_cell(
    bodies, *, wire=0.018, diameter=0.0012, amplitude=0.0, moves=None, points=None, **of_seam
):
    """A cell that comes down 0.1 m along the wire, welds 80 mm along y, and goes up again."""
    half = np.array([0.0, LENGTH / 2, 0.0])
    places = {
        "above": -half + 0.1 * UP,
        "start": -half,
        "end": half,
        "retract": half + 0.1 * UP,
        **(points or {}),
    }
    taught = {"home": HOME} | {name: joints_at(offset) for name, offset in places.items()}
    welded = dataclasses.replace(seam("end"), weave=weave(amplitude), **of_seam)
    moves = moves or [joint("above"), linear("start"), welded, linear("retract"), joint("home")]
    pieces = (TorchPiece("nozzle", ball(0.001, (0, 0, 0.05))),)
    made = cell(taught, moves, bodies=bodies, pieces=pieces)
    torch = dataclasses.replace(made.torch, wire_length=wire, wire_diameter=diameter)
    return dataclasses.replace(made, torch=torch)


def solid(size, offset=(0.0, 0.0, 0.0), turn=0.0, name="part", role=Role.PART):
    """A box: ``size`` and ``offset`` of its middle across, along the seam and up, m.

    Turned by ``turn`` rad about the seam's middle line.
    """
    R = np.column_stack([ACROSS, [0.0, 1.0, 0.0], UP])
    shape = trimesh.creation.box(size)
    local = (shape.vertices + np.asarray(offset)) @ rotation_about([0.0, 1.0, 0.0], turn).T
    return body(Mesh(local @ R.T + MIDDLE[:3, 3], shape.faces), name, role)


def plate(angle, name, length=0.06, thickness=0.01, aside=0.0, along=0.2):
    """A plate whose face leaves the tip at ``angle`` (rad) from the wire, to either side.

    ``aside``: its face begins so far aside of the tip, m.
    """
    side = 1.0 if angle > 0 else -1.0
    middle = (side * (thickness / 2), 0.0, length / 2)
    made = solid((thickness, along, length), middle, angle, name)
    return dataclasses.replace(made, T_world_body=translation(side * aside * ACROSS))


def fillet(work):
    """Two plates square to each other, the wire ``work`` (deg) off one of them."""
    return [plate(np.radians(work), "one"), plate(-np.radians(90 - work), "other")]


def lap(work, height):
    """A plate on another one; the wire is ``work`` (deg) off the flat one."""
    return [plate(np.radians(work), "flat"), plate(-np.radians(90 - work), "edge", height)]


def groove(angle, depth=0.012, gap=0.0, root=0.0):
    """A groove of ``angle`` (deg) in all; ``gap``: of the root; ``root``: how high the tip is."""
    half = np.radians(angle / 2)
    sides = [plate(half, "left", depth, aside=gap / 2), plate(-half, "right", depth, aside=gap / 2)]
    T = translation(-root * UP)
    return [dataclasses.replace(s, T_world_body=T @ s.T_world_body) for s in sides]
