"""Points on the way that a programmer would teach: above or beside a known point, torch as there.

Places are rounded to 10 mm from a point that is taught already, with its torch angle.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from pathsim.findings.places import is_roomy, joints_beside, joints_beside_each
from pathsim.model import Cell
from pathsim.transforms import Array
from pathsim.units import millimetres

#: Places are told to this, m; where that does not serve, joints to this, rad.
GRID, ANGLE = 0.010, np.radians(1.0)
#: How high above a known point, m; how far to either side of the way, m.
_ABOVE = (0.05, 0.10, 0.15, 0.20, 0.25, 0.30, 0.40, 0.50)
_BESIDE = (0.0, 0.15, -0.15, 0.30, -0.30)
_ON_THE_WAY, _HIGHER = (0.0, 0.25, 0.5, 0.75), (0.0, 0.10, 0.20, 0.35)


@dataclass(frozen=True, eq=False)
class KnownPoint:
    """A taught point that places are told from: its name, axes ``(axes,)`` and tool pose."""

    name: str
    q: Array
    T: Array

    @classmethod
    def of(cls, cell: Cell, name: str, q: Array) -> KnownPoint:
        """Return a point by its axes ``q (axes,)``."""
        return cls(name, q, cell.tool_poses(q[None])[0])


@dataclass(frozen=True, eq=False)
class WayPoint:
    """A point on the way: axes ``(axes,)``; ``from_point``: what it is told from, None if nothing.

    ``tilt``: of the torch against the nearest known point, rad.
    """

    q: Array
    from_point: KnownPoint | None
    tilt: float


def way_points(cell: Cell, a: KnownPoint, b: KnownPoint) -> Iterator[WayPoint]:
    """Yield points above and beside two ends of a section, with the torch as at either."""
    places = [(known, other, GRID * np.round(off / GRID)) for known, other, off in _places(a, b)]
    places = [place for place in places if place[2].any()]
    T = np.stack([known.T for known, _, _ in places])
    T[:, :3, 3] += [off for _, _, off in places]
    # Of several postures that of the nearer part of the way.
    between = np.stack([_posture_between(*place) for place in places])
    at_known = np.stack([known.q for known, _, _ in places])
    at_other = np.stack([other.q for _, other, _ in places])
    found = joints_beside_each(cell, T, [between, at_known, at_other])
    for (known, _, _), q in zip(places, found, strict=True):
        if q is not None and is_roomy(cell, q):
            yield WayPoint(q, known, 0.0)


def _places(a: KnownPoint, b: KnownPoint) -> Iterator[tuple[KnownPoint, KnownPoint, Array]]:
    """Yield how far ``(3,)`` m from one of two points each place is; the other one second."""
    for known, other in ((a, b), (b, a)):
        for height in _ABOVE:
            yield known, other, np.array([0.0, 0.0, height])
    way = b.T[:3, 3] - a.T[:3, 3]
    level = np.array([way[0], way[1], 0.0])
    length = float(np.linalg.norm(level))
    side = np.array([-level[1], level[0], 0.0]) / length if length > GRID else np.array([1.0, 0, 0])
    top = max(a.T[2, 3], b.T[2, 3])
    for known, other in ((a, b), (b, a)):
        to_other = other.T[:3, 3] - known.T[:3, 3]
        for share in _ON_THE_WAY:
            for beside in _BESIDE:
                for higher in _HIGHER:
                    off = share * to_other + beside * side
                    off[2] = top + higher - known.T[2, 3]
                    yield known, other, off


def snapped(cell: Cell, q: Array, known: Sequence[KnownPoint]) -> Iterator[WayPoint]:
    """Yield what a programmer would teach near axes ``q (axes,)``, and at last ``q`` rounded."""
    place = cell.tool_poses(q[None])[0, :3, 3]
    for one in known:
        off = GRID * np.round((place - one.T[:3, 3]) / GRID)
        T = one.T.copy()
        T[:3, 3] += off
        found = joints_beside(cell, T, [q, one.q])
        if found is not None and is_roomy(cell, found):
            yield WayPoint(found, one, 0.0)
    step = np.where(cell.axes.prismatic, GRID, ANGLE)
    rounded = step * np.round(q / step)
    held = list(cell.axes.held)
    rounded[held] = q[held]
    if is_roomy(cell, rounded):
        yield WayPoint(rounded, None, tilt_from(cell, rounded, known))


def tilt_from(cell: Cell, q: Array, known: Sequence[KnownPoint]) -> float:
    """Least angle between the wire at ``q (axes,)`` and at known points, rad."""
    wire = cell.tool_poses(q[None])[0, :3, 2]
    return min(float(np.arccos(np.clip(wire @ one.T[:3, 2], -1, 1))) for one in known)


def _posture_between(known: KnownPoint, other: KnownPoint, off: Array) -> Array:
    """Return axes ``(axes,)`` as far on the way from one point to the other as ``off (3,)`` is."""
    span = other.T[:3, 3] - known.T[:3, 3]
    share = float(np.clip(off @ span / max(float(span @ span), 1e-9), 0, 1))
    return np.asarray((1 - share) * known.q + share * other.q)


def in_words(cell: Cell, name: str, point: WayPoint) -> str:
    """Say where a point is: from a known one, or by its joint values."""
    if point.from_point is None:
        return f"'{name}' by its joint values"
    known = point.from_point
    off = cell.tool_poses(point.q[None])[0, :3, 3] - known.T[:3, 3]
    return f"'{name}' {offset_in_words(off)} '{known.name}', torch as there"


def offset_in_words(off: Array) -> str:
    """Say a place from a known point: ``200 mm above and 100 mm towards +x from``."""
    parts = []
    if abs(off[2]) >= GRID / 2:
        parts.append(f"{millimetres(abs(off[2]), 0)} {'above' if off[2] > 0 else 'below'}")
    for column, letter in enumerate("xy"):
        if abs(off[column]) >= GRID / 2:
            sign = "+" if off[column] > 0 else "-"
            parts.append(f"{millimetres(abs(off[column]), 0)} towards {sign}{letter}")
    return f"{', '.join(parts)} from" if len(parts) > 1 or abs(off[2]) < GRID / 2 else parts[0]
