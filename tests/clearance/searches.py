"""Cells with one touch search down onto a plate, for tests: numbers are known by construction."""

from __future__ import annotations

import dataclasses

import numpy as np
import trimesh

from pathsim.model import Cell, Mesh, Move, MoveKind, TorchPiece
from pathsim.model.wanted_contact import Search
from pathsim.transforms import rotation_about, translation
from tests.builders import cell, joint, linear
from tests.clearance.joints import ACROSS, BASE, HOME, MIDDLE, UP, joints_at, solid

#: Stick-out and its radius, and the nozzle's radius, m.
WIRE, RADIUS, NOZZLE = 0.015, 0.0005, 0.008
ALONG = np.array([0.0, 1.0, 0.0])


def nozzle(radius=NOZZLE, length=0.06, back=0.0):
    """A cylinder round the wire, from the contact tip (``back`` m behind it) upwards."""
    shape = trimesh.creation.cylinder(radius, length, sections=24)
    T = BASE.torch.T_flange_tcp @ translation([0.0, 0.0, -WIRE - back - length / 2])
    return TorchPiece("nozzle", Mesh(shape.vertices @ T[:3, :3].T + T[:3, 3], shape.faces))


def plate(top=0.0, name="plate", across=0.2, along=0.3, aside=0.0):
    """A flat plate under the torch, its top ``top`` m above the place where the search ends."""
    return solid((across, along, 0.02), (aside, 0.0, top - 0.01), name=name)


def rib(aside, high=0.02, thick=0.006, name="rib"):
    """A rib on the plate, its near face ``aside`` m beside the wire's axis."""
    middle = (aside + np.sign(aside) * thick / 2, 0.0, high / 2)
    return solid((thick, 0.3, high), middle, name=name)


def search(target, body="plate", speed=0.02, wire_end=0.005, **of_search) -> Move:
    """A search, as a move."""
    wanted = Search(body, **of_search)
    return Move(MoveKind.LINEAR, target, speed, wire_end=wire_end, search=wanted)


def search_cell(bodies, *, height=0.025, lean=0.0, moves=None, points=None, wire=WIRE,
                pieces=None, end=(0.0, 0.0, 0.0), start=None, **of_search) -> Cell:  # fmt: skip
    """A cell that comes to ``height`` m above the plate, searches down to it and goes up again.

    ``end`` and ``start``: where the search ends and starts, if not straight above, in the world
    from the middle; ``lean`` (rad): the torch turned about the plate's long side.
    """
    end = np.asarray(end, float)
    places = {
        "above": end + height * UP if start is None else np.asarray(start, float),
        "touch": end,
        "retract": end + 0.08 * UP,
        **(points or {}),
    }
    taught = {"home": HOME} | {name: leant(place, lean) for name, place in places.items()}
    moves = moves or [joint("above"), search("touch", **of_search), linear("retract"),
                      joint("home")]  # fmt: skip
    made = cell(taught, moves, bodies=bodies, pieces=pieces or (nozzle(),))
    torch = dataclasses.replace(made.torch, wire_length=wire, wire_diameter=2 * RADIUS)
    return dataclasses.replace(made, torch=torch)


def leant(offset, lean):
    """Joint values with the tool at an offset from the middle, turned about the long side."""
    if not lean:
        return joints_at(offset)
    T = MIDDLE.copy()
    T[:3, :3] = rotation_about(ALONG, lean) @ T[:3, :3]
    T[:3, 3] += offset
    found = BASE.arm.inverse(T @ BASE.torch.T_tcp_flange)
    return found[np.argmin(np.abs(found - HOME).max(axis=1))]


__all__ = ["ACROSS", "ALONG", "NOZZLE", "RADIUS", "UP", "WIRE", "leant", "nozzle", "plate", "rib",
           "search", "search_cell"]  # fmt: skip
