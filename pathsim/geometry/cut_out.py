"""What is left of a mesh outside a zone."""

from __future__ import annotations

from typing import Protocol

import numpy as np

from pathsim.geometry.mesh import Mesh
from pathsim.transforms import Array, BoolArray


class Zone(Protocol):
    """A part of space that triangles can be told to be in."""

    def sort(self, triangles: Array) -> tuple[BoolArray, BoolArray]:
        """Tell which of ``triangles (n, 3, 3)`` lie wholly inside, and which wholly outside."""
        ...


def cut_out(mesh: Mesh, zone: Zone, finest: float) -> Mesh | None:
    """Return the mesh without what lies inside a zone; None where nothing is left.

    Triangles across the zone's border are halved until no side is longer than ``finest`` m, and
    kept then: nothing outside the zone is ever lost, and of the inside at most that much is kept.
    """
    triangles = mesh.vertices[mesh.faces]
    kept = []
    while len(triangles):
        inside, outside = zone.sort(triangles)
        across = np.flatnonzero(~(inside | outside))
        corners = triangles[across]
        a, b, c = corners.transpose(1, 2, 0)
        sides = np.array([_square(b - a), _square(c - b), _square(a - c)])
        longest = sides.argmax(axis=0)
        is_fine = sides[longest, np.arange(len(across))] <= finest * finest
        done = outside.copy()
        done[across[is_fine]] = True
        kept.append(triangles[done])
        triangles = halved(corners[~is_fine], longest[~is_fine])
    rest = np.concatenate(kept)
    if not len(rest):
        return None
    return Mesh(rest.reshape(-1, 3), np.arange(3 * len(rest)).reshape(-1, 3), is_cut=True)


def _square(ways: Array) -> Array:
    """Squares ``(n,)`` of the lengths of ``ways (3, n)``."""
    x, y, z = ways
    return np.asarray(x * x + y * y + z * z)


def halved(triangles: Array, longest: np.ndarray) -> Array:
    """Return two halves ``(2 n, 3, 3)`` of each triangle, parted in its ``longest (n,)`` side."""
    row = np.arange(len(triangles))
    a, b, c = (triangles[row, (longest + k) % 3] for k in range(3))
    middle = (a + b) / 2
    return np.concatenate([np.stack([a, middle, c], axis=1), np.stack([middle, b, c], axis=1)])
