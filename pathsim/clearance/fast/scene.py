"""Sphere trees of several pieces behind each other, as one array for the kernels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pathsim.clearance.fast.memory import Memory
from pathsim.clearance.fast.records import SphereTree
from pathsim.clearance.fast.split import FIRST, LEFT
from pathsim.model import Mesh, Piece


@dataclass(frozen=True, eq=False)
class PieceTrees:
    """All spheres; ``root`` is the first row of each piece."""

    tree: SphereTree
    root: dict[Piece, int]


def piece_trees(pieces: Sequence[Piece], memory: Memory) -> PieceTrees:
    """Put the sphere trees of pieces behind each other."""
    meshes = [piece.mesh for piece in pieces]
    tree, first = memory.behind_each_other(meshes, lambda: _behind_each_other(meshes, memory))
    return PieceTrees(tree, dict(zip(pieces, first, strict=True)))


def _behind_each_other(meshes: Sequence[Mesh], memory: Memory) -> tuple[SphereTree, list[int]]:
    """One tree of all spheres, and the first row of each mesh's."""
    first, parts, node, triangle = [], [], 0, 0
    for tree in map(memory.sphere_tree, meshes):
        first.append(node)
        links = tree.links.copy()
        links[:, :FIRST] = np.where(links[:, :FIRST] < 0, -1, links[:, :FIRST] + node)
        links[:, FIRST] += triangle
        parts.append(SphereTree(tree.sphere, tree.brick, links, tree.triangles))
        node, triangle = node + len(links), triangle + len(tree.triangles)
    columns = [np.concatenate(arrays) for arrays in zip(*parts, strict=True)]
    return SphereTree(*columns), first


assert (LEFT, FIRST) == (0, 2)  # noqa: S101 - children stand before the triangles
