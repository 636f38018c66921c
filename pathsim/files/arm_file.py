"""Arm and torch descriptions to ``Arm``, link meshes and ``Torch``."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pathsim.arm import Arm
from pathsim.errors import PathsimError
from pathsim.files.arm_schema import ArmFile, TorchFile
from pathsim.files.faults import FaultList
from pathsim.files.mesh_source import MeshRequest, MeshSource
from pathsim.files.yaml_source import YamlSource, read_yaml, validated
from pathsim.model import Mesh, Torch, TorchPiece
from pathsim.model.torch import WIRE
from pathsim.transforms import frozen, inverse, pose, rotation_from_angles

#: Names that results use for the arm itself.
_ARMS_OWN = re.compile(r"^(link \d+|arm base)$", re.IGNORECASE)


@dataclass(frozen=True, eq=False)
class ArmDescription:
    """An arm with its link meshes in link frames, and the tip's limits."""

    arm: Arm
    link_meshes: tuple[Mesh | None, ...]
    tip_speed: float
    tip_acceleration: float


def read_arm(
    path: Path, shown: str, meshes: MeshSource, faults: FaultList
) -> ArmDescription | None:
    """Read an arm description; None after noting its faults."""
    source = read_yaml(path, shown, faults)
    if source is None:
        return None
    meshes.digests[shown] = source.digest
    file = validated(ArmFile, source, faults)
    if file is None:
        return None
    before = len(faults)
    for index, joint in enumerate(file.joints):
        if not joint.limits[0] < joint.limits[1]:
            where = source.line(("joints", index, "limits"))
            low, high = np.degrees(joint.limits)
            came = f"came {low:g} to {high:g} deg"
            key = f"joints[{index + 1}].limits"
            faults.add(shown, where, key, came, "the lower limit first, then a larger one")
    if len(faults) > before:
        return None
    try:
        arm = Arm.from_dh(
            [(j.a, j.alpha, j.d, j.theta0) for j in file.joints],
            file.convention,
            limits=[j.limits for j in file.joints],
            speed=[j.speed for j in file.joints],
            acceleration=[j.acceleration for j in file.joints],
            name=file.name,
        )
    except PathsimError as error:
        faults.add(shown, source.line(("joints",)), "joints", str(error), "rows that make an arm")
        return None
    links = _links(file, source, arm, path.parent, meshes, faults)
    if links is None:
        return None
    return ArmDescription(arm, links, file.tip.speed, file.tip.acceleration)


def _links(
    file: ArmFile,
    source: YamlSource,
    arm: Arm,
    beside: Path,
    meshes: MeshSource,
    faults: FaultList,
) -> tuple[Mesh | None, ...] | None:
    """Meshes of all links in link frames. Every link must be named, with or without a shape."""
    before = len(faults)
    found: dict[int, Mesh | None] = {}
    zero = arm.link_poses(np.zeros(arm.dof))
    for index, entry in enumerate(file.links.shapes):
        location = ("links", "shapes", index)
        line, key = source.line(location), f"links.shapes[{index + 1}]"
        if entry.link > arm.dof:
            came = f"came link {entry.link}"
            faults.add(source.shown, line, key, came, f"0 (base) to {arm.dof}")
            continue
        if entry.link in found:
            faults.add(source.shown, line, key, f"link {entry.link} came twice", "each link once")
            continue
        found[entry.link] = None
        if entry.mesh == "none":
            continue
        mesh = meshes.mesh(
            MeshRequest(entry.mesh, file.links.unit, file.links.up, beside, source.shown, line, key)
        )
        if mesh is not None and file.links.drawn_in == "base frame at zero":
            mesh = mesh.moved(inverse(zero[entry.link]))
        found[entry.link] = mesh
    for link in range(arm.dof + 1):
        if link not in found:
            faults.add(
                source.shown,
                source.line(("links", "shapes")),
                "links.shapes",
                f"link {link} is missing",
                "every link from 0 (base) on, with a mesh or 'mesh: none'",
                "'mesh: none' says that it has no shape; the check then warns that it was not "
                "measured.",
            )
    if len(faults) > before:
        return None
    return tuple(found[link] for link in range(arm.dof + 1))


def read_torch(
    path: Path, shown: str, wire: float, meshes: MeshSource, faults: FaultList
) -> Torch | None:
    """Read a torch description; None after noting its faults."""
    source = read_yaml(path, shown, faults)
    if source is None:
        return None
    meshes.digests[shown] = source.digest
    file = validated(TorchFile, source, faults)
    if file is None:
        return None
    before = len(faults)
    pieces: list[TorchPiece] = []
    names: set[str] = {WIRE}
    for index, entry in enumerate(file.pieces):
        line, key = source.line(("pieces", index)), f"pieces[{index + 1}]"
        if entry.name.casefold() in names or _ARMS_OWN.match(entry.name):
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
    return Torch(file.name, tuple(pieces), T, wire, file.wire_diameter)
