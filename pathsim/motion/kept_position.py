"""Coordinated motion: how a table goes so that a seam stays in its wanted welding position.

The path is fixed on the part, and so are the seam's travel, its left and the line out of the weld.
The table decides alone where "up" is as these see it; two axes can put it anywhere, one comes as
near as it can. The arm follows the part, as it does on any seam.
"""

from __future__ import annotations

import math

import numpy as np

from pathsim.errors import MotionError
from pathsim.model import TurningTable
from pathsim.model.held_way import HeldWay
from pathsim.model.wanted_position import WantedPosition
from pathsim.motion.ideal_kernel import AXIS, WAY
from pathsim.motion.paths import ToolPath
from pathsim.transforms import Array

_UP = np.array([0.0, 0.0, 1.0])
#: Values are worked out so close to each other: turn of the path, of the tool or of the table, rad;
#: a spline leads on between them, to a hundredth of a degree. At least, and at most, so many.
_STEP, _FEWEST, _MOST = np.radians(10.0), 9, 400
#: An axis that hardly moves "up" stays where it is: added to the square of what it does, per rad.
_DAMPED = 1e-6
_ROUNDS, _LONGEST, _DONE = 60, 0.3, 1e-9
#: A torch nearer to the travel than this, as a sine, leaves a weld no face.
_ALONG = 1e-3
ALONG = "the torch points along the seam, so no position can be told that the table would keep"


def kept_position(
    path: ToolPath, table: TurningTable, wanted: WantedPosition, start: Array, end: Array
) -> HeldWay:
    """Return how held axes go from ``start (c,)`` to ``end (c,)`` on a seam; the table's are last.

    Both ends are as taught. In between the table keeps the position; what the ends are off it goes
    in evenly. Other held axes go evenly. MotionError where the torch points along the seam.
    """
    carried = float(np.abs(end - start).max())
    steps = max(path.form.angle, path.turning, carried) / _STEP
    shares = np.linspace(0.0, 1.0, int(np.clip(math.ceil(steps) + 1, _FEWEST, _MOST)))
    values = start + shares[:, None] * (end - start)
    count = len(table.axes)
    seam = seam_frames(path, shares)
    taught = values[:, -count:].copy()
    up = wanted_up(wanted, seam[0], table, taught[0])
    kept = _solved(table, seam, up, taught)
    back = np.stack([taught[0] - kept[0], taught[-1] - kept[-1]])
    values[:, -count:] = kept + back[0] + shares[:, None] * (back[1] - back[0])
    return HeldWay.through(shares, values)


def seam_frames(path: ToolPath, shares: Array) -> Array:
    """Rotations ``(n, 3, 3)`` on the part: travel, left, and the line out of the weld as columns.

    That line is square to the travel, in its plane with the torch.
    """
    form = path.form
    travel = np.broadcast_to(form.way[WAY], (len(shares), 3))
    if form.angle:
        axis, arm = form.way[AXIS], form.way[WAY]
        angles = shares[:, None] * form.angle
        arms = np.cos(angles) * arm + np.sin(angles) * np.cross(axis, arm)
        travel = np.cross(axis, arms)
    travel = travel / np.linalg.norm(travel, axis=1)[:, None]
    torch = np.empty((len(shares), 3))
    for begin, end, turn in form.turns:
        here = (shares >= begin) & (shares <= end)
        torch[here] = -turn.at((shares[here] - begin) / (end - begin))[:, :, 2]
    left = np.cross(torch, travel)
    size = np.linalg.norm(left, axis=1)
    if (size < _ALONG).any():
        raise MotionError(ALONG)
    left /= size[:, None]
    return np.stack([travel, left, np.cross(travel, left)], axis=-1)


def wanted_up(wanted: WantedPosition, frame: Array, table: TurningTable, values: Array) -> Array:
    """Where up is to be ``(3,)``, seen from a seam whose start is ``frame (3, 3)`` on the part.

    ``values (axes,)``: the table's where it starts; they tell to which side it leans.
    """
    now = np.asarray(frame.T @ table.motion(values)[:3, :3].T @ _UP)
    if wanted.rotation is None:
        return now
    side = 1.0 if now[1] >= 0 else -1.0
    return np.array([0.0, side * np.cos(wanted.rotation), np.sin(wanted.rotation)])


def _solved(table: TurningTable, seam: Array, up: Array, values: Array) -> Array:
    """Values ``(n, axes)`` that bring up nearest to where it is wanted, from ``values`` on.

    Gauss and Newton's way with damping, all places at once.
    """
    found, count = values.copy(), values.shape[1]
    still = _DAMPED * np.eye(count)
    for _ in range(_ROUNDS):
        seen, by_axis = _up_on_part(table, found)
        off = np.swapaxes(seam, 1, 2) @ seen[..., None] - up[:, None]
        slopes = np.swapaxes(seam, 1, 2) @ by_axis
        down = np.swapaxes(slopes, 1, 2)
        step = -np.linalg.solve(down @ slopes + still, down @ off)[..., 0]
        step = np.clip(step, -_LONGEST, _LONGEST)
        found += step
        if np.abs(step).max() < _DONE:
            break
    return found


def _up_on_part(table: TurningTable, values: Array) -> tuple[Array, Array]:
    """Up as the part sees it ``(n, 3)``, and how it changes with each axis ``(n, 3, axes)``."""
    up = np.broadcast_to(_UP, (len(values), 3))
    changes: list[Array] = []
    for axis, angles in zip(table.axes, values.T, strict=True):
        back = np.swapaxes(axis_turn(axis.T_world_axis[:3, :3], angles), 1, 2)
        changes = [(back @ change[..., None])[..., 0] for change in changes]
        up = (back @ up[..., None])[..., 0]
        changes.append(np.cross(up, axis.T_world_axis[:3, 2]))
    return up, np.stack(changes, axis=-1)


def axis_turn(R_world_axis: Array, angles: Array) -> Array:
    """Rotations ``(n, 3, 3)`` by ``angles (n,)`` rad about z of a frame ``(3, 3)``."""
    c, s, none = np.cos(angles), np.sin(angles), np.zeros_like(angles)
    turn = np.stack([c, -s, none, s, c, none, none, none, none + 1.0], axis=-1)
    return np.asarray(R_world_axis @ turn.reshape(-1, 3, 3) @ R_world_axis.T)
