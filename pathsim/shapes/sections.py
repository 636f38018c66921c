"""Sections off the rack: pipe, tube, angle, channel, beam."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from pathsim.geometry.mesh import Mesh
from pathsim.shapes.outline import circle, drawn_out, ring_drawn_out, sides
from pathsim.shapes.standing import require_less, require_sizes, stood
from pathsim.transforms import Array, apply, pose

#: The rounding of an inner corner is at most so many thicknesses: of rolled angles and channels,
#: of tubes, and of rolled beams, whose web is thin beside it.
ROOT_OF_ANGLE, ROOT_OF_TUBE, ROOT_OF_BEAM = 1.5, 2.0, 2.5


class Along(StrEnum):
    """Which way a section runs."""

    X = "x"
    Y = "y"
    Z = "z"


#: Columns: where the outline's x and y, and the section's length, go.
_RUNS = {
    Along.X: np.array([[0, 0, 1], [1, 0, 0], [0, 1, 0]], dtype=float),
    Along.Y: np.array([[-1, 0, 0], [0, 0, 1], [0, 1, 0]], dtype=float),
    Along.Z: np.eye(3),
}


def _laid(mesh: Mesh, along: Along) -> Mesh:
    return stood(Mesh(apply(pose(_RUNS[along], np.zeros(3)), mesh.vertices), mesh.faces))


def pipe(diameter: float, wall: float, length: float, along: Along = Along.Z) -> Mesh:
    """Round pipe by its outer ``diameter``; the bore is drawn inside its circle."""
    require_sizes("a pipe", diameter=diameter, wall=wall, length=length)
    require_less("a pipe", "wall", wall, diameter / 2, "half the diameter")
    count = sides(diameter / 2)
    outer = circle(diameter / 2, count, outside=True)
    return _laid(ring_drawn_out(outer, circle(diameter / 2 - wall, count, outside=False), length),
                 along)  # fmt: skip


def tube(
    width: float, height: float, wall: float, length: float, along: Along = Along.X,
    root: float | None = None,
) -> Mesh:  # fmt: skip
    """Square or rectangular tube, outer ``width`` and ``height``; outer corners drawn sharp.

    ``root``: the rounding of the inside's corners, at most; 2 walls if it is not said. Filled;
    where nothing is left of the inside's narrow side, all of the inside is.
    """
    require_sizes("a tube", width=width, height=height, wall=wall, length=length)
    require_less("a tube", "wall", wall, min(width, height) / 2, "half its narrow side")
    outer = np.array([width, height])
    room = float(outer.min()) / 2 - wall
    r = _root(root, ROOT_OF_TUBE * wall, room)
    if r > room * (1 - 1e-6):
        return _laid(drawn_out(_rectangle(outer), length), along)
    inner = _octagon(outer - 2 * wall, r) if r > 0 else _rectangle(outer - 2 * wall)
    frame = _octagon_with_sharp_corners(outer, r) if r > 0 else _rectangle(outer)
    return _laid(ring_drawn_out(frame, inner, length), along)


def _rectangle(size: Array) -> Array:
    x, y = size / 2
    return np.array([[x, -y], [x, y], [-x, y], [-x, -y]])


def _octagon(size: Array, cut: float) -> Array:
    """Rectangle round the origin whose corners are cut off by ``cut``."""
    x, y = size / 2
    a, b = x - cut, y - cut
    return np.array([[a, -y], [x, -b], [x, b], [a, y], [-a, y], [-x, b], [-x, -b], [-a, -y]])


def _octagon_with_sharp_corners(size: Array, step: float) -> Array:
    """Rectangle round the origin with as many corners as an octagon, to make a ring with it."""
    x, y = size / 2
    a, b = x - step, y - step
    return np.array([[a, -y], [x, -y], [x, b], [x, y], [-a, y], [-x, y], [-x, -b], [-x, -y]])


def angle(
    width: float, height: float, thickness: float, length: float, along: Along = Along.X,
    root: float | None = None,
) -> Mesh:  # fmt: skip
    """Angle: one leg flat, ``width`` wide, the other up, ``height`` high, at its right edge.

    ``root``: the rounding between the legs, at most; 1.5 thicknesses if it is not said. Filled.
    """
    require_sizes("an angle", width=width, height=height, thickness=thickness, length=length)
    require_less("an angle", "thickness", thickness, min(width, height), "its narrow leg")
    room = min(width, height) - thickness
    r = _root(root, ROOT_OF_ANGLE * thickness, room)
    t = thickness
    corner = [[t + r, t], [t, t + r]]
    foot = [[0.0, 0.0], [width, 0.0], [width, t]]
    outline = [*foot, *corner, [t, height], [0.0, height]]
    return _laid(drawn_out(_distinct(outline), length), along)


def channel(
    width: float, height: float, web: float, flange: float, length: float,
    along: Along = Along.X, root: float | None = None,
) -> Mesh:  # fmt: skip
    """Channel with its back down: ``height`` is the height of its legs, ``width`` over both.

    ``web``: thickness of the back, ``flange`` of the legs where they are thickest. ``root``:
    the rounding between them, at most; 1.5 of the thicker one if it is not said. Filled.
    """
    require_sizes("a channel", width=width, height=height, web=web, flange=flange, length=length)
    require_less("a channel", "flange", flange, width / 2, "half its width")
    require_less("a channel", "web", web, height, "its height")
    room = min(width / 2 - flange, height - web)
    r = _root(root, ROOT_OF_ANGLE * max(web, flange), room)
    x, i = width / 2, width / 2 - flange
    outline = [
        [-x, 0], [x, 0], [x, height], [i, height], [i, web + r], [i - r, web],
        [-i + r, web], [-i, web + r], [-i, height], [-x, height],
    ]  # fmt: skip
    return _laid(drawn_out(_distinct(outline), length), along)


def beam(
    width: float, height: float, web: float, flange: float, length: float,
    along: Along = Along.X, root: float | None = None,
) -> Mesh:  # fmt: skip
    """Beam (I or H) with its web upright: ``width`` of the flanges, ``height`` over all.

    ``root``: the rounding between web and flange, at most; 2.5 of the thicker one if it is not
    said. Filled.
    """
    require_sizes("a beam", width=width, height=height, web=web, flange=flange, length=length)
    require_less("a beam", "web", web, width, "its width")
    require_less("a beam", "flange", flange, height / 2, "half its height")
    room = min((width - web) / 2, height / 2 - flange)
    r = _root(root, ROOT_OF_BEAM * max(web, flange), room)
    x, w, h, f = width / 2, web / 2, height, flange
    right = [
        [-x, 0], [x, 0], [x, f], [w + r, f], [w, f + r], [w, h - f - r], [w + r, h - f],
        [x, h - f], [x, h],
    ]  # fmt: skip
    left = [
        [-x, h],
        [-x, h - f],
        [-w - r, h - f],
        [-w, h - f - r],
        [-w, f + r],
        [-w - r, f],
        [-x, f],
    ]
    return _laid(drawn_out(_distinct(right + left), length), along)


def _root(said: float | None, likely: float, room: float) -> float:
    """Return the rounding of an inner corner: as said, else as large as is likely, if it fits.

    The rounding lies behind the straight line from one of its ends to the other: that is drawn.
    """
    return min(likely if said is None else said, room)


def _distinct(corners: list[list[float]]) -> Array:
    """Leave out corners that are the one before them: no rounding, or one as large as a leg."""
    kept = [
        corner
        for k, corner in enumerate(corners)
        if not np.allclose(corner, corners[k - 1], rtol=0.0, atol=1e-9)
    ]
    return np.array(kept, dtype=float)
