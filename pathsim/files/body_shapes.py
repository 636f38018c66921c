"""What a body looks like: its mesh file, or a shape from a few numbers."""

from __future__ import annotations

from pathlib import Path

from pathsim.errors import MeshError
from pathsim.files.faults import FaultList
from pathsim.files.mesh_source import MeshRequest, MeshSource
from pathsim.files.standing_schema import BodyEntry
from pathsim.files.yaml_source import YamlSource
from pathsim.model import Mesh


def body_mesh(
    entry: BodyEntry,
    index: int,
    source: YamlSource,
    folder: Path,
    meshes: MeshSource,
    faults: FaultList,
    library: str | None = None,
) -> Mesh | None:
    """Return the mesh of a body; None after noting its fault.

    ``library``: the folder in which meshes lie that are not beside the cell, as its file names it.
    """
    if entry.mesh is not None:
        line = source.line(("bodies", index, "mesh"))
        text = _in_library(entry.mesh, library, folder)
        key = f"bodies[{index + 1}].mesh"
        request = MeshRequest(
            text, entry.unit or "", entry.up, folder, source.shown, line, key,
            may_be_off=True, parts=entry.part or (), user=entry.name,
        )  # fmt: skip
        return meshes.mesh(request)
    key, shape = next(iter(entry.shapes()))
    try:
        return shape.mesh()
    except MeshError as error:
        came, _, expected = str(error).partition("; expected ")
        line = source.line(("bodies", index, key))
        faults.add(source.shown, line, f"bodies[{index + 1}].{key}", f"came {came}", expected)
        return None


def _in_library(text: str, library: str | None, folder: Path) -> str:
    """Return a mesh's path from the cell: beside it if it is there, else in the library."""
    if library is None or (folder / text).is_file():
        return text
    return f"{library.rstrip('/')}/{text}"
