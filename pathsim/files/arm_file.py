"""Arm descriptions, in any of their forms, to an ``Arm`` with link shapes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from pathsim.arm import Arm, Dimensions, ReadingsMap
from pathsim.errors import PathsimError
from pathsim.files.arm_schema import ArmFile, RailEntry
from pathsim.files.faults import FaultList
from pathsim.files.link_shapes import LinkShapes, described_links
from pathsim.files.mesh_source import MeshSource
from pathsim.files.sized_links import sized_links
from pathsim.files.yaml_source import YamlSource, read_validated
from pathsim.model import Mesh, SharedRoom
from pathsim.transforms import Array, frozen, pose, rotation_from_angles


@dataclass(frozen=True, eq=False)
class ArmDescription:
    """An arm with its link meshes in link frames, and the tip's limits.

    ``approximate``: links whose shape is a solid that stands for the real casting; ``shared``:
    what such solids share by construction; ``drawn_to``: how far each mesh may be off, m.
    """

    arm: Arm
    link_meshes: tuple[Mesh | None, ...]
    approximate: tuple[int, ...]
    shared: SharedRoom
    drawn_to: tuple[float, ...]
    tip_speed: float
    tip_acceleration: float
    tip_jerk: float
    natural_frequency: float | None


def read_arm(
    path: Path, shown: str, meshes: MeshSource, faults: FaultList
) -> ArmDescription | None:
    """Read an arm description; None after noting its faults."""
    read = read_validated(path, shown, ArmFile, meshes.contents, faults)
    if read is None:
        return None
    source, file = read
    built = _arm_and_shapes(file, source, path, meshes, faults)
    if built is None:
        return None
    arm, shapes = built
    try:
        if file.held_joint is not None:
            arm = _holding(arm, file.held_joint - 1)
        readings = _readings(file, source, arm.dof, faults)
        if readings is None:
            return None
        arm = arm.with_readings(readings)
        if file.readings.limits == "as displayed":
            arm = arm.with_shown_limits(np.column_stack([arm.lower, arm.upper]))
        if file.rail is not None:
            arm = _on_rail(arm, file.rail)
            numbers = tuple(i + 1 for i in shapes.approximate)
            off = (0.0, *shapes.drawn_to) if shapes.drawn_to else ()
            shapes = LinkShapes((None, *shapes.meshes), numbers, shapes.shared.behind(1), off)
    except PathsimError as error:
        key = "rail" if file.rail is not None else "held joint"
        line = source.line((key,))
        faults.add(shown, line, key, str(error), "an arm that can be built")
        return None
    return ArmDescription(
        arm, shapes.meshes, shapes.approximate, shapes.shared, shapes.drawn_to,
        file.tip.speed, file.tip.acceleration,
        np.inf if file.tip.jerk is None else file.tip.jerk,
        file.natural_frequency,
    )  # fmt: skip


def _arm_and_shapes(
    file: ArmFile, source: YamlSource, path: Path, meshes: MeshSource, faults: FaultList
) -> tuple[Arm, LinkShapes] | None:
    if file.urdf is not None:
        from pathsim.files.urdf_arm import read_urdf

        return read_urdf(file.urdf, file.name, source, path.parent, meshes, faults)
    arm = _from_lengths(file, source, faults)
    if arm is None or file.links is None:
        return None
    if file.links.within is not None:
        assert file.dimensions is not None  # noqa: S101 - the schema saw to it
        sized = sized_links(_dimensions(file), file.links.within)
        return arm, LinkShapes(sized.meshes, tuple(range(7)), sized.shared)
    shapes = described_links(file.links, source, arm, path.parent, meshes, faults)
    return None if shapes is None else (arm, shapes)


def _dimensions(file: ArmFile) -> Dimensions:
    entry = file.dimensions
    assert entry is not None  # noqa: S101 - asked for only where it is given
    return Dimensions(
        shoulder_height=entry.shoulder_height,
        shoulder_offset=entry.shoulder_offset,
        shoulder_side=entry.shoulder_side,
        upper_arm=entry.upper_arm,
        elbow_offset=entry.elbow_offset,
        forearm=entry.forearm,
        wrist_offset=entry.wrist_offset,
        flange=entry.flange,
    )


def _from_lengths(file: ArmFile, source: YamlSource, faults: FaultList) -> Arm | None:
    """Build the arm from rows or from a dimension drawing."""
    before = len(faults)
    for index, joint in enumerate(file.joints):
        low, high = joint.limits.values
        if not low < high:
            where = source.line(("joints", index, "limits"))
            scale, unit = (1e3, "mm") if joint.slides else (180 / np.pi, "deg")
            came = f"came {low * scale:g} to {high * scale:g} {unit}"
            key = f"joints[{index + 1}].limits"
            faults.add(source.shown, where, key, came, "the lower limit first, then a larger one")
    if len(faults) > before:
        return None
    limits = [j.limits.values for j in file.joints]
    speed = [j.speed.value for j in file.joints]
    acceleration = [j.acceleration.value for j in file.joints]
    jerk = [np.inf if j.jerk is None else j.jerk.value for j in file.joints]
    key = next((k for k in ("dimensions", "chain") if getattr(file, k) is not None), "joints")
    try:
        if file.dimensions is not None:
            return Arm.from_dimensions(
                _dimensions(file), limits=limits, speed=speed, acceleration=acceleration,
                jerk=jerk, name=file.name,
            )  # fmt: skip
        if file.chain is not None:
            return Arm.from_chain(
                [entry.axis.pose for entry in file.chain],
                [entry.link.pose for entry in file.chain],
                limits=limits, speed=speed, acceleration=acceleration, jerk=jerk,
                prismatic=[j.slides for j in file.joints], name=file.name,
            )  # fmt: skip
        assert file.convention is not None  # noqa: S101 - the schema saw to it
        return Arm.from_dh(
            [(j.a or 0.0, j.alpha or 0.0, j.d or 0.0, j.theta0 or 0.0) for j in file.joints],
            file.convention,
            limits=limits,
            speed=speed,
            acceleration=acceleration,
            jerk=jerk,
            prismatic=[j.slides for j in file.joints],
            name=file.name,
        )
    except PathsimError as error:
        line = source.line((key,))
        cure = ""
        if file.convention is not None:
            cure = (
                f"Are these really rows of the '{file.convention}' convention? In the other "
                "convention the same numbers make another arm."
            )
        faults.add(source.shown, line, key, str(error), "lengths and angles that make an arm", cure)
        return None


def _holding(arm: Arm, held: int) -> Arm:
    if not (arm.dof > 6 and held < arm.dof):
        from pathsim.errors import ArmError

        raise ArmError(f"joint {held + 1} of {arm.dof} cannot be held; only one of seven can")
    return replace(arm, held=held)


def _readings(file: ArmFile, source: YamlSource, dof: int, faults: FaultList) -> ReadingsMap | None:
    before = len(faults)
    signs, zero = np.ones(dof), np.zeros(dof)
    couplings: list[tuple[int, int, float]] = []
    said: set[int] = set()
    for index, entry in enumerate(file.readings.joints):
        line = source.line(("readings", "joints", index))
        key = f"readings.joints[{index + 1}]"
        for joint in (entry.joint, entry.coupled_to or 1):
            if joint > dof:
                faults.add(source.shown, line, key, f"came joint {joint}", f"1 to {dof}")
        if entry.joint in said:
            faults.add(source.shown, line, key, f"joint {entry.joint} came twice", "it once")
        said.add(entry.joint)
        if len(faults) > before:
            continue
        signs[entry.joint - 1], zero[entry.joint - 1] = entry.sign, entry.zero
        if entry.coupled_to is not None and entry.coupling is not None:
            couplings.append((entry.joint - 1, entry.coupled_to - 1, entry.coupling))
    if len(faults) > before:
        return None
    T: Array = frozen(np.eye(4))
    if file.readings.poses_from is not None:
        frame = file.readings.poses_from
        T = frozen(pose(rotation_from_angles("fixed x-y-z", frame.turned), frame.at))
    try:
        return ReadingsMap.of(signs, zero, couplings, T)
    except PathsimError as error:
        line = source.line(("readings",))
        faults.add(source.shown, line, "readings", str(error), "a map that can be undone")
        return None


def _on_rail(arm: Arm, rail: RailEntry) -> Arm:
    axis = np.eye(3)["xyz".index(rail.along[-1])] * (-1.0 if rail.along[0] == "-" else 1.0)
    side = np.eye(3)[int(np.argmin(np.abs(axis)))]
    across = np.cross(side, axis)
    across /= np.linalg.norm(across)
    T = pose(np.column_stack([across, np.cross(axis, across), axis]), np.zeros(3))
    return arm.on_rail(T, rail.limits, rail.speed, rail.acceleration)
