"""Trees of meshes, made once."""

from __future__ import annotations

import numpy as np

from pathsim.clearance.fast import build
from pathsim.clearance.fast.records import BoxTree, SphereTree
from pathsim.clearance.fast.split import split
from pathsim.clearance.fast.tree_file import TreeFile, load_tree, save_tree
from pathsim.model import Mesh

#: Building is faster than reading a file below this many triangles.
_WORTH_KEEPING = 20_000


def box_tree(mesh: Mesh) -> BoxTree:
    """Return the tree of boxes over a mesh, in the mesh's frame."""
    tree = _tree(mesh)
    return BoxTree(*tree)


def sphere_tree(mesh: Mesh) -> SphereTree:
    """Return the tree of spheres and turned boxes over a mesh, in the mesh's frame."""
    tree = _tree(mesh)
    sphere, brick = build.bricks(tree.triangles, tree.links)
    return SphereTree(sphere, brick, tree.links, tree.triangles)


def _tree(mesh: Mesh) -> TreeFile:
    keep = len(mesh.faces) >= _WORTH_KEEPING
    if keep:
        kept = load_tree(mesh)
        if kept is not None:
            return kept
    triangles = mesh.vertices[mesh.faces]
    order, links = split(triangles)
    triangles = np.ascontiguousarray(triangles[order])
    tree = TreeFile(build.boxes(triangles, links), links, triangles, order)
    if keep:
        save_tree(mesh, tree)
    return tree
