"""Shapes of an arm's links: meshes, simple solids, or capsules sized from the dimensions."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pathsim.arm import Arm, Dimensions
from pathsim.errors import PathsimError
from pathsim.files.arm_schema import GirthEntry, LinkEntry, LinksEntry
from pathsim.files.faults import FaultList
from pathsim.files.mesh_source import MeshRequest, MeshSource
from pathsim.files.yaml_source import YamlSource
from pathsim.model import Mesh
from pathsim.model.solids import box, capsule
from pathsim.transforms import Array, inverse, pose, rotation_from_angles


@dataclass(frozen=True, eq=False)
class LinkShapes:
    """Meshes in link frames, base first; ``approximate`` names those that are no real casting."""

    meshes: tuple[Mesh | None, ...]
    approximate: tuple[int, ...]


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
    found: dict[int, Mesh | None] = {}
    approximate: list[int] = []
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
            assert links.unit is not None  # noqa: S101 - the schema saw to it
            mesh = meshes.mesh(
                MeshRequest(entry.mesh, links.unit, links.up, beside, source.shown, line, key)
            )
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
    return LinkShapes(tuple(found[link] for link in range(arm.dof + 1)), tuple(sorted(approximate)))


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


def sized_links(size: Dimensions, girth: GirthEntry) -> LinkShapes:
    """Capsules along the lines of a dimension drawing, drawn in link frames.

    Each holds everything within its radius of the line between the joints it joins. Whether
    the real castings stay inside is up to who gave the radii.
    """
    x, up = np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])
    shoulder = np.array([size.shoulder_offset, size.shoulder_side, size.shoulder_height])
    elbow = shoulder + size.upper_arm * up
    roll = elbow + size.elbow_offset * up
    forearm_end = roll + size.forearm * x
    half_way = roll + size.forearm / 2 * x
    wrist = forearm_end - size.wrist_offset * up
    flange = wrist + size.flange * x
    knuckle = wrist + size.flange / 2 * x
    column = size.shoulder_height * up
    base_top = max(size.shoulder_height - girth.base, 0.0) / 2 * up
    lines: list[tuple[Array, Array, float]] = [
        (np.zeros(3), base_top, girth.base),
        (base_top, column, girth.base),
        (shoulder, elbow, girth.upper_arm),
        (elbow, half_way, girth.forearm),
        (half_way, forearm_end, girth.forearm),
        (wrist, knuckle, girth.wrist),
        (knuckle, flange, girth.wrist),
    ]
    # Link frames of this form stand on their axis, parallel to the base at zero.
    places = [np.zeros(3), np.zeros(3), shoulder, elbow, roll, wrist]
    meshes: list[Mesh | None] = [
        capsule(start - place, end - place, radius)
        for (start, end, radius), place in zip(lines[:6], places, strict=True)
    ]
    # The last link's frame is the flange: z out, x down.
    out = pose([[0, 0, 1], [0, 1, 0], [-1, 0, 0]], flange)
    meshes.append(capsule(*lines[6]).moved(inverse(out)))
    return LinkShapes(tuple(meshes), tuple(range(7)))
