"""Meshes and lines of a scene as the drawing library takes them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from vtkmodules.util import numpy_support
from vtkmodules.vtkCommonCore import vtkPoints
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
from vtkmodules.vtkFiltersCore import vtkFeatureEdges, vtkPolyDataNormals

from pathsim.geometry.equal_rows import first_equal
from pathsim.scene.palette import Colour
from pathsim.scene.records import PathLine, SceneMesh
from pathsim.transforms import Array, IntArray, apply

_numpy: Any = numpy_support  # it tells no types
#: From dash to dash, m.
DASH = 0.012
#: Sharper edges are drawn, deg.
CREASE = 35.0
#: Vertices are one where they are equal in so many steps a metre.
_STEPS = 1e7


def rgb(colour: Colour) -> tuple[float, float, float]:
    """Colour as shares of one."""
    return (colour[0] / 255, colour[1] / 255, colour[2] / 255)


def polydata(mesh: SceneMesh, T: Array | None = None) -> Any:
    """Triangles with vertices at one place merged: edges and smoothing need neighbours.

    ``T (4, 4)``: moved by it.
    """
    steps = np.rint(mesh.vertices * _STEPS).astype(np.int64)
    first, like = first_equal(steps)
    number = np.empty(len(steps), dtype=np.int64)
    number[first] = np.arange(len(first))
    places = steps[first] / _STEPS
    found = _of(places if T is None else apply(T, places))
    found.SetPolys(_cells(3 * np.arange(len(mesh.faces) + 1), number[like][mesh.faces].ravel()))
    return found


def with_normals(data: Any, *, is_split: bool) -> Any:
    """Return triangles with normals at their vertices; ``is_split``: sharp edges stay sharp."""
    made = vtkPolyDataNormals()
    made.SetInputData(data)
    made.SetSplitting(is_split)
    made.SetFeatureAngle(CREASE)
    made.SetComputeCellNormals(False)
    made.Update()
    return made.GetOutput()


def grown(data: Any, by: float) -> Any:
    """Return a mesh grown along the normals of its vertices, m."""
    shell = with_normals(data, is_split=False)
    points = _numpy.vtk_to_numpy(shell.GetPoints().GetData())
    found = _of(points + by * _numpy.vtk_to_numpy(shell.GetPointData().GetNormals()))
    found.SetPolys(shell.GetPolys())
    return found


def is_solid(mesh: SceneMesh, data: Any) -> bool:
    """Tell whether a mesh is closed and its triangles look outwards; ``data``: it as drawn."""
    a, b, c = mesh.vertices[mesh.faces].transpose(1, 0, 2)
    is_outward = float(np.einsum("ij,ij->", a, np.cross(b, c))) > 0
    return is_outward and not is_drawn(_edges(data, sharper_than=None))


def segments(path: PathLine, chosen: np.ndarray) -> Any | None:
    """Segments of a path as lines, runs of neighbours as one; None when there are none."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], chosen, [False]]).astype(int)))
    if len(edges) == 0:
        return None
    runs = [np.arange(f, e + 1) for f, e in zip(edges[::2], edges[1::2], strict=True)]
    return _lines(path.points, runs)


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
    return _lines(points, np.arange(len(points) // 2 * 2).reshape(-1, 2))


def chain(points: Array) -> Any:
    """Return one line through points ``(n, 3)``."""
    return _lines(points, [np.arange(len(points))])


def dashed(points: Array, dash: float = DASH) -> Any | None:
    """Dashes of equal length along a line ``(n, 3)``; None where it has no length."""
    way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    if way[-1] < 1e-9:
        return None
    count = max(int(way[-1] / dash), 1)
    at = (np.arange(count)[:, None] + np.linspace(0, 0.55, 6)) * way[-1] / count
    return _lines(_along(points, way, at.ravel()), np.arange(at.size).reshape(at.shape))


def _along(points: Array, way: Array, at: Array) -> Array:
    return np.stack([np.interp(at, way, points[:, i]) for i in range(3)], -1)


def sharp_edges(data: Any) -> Any:
    """Return the sharp edges of a mesh, and those of holes."""
    return _edges(data, sharper_than=CREASE)


def is_drawn(data: Any) -> bool:
    """Tell whether there is anything to draw."""
    return bool(data.GetNumberOfCells())


def _edges(data: Any, *, sharper_than: float | None) -> Any:
    """Return the edges of holes, and those that are sharper than an angle, deg; None: none."""
    found = vtkFeatureEdges()
    found.SetInputData(data)
    found.SetBoundaryEdges(True)
    found.SetFeatureEdges(sharper_than is not None)
    if sharper_than is not None:
        found.SetFeatureAngle(sharper_than)
    found.SetNonManifoldEdges(False)
    found.SetManifoldEdges(False)
    found.Update()
    return found.GetOutput()


def _of(places: Array) -> Any:
    """Return data with points ``(n, 3)`` and no cells yet."""
    points, found = vtkPoints(), vtkPolyData()
    points.SetData(_numpy.numpy_to_vtk(np.ascontiguousarray(places), deep=True))
    found.SetPoints(points)
    return found


def _lines(places: Array, runs: Sequence[IntArray] | IntArray) -> Any:
    """Return lines through points ``(n, 3)``; each of ``runs`` is the points of one, in order."""
    found = _of(np.asarray(places, dtype=float))
    ends = np.concatenate([[0], np.cumsum([len(run) for run in runs])])
    found.SetLines(_cells(ends, np.concatenate(list(runs))))
    return found


def _cells(ends: IntArray, corners: IntArray) -> Any:
    """Return cells; the k-th has the corners from ``ends[k]`` to ``ends[k + 1]``."""
    found = vtkCellArray()
    found.SetData(*(
        _numpy.numpy_to_vtkIdTypeArray(np.ascontiguousarray(numbers, dtype=np.int64), deep=True)
        for numbers in (ends, corners)
    ))  # fmt: skip
    return found


def before_others(actor: Any, order: float) -> None:
    """Draw lines before what is as far away, the lower ``order`` the more."""
    mapper = actor.GetMapper()
    mapper.SetResolveCoincidentTopologyToPolygonOffset()
    mapper.SetRelativeCoincidentTopologyLineOffsetParameters(order, order * 2)
