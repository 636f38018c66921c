"""The wire's axis from tips told at several lengths of wire, and how far tips are from a torch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pathsim.geometry.closest_points import closest_points
from pathsim.geometry.containment import solid_of
from pathsim.geometry.mesh import Mesh
from pathsim.touches.tip import TipFit
from pathsim.transforms import Array, frozen

#: Tips nearer to each other than this tell no direction, m.
_APART = 5e-3


@dataclass(frozen=True, eq=False)
class WireAxis:
    """The line on which the wire leaves the torch: ``direction (3,)`` on the flange, of length 1.

    ``turn`` rad: how far it is off the description's. ``off`` rad: how far it may be off itself, 95
    times in 100. ``side`` m: how far the farthest tip is beside the described wire; ``side_off`` m:
    how well that tip is known.
    """

    direction: Array
    turn: float
    off: float
    side: float
    side_off: float


def wire_axis(tips: Sequence[TipFit], T_flange_tcp: ArrayLike) -> WireAxis | None:
    """Return the axis through the two tips that are farthest apart; None where all are one place.

    ``T_flange_tcp (4, 4)``: the description's, whose z is the wire's.
    """
    T = np.asarray(T_flange_tcp, float)
    pairs = [(a, b) for k, a in enumerate(tips) for b in tips[k + 1 :]]
    if not pairs:
        return None
    first, last = max(pairs, key=lambda pair: float(np.linalg.norm(pair[1].tip - pair[0].tip)))
    way = last.tip - first.tip
    length = float(np.linalg.norm(way))
    if length < max(_APART, first.off + last.off):
        return None
    direction = way / length
    if direction @ T[:3, 2] < 0:
        direction = -direction
    turn = float(np.arctan2(np.linalg.norm(np.cross(direction, T[:3, 2])), direction @ T[:3, 2]))
    # Both ends off to opposite sides by what is said of each turn the line the most.
    off = float(np.arctan2(np.hypot(first.off, last.off), length))
    sides = [_beside(one.tip, T) for one in tips]
    worst = int(np.argmax(sides))
    return WireAxis(frozen(direction), turn, off, sides[worst], tips[worst].off)


def _beside(place: Array, T: Array) -> float:
    """How far a place is beside the z axis of a pose, m."""
    return float(np.linalg.norm(np.cross(place - T[:3, 3], T[:3, 2])))


def from_mesh(place: ArrayLike, meshes: Sequence[Mesh]) -> float:
    """How far a place ``(3,)`` is from the nearest of some meshes, m; below 0 inside of one."""
    here = np.asarray(place, float)
    best = np.inf
    for mesh in meshes:
        near = closest_points(
            mesh.vertices[mesh.faces], np.broadcast_to(here, (len(mesh.faces), 3))
        )
        away = float(np.linalg.norm(near - here, axis=1).min())
        if solid_of(mesh).holds(here[None]):
            away = -away
        best = min(best, away)
    return float(best)
