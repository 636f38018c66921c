"""Torch descriptions to ``Torch``."""

from __future__ import annotations

import re
from pathlib import Path

from pathsim.errors import MeshError
from pathsim.files.faults import FaultList
from pathsim.files.mesh_source import MeshRequest, MeshSource, unit_of
from pathsim.files.torch_schema import BuiltEntry, TorchFile
from pathsim.files.yaml_source import YamlSource, read_validated
from pathsim.mesh_files import drawn_to
from pathsim.model import Torch, TorchPiece
from pathsim.model.torch import WIRE
from pathsim.shapes import Barrel, Neck, Nozzle, TorchSizes, build_torch
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
    if file.built is not None:
        return _built(file, file.built, wire, source, faults)
    assert file.pieces is not None  # noqa: S101 - the schema saw to it
    assert file.tool_centre_point is not None  # noqa: S101
    before = len(faults)
    pieces: list[TorchPiece] = []
    names: set[str] = {WIRE}
    for index, entry in enumerate(file.pieces):
        line, key = source.line(("pieces", index)), f"pieces[{index + 1}]"
        if entry.name.casefold() in names or ARMS_OWN.match(entry.name):
            rule = "another name ('wire', 'arm base' and 'link 1', 'link 2', ... are taken)"
            faults.add(shown, line, key, f"the name '{entry.name}' is taken", rule)
        names.add(entry.name.casefold())
        request = MeshRequest(
            entry.mesh, unit_of(entry.mesh, file.unit), file.up, path.parent, shown, line, key,
            may_be_off=True, parts=entry.part or (), user=entry.name,
        )  # fmt: skip
        mesh = meshes.mesh(request)
        if mesh is not None:
            off = max(entry.drawn_to or 0.0, drawn_to(Path(entry.mesh)))
            pieces.append(TorchPiece(entry.name, mesh, off))
    if len(faults) > before:
        return None
    R = rotation_from_angles("fixed x-y-z", file.tool_centre_point.turned)
    T = frozen(pose(R, file.tool_centre_point.at))
    return Torch(file.name, tuple(pieces), T, wire, file.wire_diameter, file.unit or "")


def _built(
    file: TorchFile, entry: BuiltEntry, wire: float, source: YamlSource, faults: FaultList
) -> Torch | None:
    """Build a torch from its numbers; None after noting what makes none."""
    neck, nozzle = entry.neck, entry.nozzle
    sizes = TorchSizes(
        Barrel(entry.body.length, entry.body.diameter),
        Neck(neck.diameter, neck.angle, neck.radius, neck.before, neck.after),
        Nozzle(nozzle.length, nozzle.diameter, nozzle.mouth, nozzle.tip),
        None if entry.mount is None else Barrel(entry.mount.length, entry.mount.diameter),
        entry.towards,
    )
    try:
        built = build_torch(sizes, wire)
    except MeshError as error:
        came, _, expected = str(error).partition("; expected ")
        faults.add(source.shown, source.line(("built",)), "built", f"came {came}", expected)
        return None
    pieces = tuple(TorchPiece(name, mesh) for name, mesh in built.pieces.items())
    return Torch(file.name, pieces, built.T_flange_tcp, wire, file.wire_diameter)
