"""Torch descriptions to ``Torch``."""

from __future__ import annotations

import re
from pathlib import Path

from pathsim.files.faults import FaultList
from pathsim.files.mesh_source import MeshRequest, MeshSource
from pathsim.files.torch_schema import TorchFile
from pathsim.files.yaml_source import read_validated
from pathsim.model import Torch, TorchPiece
from pathsim.model.torch import WIRE
from pathsim.transforms import frozen, pose, rotation_from_angles

#: Names that results use for the arm itself.
ARMS_OWN = re.compile(r"^(link \d+|arm base|rail slide)$", re.IGNORECASE)


def read_torch(
    path: Path, shown: str, wire: float, meshes: MeshSource, faults: FaultList
) -> Torch | None:
    """Read a torch description; None after noting its faults."""
    read = read_validated(path, shown, TorchFile, meshes.contents, faults)
    if read is None:
        return None
    source, file = read
    before = len(faults)
    pieces: list[TorchPiece] = []
    names: set[str] = {WIRE}
    for index, entry in enumerate(file.pieces):
        line, key = source.line(("pieces", index)), f"pieces[{index + 1}]"
        if entry.name.casefold() in names or ARMS_OWN.match(entry.name):
            rule = "another name ('wire', 'arm base' and 'link 1', 'link 2', ... are taken)"
            faults.add(shown, line, key, f"the name '{entry.name}' is taken", rule)
        names.add(entry.name.casefold())
        request = MeshRequest(entry.mesh, file.unit, file.up, path.parent, shown, line, key)
        mesh = meshes.mesh(request)
        if mesh is not None:
            pieces.append(TorchPiece(entry.name, mesh))
    if len(faults) > before:
        return None
    R = rotation_from_angles("fixed x-y-z", file.tool_centre_point.turned)
    T = frozen(pose(R, file.tool_centre_point.at))
    return Torch(file.name, tuple(pieces), T, wire, file.wire_diameter, file.unit)
