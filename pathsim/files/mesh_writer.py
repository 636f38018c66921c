"""Meshes as PLY files in float64, the one format of those that are read which loses no bit."""

from __future__ import annotations

import re

import numpy as np

from pathsim.errors import CannotCheck
from pathsim.files.exact_numbers import before_scaling
from pathsim.geometry.mesh import Mesh
from pathsim.units import factor

_HEADER = """ply
format binary_little_endian 1.0
element vertex {vertices}
property double x
property double y
property double z
element face {faces}
property list uchar int vertex_indices
end_header
"""


def ply_bytes(mesh: Mesh, unit: str) -> bytes:
    """Return a mesh as the bytes of a PLY file whose numbers are in ``unit``."""
    if mesh.is_cut:
        raise CannotCheck("a mesh that something was cut out of has no file: its inside is unknown")
    head = _HEADER.format(vertices=len(mesh.vertices), faces=len(mesh.faces)).encode()
    rows = np.zeros(len(mesh.faces), dtype=[("count", "u1"), ("corners", "<i4", 3)])
    rows["count"], rows["corners"] = 3, mesh.faces
    vertices = before_scaling(mesh.vertices, factor(unit, "length"))
    return head + vertices.astype("<f8").tobytes() + rows.tobytes()


class MeshFolder:
    """Meshes that are to be written, each once, under names that say what they are."""

    def __init__(self, folder: str) -> None:
        self._folder = folder
        self._names: dict[tuple[str, str], str] = {}
        self.files: dict[str, bytes] = {}

    def put(self, name: str, mesh: Mesh, unit: str) -> str:
        """Return the path of a mesh's file from the cell folder; equal meshes share one."""
        key = mesh.digest, unit
        if key not in self._names:
            plain = re.sub(r"[^a-z0-9]+", "_", name.casefold()).strip("_") or "mesh"
            path, count = f"{self._folder}/{plain}.ply", 1
            while path in self.files:
                count += 1
                path = f"{self._folder}/{plain}_{count}.ply"
            self.files[path] = ply_bytes(mesh, unit)
            self._names[key] = path
        return self._names[key]
