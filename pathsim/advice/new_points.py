"""What has to be said of points that a change teaches: torch tilted far, a joint near its limit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence, Set

import numpy as np

from pathsim.advice.change import Change, changed
from pathsim.findings.weld_places import weld_points
from pathsim.model import Cell
from pathsim.motion.targets import Targets
from pathsim.transforms import Array
from pathsim.units import degrees

#: A torch that is tilted more than this against the welds beside is said, rad.
MOST_TILT = np.radians(30.0)
#: Joints nearer to a limit than this are said, rad.
TIGHT = np.radians(10.0)


def about_new_points(cell: Cell, change: Change) -> tuple[str, ...]:
    """Return a sentence for each point that tilts the torch far or is near a joint limit."""
    after = changed(cell, change)
    return (*_tilts(after, change), *_rooms(after, change))


def _tilts(after: Cell, change: Change) -> Iterator[str]:
    """Compare the wire at each new point with that at the welds before and behind it.

    A point "torch as at home" is tilted too, where home is: what counts is how far the torch has
    to turn from the weld. Where a program has no weld, with the taught points beside it.
    """
    program, targets = after.program, Targets(after)
    order = [program.start, *(move.target for move in program.moves)]
    taught = {name for name in order if name not in change.points}
    known = (weld_points(after) & taught) or taught
    for name, q in change.points.items():
        beside = {
            other
            for at, one in enumerate(order)
            if one == name
            for other in (_first(order[at::-1], known), _first(order[at:], known))
            if other is not None
        }
        wire = after.tool_poses(q[None])[0, :3, 2]
        wires = {other: (after.T_world_base @ targets.tool_pose(other))[:3, 2] for other in beside}
        if not wires:
            continue
        tilt, nearest = min((_angle(wire, w), other) for other, w in sorted(wires.items()))
        if tilt > MOST_TILT:
            yield (
                f"At '{name}' the torch is tilted {degrees(tilt, 0)} from its angle at '{nearest}'."
            )


def _first(names: Sequence[str], known: Set[str]) -> str | None:
    """Return the first of some points that is known."""
    return next((name for name in names if name in known), None)


def _angle(a: Array, b: Array) -> float:
    return float(np.arccos(np.clip(a @ b, -1, 1)))


def _rooms(after: Cell, change: Change) -> Iterator[str]:
    axes = after.axes
    for name, q in change.points.items():
        room = np.where(axes.prismatic, np.inf, axes.room(q))
        column = int(np.argmin(room))
        if room[column] < TIGHT:
            joint, left = axes.names[column], degrees(float(room[column]))
            yield f"At '{name}' {joint} is {left} from its limit."
