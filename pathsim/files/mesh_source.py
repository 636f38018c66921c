"""Reading meshes for a cell: each file once, every fault noted, contents hashed."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from pathsim.errors import MeshError
from pathsim.files.contents import Contents
from pathsim.files.faults import FaultList, did_you_mean
from pathsim.files.paths import confined, shown
from pathsim.mesh_files import (
    FORMATS,
    NAMES_PARTS,
    STEP,
    chosen,
    drawn_to,
    in_words,
    mesh_of,
    read_parts,
    stood_up,
)
from pathsim.mesh_files.three_mf import Part
from pathsim.model import Assembly, Mesh


@dataclass(frozen=True)
class MeshRequest:
    """A mesh that a file asks for: its path as written, how to read it, and who asks.

    ``unit``, ``up`` and ``scale`` as written; ``beside`` is the folder of the asking file;
    ``file``, ``line`` and ``key`` are the place that a fault is reported at. ``may_be_off``:
    who asks reckons with triangles that are a little off the true surface. ``parts``: of an
    assembly these alone; ``user``: what results call who asks.
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
    parts: tuple[str, ...] = ()
    user: str = ""


def unit_of(text: str, unit: str | None) -> str:
    """Return the unit for one of several files: none for STEP, which always says its own."""
    return "" if PurePosixPath(text).suffix.lower() in STEP else unit or ""


@dataclass
class _Used:
    """Parts of a file, and who uses each. ``is_divided``: somebody uses some of them alone."""

    by: dict[str, list[str]]
    is_divided: bool = False


class MeshSource:
    """Meshes under one root folder."""

    def __init__(self, root: Path, faults: FaultList, contents: Contents) -> None:
        self.root = root
        self._faults = faults
        self._known: dict[tuple[object, ...], Mesh | None] = {}
        self._parts: dict[tuple[Path, str], list[Part]] = {}
        self._used: dict[Path, _Used] = {}
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
                f"'{request.text}' is a STEP file, which a URDF cannot name",
                "an STL, OBJ, OFF, PLY, GLB or 3MF file here",
                "Export it as STL, as fine as the program offers.",
            )
            return None
        if request.parts and path.suffix.lower() not in NAMES_PARTS:
            endings = ", ".join(NAMES_PARTS)
            came = f"came 'part' with '{request.text}', whose format keeps no parts apart"
            self._fault(request, came, f"'part' with a file ending in {endings}")
            return None
        key = (path, request.unit, request.up, request.scale, request.parts)
        if key not in self._known:
            self._known[key] = self._read(path, request)
        mesh = self._known[key]
        if mesh is not None:
            self._note_use(path, request)
        return mesh

    def _note_use(self, path: Path, request: MeshRequest) -> None:
        """Note which parts of a file who asks for it uses."""
        names = [part.name for part in self._parts[path, request.unit] if len(part.faces)]
        used = self._used.setdefault(path, _Used({name: [] for name in names}))
        used.is_divided |= bool(request.parts)
        for name in request.parts or names:
            used.by[name].append(request.user)

    def assemblies(self, said: Mapping[str, Mapping[str, list[str]]]) -> tuple[Assembly, ...]:
        """Return what uses which parts of each file of which somebody uses some parts alone.

        ``said``: the same of files that a saved cell came from and that are not read any more.
        """
        read = tuple(
            Assembly(
                shown(path, self.root), tuple((name, tuple(who)) for name, who in used.by.items())
            )
            for path, used in sorted(self._used.items())
            if used.is_divided
        )
        known = {one.file for one in read}
        others = (
            Assembly(name, tuple((part, tuple(users)) for part, users in parts.items()))
            for name, parts in said.items()
            if name not in known
        )
        return (*read, *others)

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
            if (path, request.unit) not in self._parts:
                self._parts[path, request.unit] = read_parts(path, request.unit, raw)
            parts = self._parts[path, request.unit]
            if not self._are_there(parts, request):
                return None
            mesh = mesh_of(chosen(parts, request.parts), path, request.unit, request.scale)
        except MeshError as error:
            came = f"the mesh '{text}' cannot be used: {error}"
            self._fault(request, came, "a mesh with triangles")
            return None
        return stood_up(mesh) if request.up == "y" else mesh

    def _are_there(self, parts: list[Part], request: MeshRequest) -> bool:
        """Tell whether a file has all parts that are asked for; note a fault for one it has not."""
        known = [part.name for part in parts]
        wrong = [name for name in request.parts if name not in known]
        for name in wrong:
            came = f"'{request.text}' has no part '{name}'"
            self._fault(request, came, f"one of {in_words(known)}", did_you_mean(name, known))
        return not wrong
