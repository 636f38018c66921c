"""A torch from a few numbers, and where its tool centre point is.

From the flange along its z: mount, body, a straight piece of neck, the bend towards the flange's
x, another straight piece, the nozzle, the wire. All turned together about the flange's z.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.errors import MeshError
from pathsim.geometry.mesh import Mesh
from pathsim.geometry.solids import capsule_chain
from pathsim.shapes.blocks import cylinder
from pathsim.shapes.outline import circle, sides
from pathsim.shapes.standing import require_less, require_sizes
from pathsim.transforms import Array, frozen, pose, rotation_from_angles

#: A bend is drawn in stretches of at most this turn, rad.
_STRETCH = np.radians(6.0)
_MOST_BEND = np.radians(135.0)


@dataclass(frozen=True)
class Barrel:
    """A round piece: ``length`` and largest ``diameter``, m."""

    length: float
    diameter: float


@dataclass(frozen=True)
class Neck:
    """``before`` and ``after`` the bend it is straight; ``radius`` is the bend's middle line's.

    ``angle`` in rad; 0 is a straight neck.
    """

    diameter: float
    angle: float
    radius: float
    before: float
    after: float


@dataclass(frozen=True)
class Nozzle:
    """``length``, ``diameter`` at the neck, ``mouth`` at its end, m.

    ``tip``: how far the contact tip stands back in it; below zero it stands out.
    """

    length: float
    diameter: float
    mouth: float
    tip: float


@dataclass(frozen=True)
class TorchSizes:
    """A whole torch; ``towards``: turn of its bend about the flange's z, rad."""

    body: Barrel
    neck: Neck
    nozzle: Nozzle
    mount: Barrel | None = None
    towards: float = 0.0


@dataclass(frozen=True, eq=False)
class BuiltTorch:
    """Closed meshes in the flange frame by name, and ``T_flange_tcp (4, 4)``."""

    pieces: dict[str, Mesh]
    T_flange_tcp: Array


def build_torch(size: TorchSizes, wire: float) -> BuiltTorch:
    """Build a torch; ``wire``: stick-out from the contact tip to the tool centre point, m.

    Raises MeshError for numbers that make none.
    """
    _require_sound(size)
    turn = rotation_from_angles("fixed x-y-z", (0.0, 0.0, size.towards))
    T_turned = pose(turn, np.zeros(3))
    pieces: dict[str, Mesh] = {}
    height = 0.0
    barrels = [] if size.mount is None else [("torch mount", size.mount)]
    for name, barrel in [*barrels, ("torch body", size.body)]:
        upright = cylinder(barrel.diameter, barrel.length)
        pieces[name] = upright.moved(T_turned @ pose(np.eye(3), [0.0, 0.0, height]))
        height += barrel.length
    line, T_end = _neck_line(size.neck, height)
    # An arc lies within this of the straight lines between its places.
    sag = size.neck.radius * (1 - np.cos(size.neck.angle / _pieces(size.neck) / 2))
    pieces["neck"] = capsule_chain(line, size.neck.diameter / 2 + sag).moved(T_turned)
    nozzle = size.nozzle
    pieces["nozzle"] = _cone(nozzle).moved(T_turned @ T_end)
    reach = nozzle.length - nozzle.tip + wire
    T = T_turned @ T_end @ pose(np.eye(3), [0.0, 0.0, reach])
    return BuiltTorch(pieces, frozen(T))


def _require_sound(size: TorchSizes) -> None:
    neck, nozzle = size.neck, size.nozzle
    for what, barrel in (("a torch mount", size.mount), ("a torch body", size.body)):
        if barrel is not None:
            require_sizes(what, length=barrel.length, diameter=barrel.diameter)
    require_sizes("a neck", diameter=neck.diameter)
    require_sizes("a nozzle", length=nozzle.length, diameter=nozzle.diameter, mouth=nozzle.mouth)
    if not 0 <= neck.angle <= _MOST_BEND:
        raise MeshError(f"a neck bent by {np.degrees(neck.angle):g} deg; expected 0 to 135 deg")
    if neck.angle > 0:
        require_sizes("a bent neck", radius=neck.radius)
        require_less("a neck", "diameter", neck.diameter / 2, neck.radius * (1 + 1e-9),
                     "its bend's radius")  # fmt: skip
    if min(neck.before, neck.after) < 0:
        raise MeshError("a neck with a straight piece below 0 mm; expected 0 mm or more")
    if neck.angle == 0 and neck.before + neck.after <= 0:
        raise MeshError("a straight neck of 0 mm; expected 'before' or 'after' above 0 mm")
    require_less("a nozzle", "tip", nozzle.tip, nozzle.length, "its length")


def _pieces(neck: Neck) -> int:
    return max(1, int(np.ceil(neck.angle / _STRETCH)))


def _neck_line(neck: Neck, height: float) -> tuple[Array, Array]:
    """Places ``(n, 3)`` along the neck's middle, and the pose at its end, z onwards."""
    places = [np.array([0.0, 0.0, height])]
    start = height + neck.before
    if neck.before > 0:
        places.append(np.array([0.0, 0.0, start]))
    end = places[-1]
    if neck.angle > 0:
        for turn in np.linspace(0.0, neck.angle, _pieces(neck) + 1)[1:]:
            x, z = neck.radius * (1 - np.cos(turn)), start + neck.radius * np.sin(turn)
            places.append(np.array([x, 0.0, z]))
        end = places[-1]
    way = np.array([np.sin(neck.angle), 0.0, np.cos(neck.angle)])
    if neck.after > 0:
        end = end + neck.after * way
        places.append(end)
    R = rotation_from_angles("fixed x-y-z", (0.0, neck.angle, 0.0))
    return np.array(places), pose(R, end)


def _cone(nozzle: Nozzle) -> Mesh:
    """Return a filled cone from ``diameter`` at z = 0 to ``mouth``, round its circles."""
    count = sides(max(nozzle.diameter, nozzle.mouth) / 2)
    low, top = (circle(d / 2, count, outside=True) for d in (nozzle.diameter, nozzle.mouth))
    rings = [np.column_stack([low, np.zeros(count)]),
             np.column_stack([top, np.full(count, nozzle.length)])]  # fmt: skip
    i = np.arange(count)
    j = (i + 1) % count
    fan = i[1:-1]
    corner = np.zeros_like(fan)
    faces = np.vstack(
        [
            np.column_stack([i, j, count + j]),
            np.column_stack([i, count + j, count + i]),
            np.column_stack([corner, fan + 1, fan]),
            np.column_stack([corner, fan, fan + 1]) + count,
        ]
    )
    return Mesh(np.vstack(rings), faces)
