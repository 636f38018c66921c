"""Bounding volume hierarchies (BVH): AABBs for what stands, spheres and OBBs for what moves.

Node 0 is the root; a node's children come behind it. ``links (n, 4)`` holds for each node the
two children (-1 for a leaf), and the first triangle and the number of triangles below it in
the order of the tree (``bvh_split.py``). Trees of large meshes are kept on disk (``bvh_file.py``).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from pathsim.geometry.bvh_file import Use, load_tree, save_tree
from pathsim.geometry.bvh_split import split
from pathsim.geometry.mesh import ROUNDING, Mesh
from pathsim.geometry.principal_axes import principal_axes
from pathsim.kernels.jit import kernel, kernel_allocating
from pathsim.kernels.vectors import KernelArray
from pathsim.transforms import Array, IntArray


class BoxTree(NamedTuple):
    """Something that stands, in its own frame: ``box (n, 6)``, ``links``, ``triangles``.

    ``order (m,)``: which triangle of the mesh each of them is.
    """

    box: Array
    links: IntArray
    triangles: Array
    order: IntArray


class SphereTree(NamedTuple):
    """Something that moves, in its link's frame.

    ``sphere (n, 4)`` and ``obb (n, 9)``: round the triangles of each node
    (``spheres_and_obbs``); ``links``, ``triangles``.
    """

    sphere: Array
    obb: Array
    links: IntArray
    triangles: Array


@kernel_allocating
def boxes(triangles: KernelArray, links: KernelArray) -> KernelArray:
    """Boxes ``(n, 6)`` of all nodes: lowest corner, then highest."""
    result = np.empty((len(links), 6))
    for node in range(len(links) - 1, -1, -1):
        for k in range(3):
            low, high = np.inf, -np.inf
            if links[node, 0] >= 0:
                for side in range(2):
                    child = links[node, side]
                    low, high = min(low, result[child, k]), max(high, result[child, 3 + k])
            else:
                for i in range(links[node, 2], links[node, 2] + links[node, 3]):
                    for j in range(3):
                        value = triangles[i, j, k]
                        low, high = min(low, value), max(high, value)
            result[node, k], result[node, 3 + k] = low, high
    return result


@kernel
def _add_moments(
    triangles: KernelArray, links: KernelArray, node: int, moments: KernelArray
) -> None:
    """Write sums ``moments[node] (10,)`` over corners: how many, places, products of places.

    Of a leaf by its triangles, else by its children, which have theirs.
    """
    for k in range(10):
        moments[node, k] = 0.0
    if links[node, 0] >= 0:
        for side in range(2):
            for k in range(10):
                moments[node, k] += moments[links[node, side], k]
        return
    for i in range(links[node, 2], links[node, 2] + links[node, 3]):
        for j in range(3):
            x = triangles[i, j, 0] - triangles[0, 0, 0]
            y = triangles[i, j, 1] - triangles[0, 0, 1]
            z = triangles[i, j, 2] - triangles[0, 0, 2]
            moments[node, 0] += 1.0
            moments[node, 1] += x
            moments[node, 2] += y
            moments[node, 3] += z
            moments[node, 4] += x * x
            moments[node, 5] += y * y
            moments[node, 6] += z * z
            moments[node, 7] += x * y
            moments[node, 8] += x * z
            moments[node, 9] += y * z


@kernel
def _spread(moments: KernelArray, node: int, spread: KernelArray) -> None:
    """Write the covariance ``spread (3, 3)`` of the corners below a node, times their number."""
    n = moments[node, 0]
    x, y, z = moments[node, 1], moments[node, 2], moments[node, 3]
    spread[0, 0] = moments[node, 4] - x * x / n
    spread[1, 1] = moments[node, 5] - y * y / n
    spread[2, 2] = moments[node, 6] - z * z / n
    spread[0, 1] = spread[1, 0] = moments[node, 7] - x * y / n
    spread[0, 2] = spread[2, 0] = moments[node, 8] - x * z / n
    spread[1, 2] = spread[2, 1] = moments[node, 9] - y * z / n


@kernel
def _extent(triangles: KernelArray, first: int, last: int, axes: KernelArray, n: int
            ) -> tuple[float, float]:  # fmt: skip
    """Least and most of corners along column ``n`` of ``axes (3, 3)``."""
    x, y, z = axes[0, n], axes[1, n], axes[2, n]
    low, high = np.inf, -np.inf
    for i in range(first, last):
        a = triangles[i, 0, 0] * x + triangles[i, 0, 1] * y + triangles[i, 0, 2] * z
        b = triangles[i, 1, 0] * x + triangles[i, 1, 1] * y + triangles[i, 1, 2] * z
        c = triangles[i, 2, 0] * x + triangles[i, 2, 1] * y + triangles[i, 2, 2] * z
        low, high = min(low, a, b, c), max(high, a, b, c)
    return low, high


@kernel_allocating
def spheres_and_obbs(triangles: KernelArray, links: KernelArray) -> tuple[KernelArray, KernelArray]:
    """Return turned boxes round all nodes' triangles, and spheres with the same centres.

    Returns ``sphere (n, 4)``, centre and radius, and ``obb (n, 9)``: three half sides as
    vectors. Their directions are those in which corners spread, or the frame's if that is
    smaller; whichever they are, all triangles below a node lie in its sphere and in its box.
    """
    sphere, obb = np.empty((len(links), 4)), np.empty((len(links), 9))
    low, high, spread = np.empty(3), np.empty(3), np.empty((3, 3))
    turned, straight = np.empty((3, 3)), np.eye(3)
    box, moments = boxes(triangles, links), np.empty((len(links), 10))
    for node in range(len(links) - 1, -1, -1):
        first = links[node, 2]
        last = first + links[node, 3]
        _add_moments(triangles, links, node, moments)
        _spread(moments, node, spread)
        principal_axes(spread, turned)
        size, straight_size = 0.0, 0.0
        for n in range(3):
            low[n], high[n] = _extent(triangles, first, last, turned, n)
            size += high[n] - low[n]
            straight_size += box[node, 3 + n] - box[node, n]
        axes = turned
        if straight_size <= size:
            axes = straight
            for n in range(3):
                low[n], high[n] = box[node, n], box[node, 3 + n]
        for k in range(3):
            sphere[node, k] = 0.0
            for n in range(3):
                sphere[node, k] += axes[k, n] * (low[n] + high[n]) / 2.0
                # Rounding in the directions must not leave a corner outside.
                half = (high[n] - low[n]) / 2.0 + ROUNDING
                obb[node, 3 * n + k] = axes[k, n] * half
        farthest = 0.0
        for i in range(first, last):
            for j in range(3):
                x = triangles[i, j, 0] - sphere[node, 0]
                y = triangles[i, j, 1] - sphere[node, 1]
                z = triangles[i, j, 2] - sphere[node, 2]
                farthest = max(farthest, x * x + y * y + z * z)
        sphere[node, 3] = np.sqrt(farthest) + ROUNDING
    return sphere, obb


#: Reading a file takes a fifth of building from about here on, triangles; below it is all the same.
_WORTH_KEEPING = 600


def box_tree(mesh: Mesh) -> BoxTree:
    """Return the tree of boxes over a mesh, in the mesh's frame."""
    return BoxTree(*_kept(mesh, Use.STANDING, _built_to_stand))


def sphere_tree(mesh: Mesh) -> SphereTree:
    """Return the tree of spheres and turned boxes over a mesh, in the mesh's frame."""
    return SphereTree(*_kept(mesh, Use.MOVING, _built_to_move))


def _kept(
    mesh: Mesh, use: Use, built: Callable[[Mesh], Sequence[np.ndarray]]
) -> Sequence[np.ndarray]:
    """Return the arrays of a tree as they are kept on disk, or built, and kept from now on."""
    keep = len(mesh.faces) >= _WORTH_KEEPING and not mesh.is_fleeting
    if keep:
        kept = load_tree(mesh, use)
        if kept is not None:
            return kept
    tree = built(mesh)
    if keep:
        save_tree(mesh, use, tree)
    return tree


def _built_to_stand(mesh: Mesh) -> BoxTree:
    triangles, order, links = _divided(mesh)
    return BoxTree(boxes(triangles, links), links, triangles, order)


def _built_to_move(mesh: Mesh) -> SphereTree:
    triangles, _, links = _divided(mesh)
    sphere, obb = spheres_and_obbs(triangles, links)
    return SphereTree(sphere, obb, links, triangles)


def _divided(mesh: Mesh) -> tuple[Array, IntArray, IntArray]:
    """Return a mesh's triangles in the order of its tree, that order, and the tree's links."""
    triangles = mesh.vertices[mesh.faces]
    order, links = split(triangles)
    return np.ascontiguousarray(triangles[order]), order, links
