"""Meshes and lines of a scene as the drawing library takes them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyvista as pv

from pathsim.scene.palette import Colour
from pathsim.scene.records import PathLine, SceneMesh
from pathsim.transforms import Array

#: From dash to dash, m.
DASH = 0.012
#: Sharper edges are drawn, deg.
CREASE = 35.0


def rgb(colour: Colour) -> tuple[float, float, float]:
    """Colour as shares of one."""
    return (colour[0] / 255, colour[1] / 255, colour[2] / 255)


def polydata(mesh: SceneMesh) -> Any:
    """Triangles with vertices at one place merged: edges and smoothing need neighbours."""
    places, merged = np.unique(np.round(mesh.vertices, 7), axis=0, return_inverse=True)
    corners = merged.reshape(-1)[mesh.faces]
    faces = np.column_stack([np.full(len(corners), 3), corners]).ravel()
    return pv.PolyData(places, faces)


def is_solid(mesh: SceneMesh, data: Any) -> bool:
    """Tell whether a mesh is closed and its triangles look outwards; ``data``: it as drawn."""
    a, b, c = mesh.vertices[mesh.faces].transpose(1, 0, 2)
    return float(np.einsum("ij,ij->", a, np.cross(b, c))) > 0 and data.n_open_edges == 0


def segments(path: PathLine, chosen: np.ndarray) -> Any | None:
    """Segments of a path as lines, runs of neighbours as one; None when there are none."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], chosen, [False]]).astype(int)))
    if len(edges) == 0:
        return None
    cells: list[int] = []
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        cells += [last - first + 1, *range(first, last + 1)]
    return pv.PolyData(np.asarray(path.points), lines=np.array(cells))


def dashes(path: PathLine, chosen: np.ndarray) -> list[Array]:
    """Dashes ``(n, 3)`` of equal length along the chosen segments of a path."""
    way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path.points, axis=0), axis=1))])
    edges = np.flatnonzero(np.diff(np.concatenate([[False], chosen, [False]]).astype(int)))
    found = []
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        start, end = way[first], way[last]
        count = max(int((end - start) / DASH), 1)
        for k in range(count):
            at = start + (end - start) * (k + np.array([0.0, 0.2, 0.4, 0.6])) / count
            found.append(np.stack([np.interp(at, way, path.points[:, i]) for i in range(3)], -1))
    return found


def pairs(points: Array) -> Any:
    """Lines from each even point ``(n, 3)`` to the next."""
    count = len(points) // 2
    cells = np.column_stack([np.full(count, 2), np.arange(count) * 2, np.arange(count) * 2 + 1])
    return pv.PolyData(points, lines=cells.ravel())


def chain(points: Array) -> Any:
    """Return one line through points ``(n, 3)``."""
    return pv.PolyData(points, lines=np.array([len(points), *range(len(points))]))


def dashed(points: Array, dash: float = DASH) -> Any | None:
    """Dashes of equal length along a line ``(n, 3)``; None where it has no length."""
    way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    if way[-1] < 1e-9:
        return None
    count = max(int(way[-1] / dash), 1)
    parts = [chain(_along(points, way, (k + np.linspace(0, 0.55, 6)) * way[-1] / count))
             for k in range(count)]  # fmt: skip
    return pv.merge(parts)


def _along(points: Array, way: Array, at: Array) -> Array:
    return np.stack([np.interp(at, way, points[:, i]) for i in range(3)], -1)


def sharp_edges(data: Any) -> Any:
    """Return the sharp edges of a mesh, and those of holes."""
    return data.extract_feature_edges(
        CREASE, boundary_edges=True, non_manifold_edges=False, manifold_edges=False
    )


def before_others(actor: Any, order: float) -> None:
    """Draw lines before what is as far away, the lower ``order`` the more."""
    mapper = actor.GetMapper()
    mapper.SetResolveCoincidentTopologyToPolygonOffset()
    mapper.SetRelativeCoincidentTopologyLineOffsetParameters(order, order * 2)
