"""Bounding volume hierarchies (BVH): AABBs for what stands, spheres and OBBs for what moves.

Node 0 is the root; a node's children come behind it. ``links (n, 4)`` holds for each node the
two children (-1 for a leaf), and the first triangle and the number of triangles below it in
the order of the tree (``bvh_split.py``). Trees of large meshes are kept on disk (``bvh_file.py``).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pathsim.geometry.bvh_file import TreeFile, load_tree, save_tree
from pathsim.geometry.bvh_split import split
from pathsim.geometry.mesh import ROUNDING, Mesh
from pathsim.geometry.principal_axes import principal_axes
from pathsim.kernels.jit import kernel_allocating
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


@kernel_allocating
def _spread(triangles: KernelArray, first: int, last: int) -> KernelArray:
    """Covariance ``(3, 3)`` of the corners of triangles, not divided by their number."""
    mean, spread = np.zeros(3), np.zeros((3, 3))
    for i in range(first, last):
        for j in range(3):
            for k in range(3):
                mean[k] += triangles[i, j, k] / (3.0 * (last - first))
    for i in range(first, last):
        for j in range(3):
            for k in range(3):
                for n in range(3):
                    spread[k, n] += (triangles[i, j, k] - mean[k]) * (triangles[i, j, n] - mean[n])
    return spread


@kernel_allocating
def _extent(triangles: KernelArray, first: int, last: int, axes: KernelArray, low: KernelArray,
            high: KernelArray) -> float:  # fmt: skip
    """Write the range of corners along the columns of ``axes (3, 3)``; return their half sum."""
    total = 0.0
    for n in range(3):
        low[n], high[n] = np.inf, -np.inf
        for i in range(first, last):
            for j in range(3):
                value = 0.0
                for k in range(3):
                    value += triangles[i, j, k] * axes[k, n]
                low[n], high[n] = min(low[n], value), max(high[n], value)
        total += (high[n] - low[n]) / 2.0
    return total


@kernel_allocating
def spheres_and_obbs(triangles: KernelArray, links: KernelArray) -> tuple[KernelArray, KernelArray]:
    """Return turned boxes round all nodes' triangles, and spheres with the same centres.

    Returns ``sphere (n, 4)``, centre and radius, and ``obb (n, 9)``: three half sides as
    vectors. Their directions are those in which corners spread, or the frame's if that is
    smaller; whichever they are, all triangles below a node lie in its sphere and in its box.
    """
    sphere, obb = np.empty((len(links), 4)), np.empty((len(links), 9))
    low, high, other_low, other_high = np.empty(3), np.empty(3), np.empty(3), np.empty(3)
    turned, straight = np.empty((3, 3)), np.eye(3)
    for node in range(len(links)):
        first = links[node, 2]
        last = first + links[node, 3]
        principal_axes(_spread(triangles, first, last), turned)
        axes = turned
        turned_size = _extent(triangles, first, last, axes, low, high)
        if _extent(triangles, first, last, straight, other_low, other_high) <= turned_size:
            axes = straight
            low[:], high[:] = other_low, other_high
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


#: Building is faster than reading a file below this many triangles.
_WORTH_KEEPING = 20_000


def box_tree(mesh: Mesh) -> BoxTree:
    """Return the tree of boxes over a mesh, in the mesh's frame."""
    tree = _tree(mesh)
    return BoxTree(*tree)


def sphere_tree(mesh: Mesh) -> SphereTree:
    """Return the tree of spheres and turned boxes over a mesh, in the mesh's frame."""
    tree = _tree(mesh)
    sphere, obb = spheres_and_obbs(tree.triangles, tree.links)
    return SphereTree(sphere, obb, tree.links, tree.triangles)


def _tree(mesh: Mesh) -> TreeFile:
    keep = len(mesh.faces) >= _WORTH_KEEPING
    if keep:
        kept = load_tree(mesh)
        if kept is not None:
            return kept
    triangles = mesh.vertices[mesh.faces]
    order, links = split(triangles)
    triangles = np.ascontiguousarray(triangles[order])
    tree = TreeFile(boxes(triangles, links), links, triangles, order)
    if keep:
        save_tree(mesh, tree)
    return tree
