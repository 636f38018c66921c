"""What a mesh file is: size in each unit, triangles, whether it closes, how thick it is."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pathsim.errors import MeshError
from pathsim.geometry.mesh import Mesh
from pathsim.geometry.surface import PartSurface
from pathsim.mesh_files.closedness import open_edges
from pathsim.mesh_files.reading import (
    FORMATS,
    NAMES_PARTS,
    OWN_UNIT,
    drawn_to,
    mesh_of,
    read_mesh,
    read_parts,
)
from pathsim.transforms import Array
from pathsim.units import factor

#: Longest sides that something in a welding cell has (common practice), m.
USUAL = (0.012, 8.0)
UNITS = ("mm", "cm", "in", "m")
#: Thickness is looked at in so many places, and so far behind the surface, m.
_PLACES, _BEHIND = 200, 1e-7


@dataclass(frozen=True, eq=False)
class MeasuredPart:
    """One part of a file: the name by which a cell may ask for it, triangles, its box's sides m."""

    name: str
    triangles: int
    size: Array


@dataclass(frozen=True, eq=False)
class MeasuredMesh:
    """A mesh file as it was read in ``unit`` ("" where the file says it itself).

    ``plausible``: units with which it is as large as things in a cell are, the likeliest first;
    empty where the file says its own. ``parts``: where the format keeps them apart.
    ``open_edges``: 0 where it is closed. ``thickness`` m: least and median of what was looked at,
    from the surface through to the other side; None where nothing is closed enough to tell.
    ``drawn_to`` m: how far the triangles may be off the surface that the file describes.
    """

    path: Path
    unit: str
    mesh: Mesh
    plausible: tuple[str, ...]
    parts: tuple[MeasuredPart, ...]
    open_edges: int
    flat: int
    thickness: tuple[float, float] | None
    drawn_to: float

    @property
    def size(self) -> Array:
        """Length of its box along x, y and z ``(3,)``, m."""
        return np.asarray(np.ptp(self.mesh.bounds, axis=0))


def measured_mesh(path: Path, unit: str = "") -> MeasuredMesh:
    """Read and measure a file. ``unit``: else the likeliest. Raises MeshError as ``read_mesh``."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise MeshError(f"'{path}' cannot be read ({error.strerror or error})") from error
    ending = path.suffix.lower()
    try:
        said = unit
        if ending in OWN_UNIT or not unit:
            said = "" if ending in OWN_UNIT else "m"
        mesh = read_mesh(path, unit if ending in OWN_UNIT else said, raw)
        plausible = (
            () if ending in (*OWN_UNIT, ".glb") else _plausible(mesh, factor(said, "length"))
        )
        if not unit and plausible and ending in FORMATS:
            said = plausible[0]
            mesh = read_mesh(path, said, raw)
        parts = _measured_parts(path, said, raw)
    except MeshError as error:
        raise MeshError(f"{path.name}: {error}") from error
    corners = mesh.vertices[mesh.faces]
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]),
                          axis=1)  # fmt: skip
    return MeasuredMesh(
        path, said, mesh, plausible, parts, open_edges(mesh.vertices, mesh.faces),
        int((area == 0).sum()), _thickness(mesh, area), drawn_to(path),
    )  # fmt: skip


def _measured_parts(path: Path, unit: str, raw: bytes) -> tuple[MeasuredPart, ...]:
    """Measure each part of a file whose format keeps them apart."""
    if path.suffix.lower() not in NAMES_PARTS:
        return ()
    parts = [part for part in read_parts(path, unit, raw) if len(part.faces)]
    meshes = [mesh_of([part], path, unit) for part in parts]
    return tuple(
        MeasuredPart(part.name, len(part.faces), np.asarray(np.ptp(mesh.bounds, axis=0)))
        for part, mesh in zip(parts, meshes, strict=True)
    )


def _plausible(mesh: Mesh, read_as: float) -> tuple[str, ...]:
    """Units with which the longest side is usual, the likeliest first."""
    longest = float(np.ptp(mesh.bounds, axis=0).max()) / read_as
    return tuple(u for u in UNITS if USUAL[0] <= longest * factor(u, "length") <= USUAL[1])


def _thickness(mesh: Mesh, area: Array) -> tuple[float, float] | None:
    """Least and median way, m, from places on the surface straight in to the other side."""
    solid = np.flatnonzero(area > 0)
    if not len(solid):
        return None
    # Evenly over the surface, and the same places each time.
    ends = np.cumsum(area[solid])
    chosen = solid[np.searchsorted(ends, (np.arange(_PLACES) + 0.5) / _PLACES * ends[-1])]
    a, b, c = np.moveaxis(mesh.vertices[mesh.faces[chosen]], 1, 0)
    normal = np.cross(b - a, c - a)
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    surface = PartSurface.of(mesh)
    longest = float(np.linalg.norm(np.ptp(mesh.bounds, axis=0)))
    inwards = -mesh.outwards * normal
    # Off the middle: straight behind that there often is an edge, on which rounding decides.
    places = 0.43 * a + 0.31 * b + 0.26 * c
    met = surface.first_met(places + _BEHIND * inwards, inwards, longest)
    met = met[np.isfinite(met)] + _BEHIND
    return (float(met.min()), float(np.median(met))) if len(met) else None
