"""Reading meshes for a cell: each file once, every fault noted, contents hashed."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from pathsim.errors import MeshError
from pathsim.files.contents import Contents
from pathsim.files.faults import FaultList, did_you_mean
from pathsim.files.paths import confined, shown
from pathsim.mesh_files import FORMATS, drawn_to, read_mesh, stood_up
from pathsim.model import Mesh


@dataclass(frozen=True)
class MeshRequest:
    """A mesh that a file asks for: its path as written, how to read it, and who asks.

    ``unit``, ``up`` and ``scale`` as written; ``beside`` is the folder of the asking file;
    ``file``, ``line`` and ``key`` are the place that a fault is reported at. ``may_be_off``:
    who asks reckons with triangles that are a little off the true surface.
    """

    text: str
    unit: str
    up: str | None
    beside: Path
    file: str
    line: int | None
    key: str
    scale: tuple[float, float, float] = (1.0, 1.0, 1.0)
    may_be_off: bool = False


class MeshSource:
    """Meshes under one root folder."""

    def __init__(self, root: Path, faults: FaultList, contents: Contents) -> None:
        self.root = root
        self._faults = faults
        self._known: dict[tuple[object, ...], Mesh | None] = {}
        self.contents = contents

    def mesh(self, request: MeshRequest) -> Mesh | None:
        """Return the mesh that is asked for; None after a fault."""
        path, wrong = confined(request.text, request.beside, self.root)
        if path is None:
            rule = "a path relative to this file, inside the folder that holds the cell folder"
            self._fault(request, f"'{request.text}' {wrong}", rule)
            return None
        if path.suffix.lower() == ".glb" and request.up is None:
            self._fault(
                request,
                f"'{request.text}' is a GLB file and nothing says which axis is up",
                "'up: y' (as the standard has it) or 'up: z' (as some programs write it)",
            )
            return None
        if drawn_to(path) > 0 and not request.may_be_off:
            self._fault(
                request,
                f"'{request.text}' is a STEP file, which is read for bodies only",
                "an STL, OBJ, OFF, PLY, GLB or 3MF file here",
                "Export it as STL, as fine as the program offers.",
            )
            return None
        key = (path, request.unit, request.up, request.scale)
        if key not in self._known:
            self._known[key] = self._read(path, request)
        return self._known[key]

    def _fault(self, request: MeshRequest, came: str, expected: str, cure: str = "") -> None:
        self._faults.add(request.file, request.line, request.key, came, expected, cure)

    def bytes_of(
        self, path: Path, file: str, line: int | None, key: str, text: str
    ) -> bytes | None:
        """Return the bytes of a file that another one names, and note its hash; None on a fault."""
        try:
            raw = self.contents.read(path)
        except OSError as error:
            endings = (*FORMATS, ".urdf")
            names = [p.name for p in path.parent.iterdir()] if path.parent.is_dir() else []
            cure = did_you_mean(path.name, [n for n in names if Path(n).suffix.lower() in endings])
            why = "does not exist" if isinstance(error, FileNotFoundError) else "cannot be read"
            self._faults.add(file, line, key, f"the file '{text}' {why}", "a file", cure)
            return None
        self.contents.digests[shown(path, self.root)] = hashlib.sha256(raw).digest()
        return raw

    def _read(self, path: Path, request: MeshRequest) -> Mesh | None:
        text = request.text
        raw = self.bytes_of(path, request.file, request.line, request.key, text)
        if raw is None:
            return None
        try:
            mesh = read_mesh(path, request.unit, raw, request.scale)
        except MeshError as error:
            came = f"the mesh '{text}' cannot be used: {error}"
            self._fault(request, came, "a mesh with triangles")
            return None
        return stood_up(mesh) if request.up == "y" else mesh
