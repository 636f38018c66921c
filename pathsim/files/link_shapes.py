"""Shapes of an arm's links: meshes and simple solids, as the description names them."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from pathsim.arm import Arm
from pathsim.errors import PathsimError
from pathsim.files.arm_schema import LinkEntry, LinksEntry
from pathsim.files.faults import FaultList
from pathsim.files.mesh_source import MeshRequest, MeshSource, unit_of
from pathsim.files.yaml_source import YamlSource
from pathsim.geometry.solids import box, capsule
from pathsim.mesh_files import drawn_to
from pathsim.model import Mesh, SharedRoom
from pathsim.model.piece import link_name
from pathsim.model.shared_room import SharedBall
from pathsim.transforms import inverse, pose, rotation_from_angles


@dataclass(frozen=True, eq=False)
class LinkShapes:
    """Meshes in link frames, base first; ``approximate`` names those that are no real casting.

    ``shared``: what such solids share by construction. ``drawn_to``: how far each mesh may be off
    the true surface, m; empty where all are exact.
    """

    meshes: tuple[Mesh | None, ...]
    approximate: tuple[int, ...]
    shared: SharedRoom = field(default_factory=SharedRoom)
    drawn_to: tuple[float, ...] = ()


def described_links(
    links: LinksEntry,
    source: YamlSource,
    arm: Arm,
    beside: Path,
    meshes: MeshSource,
    faults: FaultList,
) -> LinkShapes | None:
    """Shapes of all links. Every link must be named, with or without a shape."""
    before = len(faults)
    for link in links.solids:
        if not 0 <= link <= arm.dof:
            line = source.line(("links", "solids"))
            came = f"came link {link}"
            faults.add(source.shown, line, "links.solids", came, f"0 (base) to {arm.dof}")
    found: dict[int, Mesh | None] = {}
    approximate: list[int] = []
    off = [0.0] * (arm.dof + 1)
    zero = arm.link_poses(np.zeros(arm.dof))
    for index, entry in enumerate(links.shapes):
        line, key = source.line(("links", "shapes", index)), f"links.shapes[{index + 1}]"
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
        if entry.mesh is None:
            approximate.append(entry.link)
            mesh = _solid(entry, source, line, key, faults)
        else:
            unit = unit_of(entry.mesh, links.unit)
            request = MeshRequest(
                entry.mesh, unit, links.up, beside, source.shown, line, key,
                may_be_off=True, parts=entry.part or (), user=link_name(arm, entry.link),
            )  # fmt: skip
            mesh = meshes.mesh(request)
            off[entry.link] = max(entry.drawn_to or 0.0, drawn_to(Path(entry.mesh)))
        if mesh is not None and links.drawn_in == "base frame at zero":
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
    solids = tuple(sorted({*approximate, *links.solids}))
    meshes_found = tuple(found[link] for link in range(arm.dof + 1))
    return LinkShapes(meshes_found, solids, _shared(links), tuple(off) if any(off) else ())


def _shared(links: LinksEntry) -> SharedRoom:
    """Return what solids share by construction, as a saved arm says it."""
    entry = links.shared_room
    if entry is None:
        return SharedRoom()
    ball = entry.ball
    return SharedRoom(
        tuple(entry.within),
        tuple(entry.joined),
        None if ball is None else SharedBall(ball.other, ball.at, ball.radius),
    )


def _solid(
    entry: LinkEntry, source: YamlSource, line: int | None, key: str, faults: FaultList
) -> Mesh | None:
    """Mesh of a capsule or box, in the frame that shapes are drawn in."""
    try:
        if entry.capsule is not None:
            return capsule(entry.capsule.start, entry.capsule.end, entry.capsule.radius)
        assert entry.box is not None  # noqa: S101 - the schema saw to it
        R = rotation_from_angles("fixed x-y-z", entry.box.turned)
        return box(entry.box.size).moved(pose(R, entry.box.at))
    except PathsimError as error:
        faults.add(source.shown, line, key, str(error), "a solid with a size")
        return None
