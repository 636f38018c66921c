"""Sphere trees of several pieces behind each other, as one array for the kernels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pathsim.clearance.fast.memory import Memory
from pathsim.clearance.fast.records import SphereTree
from pathsim.clearance.fast.split import FIRST, LEFT
from pathsim.model import Piece


@dataclass(frozen=True, eq=False)
class PieceTrees:
    """All spheres; ``root`` is the first row of each piece."""

    tree: SphereTree
    root: dict[Piece, int]


def piece_trees(pieces: Sequence[Piece], memory: Memory) -> PieceTrees:
    """Put the sphere trees of pieces behind each other."""
    trees = [memory.sphere_tree(piece.mesh) for piece in pieces]
    root, parts, node, triangle = {}, [], 0, 0
    for piece, tree in zip(pieces, trees, strict=True):
        root[piece] = node
        links = tree.links.copy()
        links[:, :FIRST] = np.where(links[:, :FIRST] < 0, -1, links[:, :FIRST] + node)
        links[:, FIRST] += triangle
        parts.append(SphereTree(tree.sphere, tree.brick, links, tree.triangles))
        node, triangle = node + len(links), triangle + len(tree.triangles)
    columns = [np.concatenate(arrays) for arrays in zip(*parts, strict=True)]
    return PieceTrees(SphereTree(*columns), root)


assert (LEFT, FIRST) == (0, 2)  # noqa: S101 - children stand before the triangles
