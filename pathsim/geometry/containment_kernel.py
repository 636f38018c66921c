"""Whether a point lies inside a mesh, by the same rules as the plain one, in kernels.

The sum of solid angles looks at every triangle. Round a closed surface it is a whole number, and
that is how often any ray from the point goes out through it less how often it comes in; rays
find what they meet by the tree of boxes. Five rays are asked: where they do not all say the same,
as one through an edge might, and where a component is not closed, the angles decide.
"""

from __future__ import annotations

from functools import cached_property
from weakref import WeakKeyDictionary

import numpy as np

from pathsim.geometry.bvh import BoxTree, box_tree
from pathsim.geometry.bvh_split import COUNT, FIRST, LEFT, RIGHT, STACK
from pathsim.geometry.components_kernel import components
from pathsim.geometry.containment import RAYS, Solid, solid_of
from pathsim.geometry.mesh import ROUNDING, Mesh
from pathsim.geometry.rays import PARALLEL
from pathsim.kernels.jit import kernel, kernel_allocating
from pathsim.kernels.ready import are_ready
from pathsim.kernels.vectors import KernelArray, Vector, corner, cross, dot, length, row, sub
from pathsim.transforms import Array, IntArray


class FastSolid(Solid):
    """A mesh split into its components; ``Solid`` says what inside means."""

    def __init__(self, mesh: Mesh, tree: BoxTree) -> None:
        super().__init__(mesh)
        self._tree = tree
        self._part_in_tree = self._part_of[tree.order]

    def _split(self, mesh: Mesh) -> tuple[IntArray, IntArray, Array, Array]:
        return components(mesh.vertices, mesh.faces)

    @cached_property
    def _closed(self) -> list[bool]:
        """Which components, and last whether all of them, are closed; most are never asked."""
        closed = [self._is_closed(part) for part in self._parts]
        return [*closed, all(closed)]

    def holds(self, points: Array) -> bool:
        """Tell whether any of ``points (n, 3)`` is inside any component (``Solid``)."""
        inside_box = (points >= self._low[:, None]) & (points <= self._high[:, None])
        for place in np.flatnonzero(inside_box.all(axis=-1).any(axis=0)):
            point = np.ascontiguousarray(points[place])
            signed, crossed = ray_counts(
                self._tree, self._part_in_tree, point, RAYS, len(self._parts)
            )
            for part in np.flatnonzero(inside_box[:, place].all(axis=-1)).tolist():
                turns = signed[:, part]
                if self._closed[part] and (turns == turns[0]).all():
                    winds = bool(turns[0] != 0)
                else:
                    winds = abs(float(winding(self._vertices, self._bounded[part], point))) > 0.5
                if winds or int((crossed[:, part] % 2).sum()) * 2 > len(RAYS):
                    return True
        return False

    def may_hold(self, T: Array, points: Array, *, back: bool) -> bool:
        """Tell whether any of ``points (n, 3)`` is in the box of a component.

        Of the points as ``T (4, 4)`` places them, or with ``back`` as its inverse does.
        """
        return bool(any_in_boxes(T, back, points, self._low, self._high))


_FAST_SOLIDS: WeakKeyDictionary[Mesh, FastSolid] = WeakKeyDictionary()


def fast_solid_of(mesh: Mesh) -> Solid:
    """Return the components of a mesh, split once; the plain ones until kernels are ready.

    For many points in many meshes of thousands of triangles, such as beads.
    """
    if not are_ready():
        return solid_of(mesh)
    if mesh not in _FAST_SOLIDS:
        _FAST_SOLIDS[mesh] = FastSolid(mesh, box_tree(mesh))
    return _FAST_SOLIDS[mesh]


@kernel
def any_in_boxes(
    T: KernelArray, back: bool, points: KernelArray, low: KernelArray, high: KernelArray
) -> bool:
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
def winding(vertices: KernelArray, faces: KernelArray, point: KernelArray) -> float:
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
def _crosses(triangles: KernelArray, i: int, p: Vector, d: Vector) -> int:
    """Tell how a ray goes through a triangle: 1 out, -1 in, 0 not (Moeller and Trumbore, 1997)."""
    a = corner(triangles, i, 0)
    e1, e2 = sub(corner(triangles, i, 1), a), sub(corner(triangles, i, 2), a)
    h = cross(d, e2)
    determinant = dot(e1, h)
    if abs(determinant) < PARALLEL:
        return 0
    s = sub(p, a)
    u = dot(s, h) / determinant
    if u < 0.0 or u > 1.0:
        return 0
    q = cross(s, e1)
    v = dot(d, q) / determinant
    if v < 0.0 or u + v > 1.0 or not dot(e2, q) / determinant > 0.0:
        return 0
    return -1 if determinant > 0.0 else 1


@kernel
def _meets_box(box: KernelArray, node: int, p: Vector, d: Vector) -> bool:
    """Tell whether a ray, no number of whose direction is 0, may meet a box."""
    near, far = 0.0, np.inf
    for k in range(3):
        one = (box[node, k] - ROUNDING - p[k]) / d[k]
        other = (box[node, 3 + k] + ROUNDING - p[k]) / d[k]
        near, far = max(near, min(one, other)), min(far, max(one, other))
    return bool(near <= far)


@kernel_allocating
def ray_counts(tree: BoxTree, part_of: IntArray, point: KernelArray, rays: KernelArray,
               parts: int) -> tuple[IntArray, IntArray]:  # fmt: skip
    """Count what rays from a point go through, by component and, last, in all.

    Returns ``(rays, parts + 1)``: ways out less ways in, and all of them. Triangles of no part
    (-1) are left out.
    """
    signed = np.zeros((len(rays), parts + 1), np.int64)
    crossed = np.zeros((len(rays), parts + 1), np.int64)
    nodes = np.empty(STACK, np.int64)
    p = (point[0], point[1], point[2])
    for ray in range(len(rays)):
        d = (rays[ray, 0], rays[ray, 1], rays[ray, 2])
        nodes[0], filled = 0, 1
        while filled > 0:
            filled -= 1
            node = nodes[filled]
            if not _meets_box(tree.box, node, p, d):
                continue
            if tree.links[node, LEFT] >= 0:
                nodes[filled] = tree.links[node, RIGHT]
                nodes[filled + 1] = tree.links[node, LEFT]
                filled += 2
                continue
            first = tree.links[node, FIRST]
            for i in range(first, first + tree.links[node, COUNT]):
                way = _crosses(tree.triangles, i, p, d)
                if way != 0 and part_of[i] >= 0:
                    for part in (part_of[i], parts):
                        signed[ray, part] += way
                        crossed[ray, part] += 1
    return signed, crossed
