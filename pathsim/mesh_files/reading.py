"""Meshes from STL, OBJ, OFF, PLY, GLB, 3MF and STEP files, in metres."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from pathsim.errors import MeshError
from pathsim.geometry.mesh import Mesh
from pathsim.mesh_files.binary_stl import binary_stl
from pathsim.mesh_files.closedness import open_edges
from pathsim.mesh_files.counts import announced_triangles, is_binary_stl
from pathsim.mesh_files.obj_text import plain_obj, plain_triangles
from pathsim.mesh_files.off_text import off_mesh
from pathsim.mesh_files.parts import chosen, named_once
from pathsim.mesh_files.step_file import OFF, holds_solids_alone, step_as_glb
from pathsim.mesh_files.three_mf import UNITS, Part, three_mf_parts
from pathsim.transforms import frozen
from pathsim.units import factor

FORMATS = (".stl", ".obj", ".off", ".ply", ".glb", ".3mf", ".step", ".stp")
#: Formats that say their own unit; of these the reader of STEP files makes metres of any.
STEP = (".step", ".stp")
OWN_UNIT = (".3mf", *STEP)
#: Formats that keep several parts apart, by name.
NAMES_PARTS = (*OWN_UNIT, ".glb")
#: GLB says its unit in its standard; a file that is said to be in another one is a mistake.
_METRES_ONLY = (".glb",)
_LARGEST_FILE = 400_000_000  # bytes
_Y_TO_Z = frozen(np.array([[1, 0, 0, 0], [0, 0, -1, 0], [0, 1, 0, 0], [0, 0, 0, 1]]))


def read_mesh(
    path: Path,
    unit: str,
    raw: bytes,
    scale: tuple[float, float, float] = (1.0, 1.0, 1.0),
    parts: Sequence[str] = (),
) -> Mesh:
    """Return the mesh of a file's bytes with ``unit`` (mm, cm, m, in) turned into metres.

    ``unit`` may be empty for what says its own (3MF, STEP). ``scale``: factors along x, y and z of
    the file, on top of the unit. ``parts``: of these parts alone, by the names of ``read_parts``.

    Raises MeshError with what is wrong: unknown ending, nothing in it, lost triangles,
    numbers that are not finite, a unit that cannot be, a part that it does not have.
    """
    return mesh_of(chosen(read_parts(path, unit, raw), parts), path, unit, scale)


def read_parts(path: Path, unit: str, raw: bytes) -> list[Part]:
    """Return all parts of a file, each with a name of its own; of most formats there is one.

    In metres where the file says its unit, else in its own; raises MeshError as ``read_mesh``.
    """
    ending = path.suffix.lower()
    if ending not in FORMATS:
        raise MeshError(f"files ending in '{ending}' are not read; use {', '.join(FORMATS)}")
    if ending in _METRES_ONLY and unit != "m":
        raise MeshError(f"a GLB file is in metres by its standard, the cell says '{unit}'")
    if not unit and ending not in OWN_UNIT:
        raise MeshError(f"a file ending in '{ending}' does not say its unit; say mm, cm, m or in")
    if len(raw) > _LARGEST_FILE:
        raise MeshError(f"the file has {len(raw)} bytes, more than {_LARGEST_FILE}")
    if len(raw) == 0:
        raise MeshError("the file is empty")
    found = _parts(raw, ending, unit)
    if not any(len(part.faces) for part in found):
        raise MeshError("no triangles could be read from it: empty, cut off, or another format")
    return named_once(found) if ending in NAMES_PARTS else found


def mesh_of(
    parts: Sequence[Part],
    path: Path,
    unit: str,
    scale: tuple[float, float, float] = (1.0, 1.0, 1.0),
) -> Mesh:
    """Return parts of a file (``read_parts``) as one mesh in metres; ``scale`` as ``read_mesh``."""
    vertices, faces = _as_one(parts)
    if len(faces) == 0:
        raise MeshError("no triangles could be read from it: empty, cut off, or another format")
    metres = 1.0 if path.suffix.lower() in OWN_UNIT else factor(unit, "length")
    factors = metres * np.array(scale)
    if not (factors == 1.0).all():
        vertices = vertices * factors
    # Nobody else changes these: read-only, a mesh keeps them without a copy.
    for array in (vertices, faces):
        _owner(array).setflags(write=False)
        array.setflags(write=False)
    return Mesh(vertices, faces)


def _owner(array: np.ndarray) -> np.ndarray:
    return array if not isinstance(array.base, np.ndarray) else _owner(array.base)


def _parts(raw: bytes, ending: str, unit: str) -> list[Part]:
    """All parts of a file; in metres where it says its unit, else in its own."""
    if ending in STEP:
        parts = _counted(step_as_glb(raw), ".glb")
        if holds_solids_alone(raw) and open_edges(*_as_one(parts)):
            raise MeshError("a face of a solid in it was lost on reading; export it as STL")
        return parts
    if ending == ".3mf":
        parts, said = three_mf_parts(raw)
        if unit and abs(UNITS[said] - factor(unit, "length")) > 1e-12:
            raise MeshError(f"the file says its unit is '{said}', the cell says '{unit}'")
        return parts
    if ending == ".off":
        return [Part("", *off_mesh(raw))]
    return _counted(raw, ending)


def _as_one(parts: Sequence[Part]) -> tuple[np.ndarray, np.ndarray]:
    """Vertices and triangles of all parts together."""
    if len(parts) == 1:
        return parts[0].vertices, parts[0].faces
    first = np.cumsum([0, *(len(part.vertices) for part in parts)])
    faces = [part.faces + start for part, start in zip(parts, first, strict=False)]
    none = np.zeros((0, 3))
    return (
        np.concatenate([none, *(part.vertices for part in parts)]),
        np.concatenate([none.astype(np.int64), *faces]),
    )


def _counted(raw: bytes, ending: str) -> list[Part]:
    """Parts of a file that says how many it has: none may get lost."""
    said: int | None
    read = None
    if ending == ".obj":
        raw, said = plain_obj(raw)
        read = plain_triangles(raw)
    else:
        said = announced_triangles(raw, ending)
    if ending == ".stl" and is_binary_stl(raw):
        read = binary_stl(raw)
    parts = [Part("", *read)] if read else _loaded(_as_text(raw, ending), ending)
    found = sum(len(part.faces) for part in parts)
    if said is not None and found < said:
        raise MeshError(f"the file has {said} triangles but only {found} could be read")
    return parts


def drawn_to(path: Path) -> float:
    """How far the triangles read from a file may be off the surface that it describes, m."""
    return OFF if path.suffix.lower() in STEP else 0.0


def load_mesh(
    path: str | Path, unit: str = "", up: str | None = None, parts: Sequence[str] = ()
) -> Mesh:
    """Return the mesh of a file, its ``unit`` (mm, cm, m, in) turned into metres.

    3MF and STEP files say their own unit; any other file needs the word. ``parts``: of an assembly
    (3MF, STEP, GLB) these alone, by the names that ``pathsim mesh`` lists. The triangles of a STEP
    file keep within 0.1 mm of the surfaces that it describes, and a mesh does not carry that:
    ``Body.from_file`` and cell folders widen margins by it. Whoever makes a body, a piece of a
    torch or a link of a mesh from STEP says so in ``Body.drawn_to``, ``TorchPiece.drawn_to`` or
    ``Cell.links_drawn_to``.

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
        mesh = read_mesh(place, unit, place.read_bytes(), parts=parts)
    except OSError as error:
        raise MeshError(f"{place.name}: cannot be read ({error.strerror or error})") from error
    except MeshError as error:
        raise MeshError(f"{place.name}: {error}") from error
    return stood_up(mesh) if up == "y" else mesh


def stood_up(mesh: Mesh) -> Mesh:
    """Return a mesh whose file has y up with z up: y becomes z, z becomes -y."""
    return mesh.moved(_Y_TO_Z)


def _loaded(raw: bytes, ending: str) -> list[Part]:
    """All geometries of a file, with the placements of its scene."""
    import trimesh

    try:
        scene: Any = trimesh.load_scene(
            io.BytesIO(raw), file_type=ending[1:], process=False, maintain_order=True,
            skip_materials=True,
        )  # fmt: skip
        found = [part for part in scene.dump() if isinstance(part, trimesh.Trimesh)]
    except MemoryError:
        raise
    except Exception as error:
        # The readers raise whatever their parsing stumbles over (IndexError, KeyError,
        # struct.error, JSONDecodeError, ...): all of them mean that the file is broken.
        what = f"it cannot be read as {ending[1:].upper()} ({type(error).__name__})"
        raise MeshError(what) from error
    parts = []
    for part in found:
        points = np.asarray(part.vertices, dtype=np.float64)
        corners = np.asarray(part.faces)
        if points.ndim != 2 or points.shape[1] != 3 or corners.ndim != 2 or corners.shape[1] != 3:
            raise MeshError("its vertices or triangles have a shape that makes no mesh")
        if not np.isfinite(points).all():
            raise MeshError("it has vertices that are not finite numbers")
        name = str(part.metadata.get("node") or part.metadata.get("name") or "")
        parts.append(Part(name, points, corners.astype(np.int64)))
    return parts


def _as_text(raw: bytes, ending: str) -> bytes:
    """Make a text STL's letters UTF-8: old programs write names in their own code page."""
    return raw.decode("utf-8", errors="replace").encode() if ending == ".stl" else raw
