"""Points that no advice moves: where the arc is on, a part is near, or contact is wanted."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from pathsim.geometry.closest_points import closest_points
from pathsim.geometry.containment import winding_number
from pathsim.model import Body, Cell, Role
from pathsim.model.turning_table import StandsOn
from pathsim.motion.targets import Targets
from pathsim.motion.welds import arc_points, names_of, points_at, works
from pathsim.transforms import Array, apply, inverse

#: A wire's end this near to a part, m, or in it, was taught for a weld, whatever the program does.
AT_PART = 2e-3


@lru_cache(maxsize=16)
def weld_points(cell: Cell) -> frozenset[str]:
    """Return the names of all points of welds.

    Those where the arc is on, and those taught with the wire's end at a part: a program whose
    moves are out of order still has its weld points there.
    """
    return arc_points(cell) | {name for name in cell.points if is_at_part(cell, name)}


@lru_cache(maxsize=16)
def fixed_points(cell: Cell) -> frozenset[str]:
    """Return the names of all points that no advice may move: of welds, searches and stations."""
    return weld_points(cell) | points_at(cell, names_of(works(cell.program)))


def is_air_point(cell: Cell, name: str) -> bool:
    """Tell whether a point is used in the air only, so that a seam stays what it is."""
    via = {move.via for move in cell.program.moves}
    return name not in fixed_points(cell) and name not in via and name != cell.program.start


def is_at_part(cell: Cell, name: str) -> bool:
    """Tell whether the wire's end is at a part, or in one, where a point was taught."""
    point = cell.points[name]
    tip = apply(cell.T_world_base @ Targets(cell).tool_pose(name), np.zeros((1, 3)))[0]
    told = point.held if point.q is None else point.q
    seen = {StandsOn.FLOOR: tip}
    if cell.table is not None and told is not None:
        for frame in cell.frames[1:]:
            T_world_frame = cell.table.frame_motion(frame, cell.table_values(told))
            seen[frame] = apply(inverse(T_world_frame), tip[None])[0]
    parts = [body for body in cell.bodies if body.role is Role.PART]
    return any(body.stands_on in seen and _is_at(body, seen[body.stands_on]) for body in parts)


def _is_at(body: Body, place: Array) -> bool:
    here = apply(inverse(body.T_world_body), place[None])[0]
    corners = body.mesh.vertices[body.mesh.faces]
    low, high = corners.min(axis=1) - AT_PART, corners.max(axis=1) + AT_PART
    if (here < low.min(axis=0)).any() or (here > high.max(axis=0)).any():
        return False
    near = corners[((here >= low) & (here <= high)).all(axis=1)]
    if len(near):
        on_part = closest_points(near, np.repeat(here[None], len(near), axis=0))
        if np.linalg.norm(on_part - here, axis=1).min() <= AT_PART:
            return True
    return abs(winding_number(here, body.mesh.vertices, body.mesh.faces)) > 0.5
