"""Whether a point lies inside a mesh, by the same rules as the plain one, in kernels."""

from __future__ import annotations

import numpy as np

from pathsim.clearance.containment import RAYS, Solid
from pathsim.clearance.fast.entry import ROUNDING
from pathsim.kernels.jit import kernel
from pathsim.kernels.vectors import Numbers, cross, dot, length, row, sub
from pathsim.transforms import Array


class FastSolid(Solid):
    """A mesh split into its components; ``Solid`` says what inside means."""

    def _winding(self, point: Array, part: np.ndarray) -> float:
        return float(winding(self._vertices, part, point))

    def _most_rays_cross_oddly(self, point: Array, part: np.ndarray) -> bool:
        odd = sum(int(count_crossed(self._vertices, part, point, ray)) % 2 for ray in RAYS)
        return odd * 2 > len(RAYS)

    def may_hold(self, T: Array, points: Array, *, back: bool) -> bool:
        """Tell whether any of ``points (n, 3)`` is in the box of a component.

        Of the points as ``T (4, 4)`` places them, or with ``back`` as its inverse does.
        """
        return bool(any_in_boxes(T, back, points, self._low, self._high))


@kernel
def any_in_boxes(T: Numbers, back: bool, points: Numbers, low: Numbers, high: Numbers) -> bool:
    """Tell whether any of ``points (n, 3)``, placed by ``T``, is in a box ``low, high (m, 3)``."""
    for i in range(len(points)):
        x, y, z = points[i, 0], points[i, 1], points[i, 2]
        if back:
            a, b, c = x - T[0, 3], y - T[1, 3], z - T[2, 3]
            x = T[0, 0] * a + T[1, 0] * b + T[2, 0] * c
            y = T[0, 1] * a + T[1, 1] * b + T[2, 1] * c
            z = T[0, 2] * a + T[1, 2] * b + T[2, 2] * c
        else:
            a, b, c = x, y, z
            x = T[0, 0] * a + T[0, 1] * b + T[0, 2] * c + T[0, 3]
            y = T[1, 0] * a + T[1, 1] * b + T[1, 2] * c + T[1, 3]
            z = T[2, 0] * a + T[2, 1] * b + T[2, 2] * c + T[2, 3]
        for j in range(len(low)):
            if (
                low[j, 0] - ROUNDING <= x <= high[j, 0] + ROUNDING
                and low[j, 1] - ROUNDING <= y <= high[j, 1] + ROUNDING
                and low[j, 2] - ROUNDING <= z <= high[j, 2] + ROUNDING
            ):
                return True
    return False


@kernel
def winding(vertices: Numbers, faces: Numbers, point: Numbers) -> float:
    """Sum of solid angles over 4 pi (Van Oosterom and Strackee, 1983)."""
    p = (point[0], point[1], point[2])
    total = 0.0
    for i in range(len(faces)):
        a = sub(row(vertices, faces[i, 0]), p)
        b = sub(row(vertices, faces[i, 1]), p)
        c = sub(row(vertices, faces[i, 2]), p)
        la, lb, lc = length(a), length(b), length(c)
        volume = dot(a, cross(b, c))
        below = la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb
        total += np.arctan2(volume, below)
    return total / (2.0 * np.pi)


@kernel
def count_crossed(vertices: Numbers, faces: Numbers, point: Numbers, ray: Numbers) -> int:
    """How many triangles a ray from a point goes through (Moeller and Trumbore, 1997)."""
    p, d = (point[0], point[1], point[2]), (ray[0], ray[1], ray[2])
    count = 0
    for i in range(len(faces)):
        a = row(vertices, faces[i, 0])
        e1, e2 = sub(row(vertices, faces[i, 1]), a), sub(row(vertices, faces[i, 2]), a)
        h = cross(d, e2)
        determinant = dot(e1, h)
        if abs(determinant) < 1e-18:
            continue
        s = sub(p, a)
        u = dot(s, h) / determinant
        if u < 0.0 or u > 1.0:
            continue
        q = cross(s, e1)
        v = dot(d, q) / determinant
        if v < 0.0 or u + v > 1.0:
            continue
        if dot(e2, q) / determinant > 0.0:
            count += 1
    return count
