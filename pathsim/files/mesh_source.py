"""Reading meshes for a cell: each file once, every fault noted, contents hashed."""

from __future__ import annotations

import hashlib
from pathlib import Path

from pathsim.errors import MeshError
from pathsim.files.faults import FaultList, did_you_mean
from pathsim.files.mesh_files import FORMATS, read_mesh
from pathsim.files.paths import confined, shown
from pathsim.model import Mesh


class MeshSource:
    """Meshes under one root folder."""

    def __init__(self, root: Path, faults: FaultList) -> None:
        self._root = root
        self._faults = faults
        self._known: dict[tuple[Path, str], Mesh | None] = {}
        self.digests: dict[str, bytes] = {}

    def mesh(
        self, text: str, unit: str, beside: Path, at: tuple[str, int | None, str]
    ) -> Mesh | None:
        """Return the mesh that the file ``at`` (file, line, key) names; None after a fault."""
        file, line, key = at
        path, wrong = confined(text, beside, self._root)
        if path is None:
            rule = "a path relative to this file, inside the folder that holds the cell folder"
            self._faults.add(file, line, key, f"'{text}' {wrong}", rule)
            return None
        if (path, unit) not in self._known:
            self._known[path, unit] = self._read(path, text, unit, at)
        return self._known[path, unit]

    def _read(
        self, path: Path, text: str, unit: str, at: tuple[str, int | None, str]
    ) -> Mesh | None:
        file, line, key = at
        try:
            raw = path.read_bytes()
        except OSError as error:
            names = [p.name for p in path.parent.iterdir()] if path.parent.is_dir() else []
            cure = did_you_mean(path.name, [n for n in names if Path(n).suffix.lower() in FORMATS])
            why = "does not exist" if isinstance(error, FileNotFoundError) else "cannot be read"
            self._faults.add(file, line, key, f"the mesh '{text}' {why}", "a mesh file", cure)
            return None
        self.digests[shown(path, self._root)] = hashlib.sha256(raw).digest()
        try:
            return read_mesh(path, unit, raw)
        except MeshError as error:
            came = f"the mesh '{text}' cannot be used: {error}"
            self._faults.add(file, line, key, came, "a mesh with triangles")
            return None
