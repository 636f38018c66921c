"""Meshes from STL, OBJ, PLY and GLB files, in metres."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np

from pathsim.errors import MeshError
from pathsim.geometry.mesh import Mesh
from pathsim.mesh_files.binary_stl import binary_stl
from pathsim.mesh_files.counts import announced_triangles, is_binary_stl
from pathsim.mesh_files.obj_text import plain_obj, plain_triangles
from pathsim.transforms import frozen
from pathsim.units import factor

FORMATS = (".stl", ".obj", ".ply", ".glb")
#: GLB says its unit in its standard; a file that is said to be in another one is a mistake.
_METRES_ONLY = (".glb",)
_LARGEST_FILE = 400_000_000  # bytes
_Y_TO_Z = frozen(np.array([[1, 0, 0, 0], [0, 0, -1, 0], [0, 1, 0, 0], [0, 0, 0, 1]]))


def read_mesh(
    path: Path, unit: str, raw: bytes, scale: tuple[float, float, float] = (1.0, 1.0, 1.0)
) -> Mesh:
    """Return the mesh of a file's bytes with ``unit`` (mm, cm, m, in) turned into metres.

    ``scale``: factors along x, y and z of the file, on top of the unit.

    Raises MeshError with what is wrong: unknown ending, nothing in it, lost triangles,
    numbers that are not finite, a unit that cannot be.
    """
    ending = path.suffix.lower()
    if ending not in FORMATS:
        raise MeshError(f"files ending in '{ending}' are not read; use {', '.join(FORMATS)}")
    if ending in _METRES_ONLY and unit != "m":
        raise MeshError(f"a GLB file is in metres by its standard, the cell says '{unit}'")
    if len(raw) > _LARGEST_FILE:
        raise MeshError(f"the file has {len(raw)} bytes, more than {_LARGEST_FILE}")
    if len(raw) == 0:
        raise MeshError("the file is empty")
    said: int | None
    read = None
    if ending == ".obj":
        raw, said = plain_obj(raw)
        read = plain_triangles(raw)
    else:
        said = announced_triangles(raw, ending)
    if ending == ".stl" and is_binary_stl(raw):
        read = binary_stl(raw)
    vertices, faces = read or _triangles(_as_text(raw, ending), ending)
    if said is not None and len(faces) < said:
        raise MeshError(f"the file has {said} triangles but only {len(faces)} could be read")
    if len(faces) == 0:
        raise MeshError("no triangles could be read from it: empty, cut off, or another format")
    return Mesh(vertices * factor(unit, "length") * np.array(scale), faces)


def load_mesh(path: str | Path, unit: str, up: str | None = None) -> Mesh:
    """Return the mesh of a file, its ``unit`` (mm, cm, m, in) turned into metres.

    ``up``: the file's axis that points up, "z" (as when nothing is said) or "y"; a GLB file needs
    the word, since not every program keeps to its standard. Raises MeshError with the file's name
    and what is wrong, UnitError for any other unit.
    """
    place = Path(path)
    if up not in (None, "y", "z"):
        raise MeshError(f"{place.name}: came up={up!r}; expected 'y' or 'z'")
    if up is None and place.suffix.lower() == ".glb":
        raise MeshError(
            f"{place.name}: nothing says which axis is up; expected up='y' (the standard's) or 'z'"
        )
    try:
        mesh = read_mesh(place, unit, place.read_bytes())
    except OSError as error:
        raise MeshError(f"{place.name}: cannot be read ({error.strerror or error})") from error
    except MeshError as error:
        raise MeshError(f"{place.name}: {error}") from error
    return stood_up(mesh) if up == "y" else mesh


def stood_up(mesh: Mesh) -> Mesh:
    """Return a mesh whose file has y up with z up: y becomes z, z becomes -y."""
    return mesh.moved(_Y_TO_Z)


def _triangles(raw: bytes, ending: str) -> tuple[np.ndarray, np.ndarray]:
    """All triangles of all geometries of a file, with the placements of its scene."""
    import trimesh

    try:
        scene: Any = trimesh.load_scene(
            io.BytesIO(raw), file_type=ending[1:], process=False, maintain_order=True,
            skip_materials=True,
        )  # fmt: skip
        parts = [part for part in scene.dump() if isinstance(part, trimesh.Trimesh)]
    except MemoryError:
        raise
    except Exception as error:
        # The readers raise whatever their parsing stumbles over (IndexError, KeyError,
        # struct.error, JSONDecodeError, ...): all of them mean that the file is broken.
        what = f"it cannot be read as {ending[1:].upper()} ({type(error).__name__})"
        raise MeshError(what) from error
    vertices: list[np.ndarray] = [np.zeros((0, 3))]
    faces: list[np.ndarray] = [np.zeros((0, 3), dtype=np.int64)]
    count = 0
    for part in parts:
        points = np.asarray(part.vertices, dtype=np.float64)
        corners = np.asarray(part.faces)
        if points.ndim != 2 or points.shape[1] != 3 or corners.ndim != 2 or corners.shape[1] != 3:
            raise MeshError("its vertices or triangles have a shape that makes no mesh")
        if not np.isfinite(points).all():
            raise MeshError("it has vertices that are not finite numbers")
        vertices.append(points)
        faces.append(corners.astype(np.int64) + count)
        count += len(points)
    return np.concatenate(vertices), np.concatenate(faces)


def _as_text(raw: bytes, ending: str) -> bytes:
    """Make a text STL's letters UTF-8: old programs write names in their own code page."""
    return raw.decode("utf-8", errors="replace").encode() if ending == ".stl" else raw
