"""A robot description file (URDF) to an ``Arm`` and its link shapes."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np

from pathsim.arm import Arm
from pathsim.errors import PathsimError
from pathsim.files.arm_schema import UrdfEntry
from pathsim.files.faults import FaultList
from pathsim.files.link_shapes import LinkShapes
from pathsim.files.mesh_source import MeshRequest, MeshSource
from pathsim.files.paths import confined, shown
from pathsim.files.urdf_model import Chain, Shape, read_chain, read_joints, shapes_of
from pathsim.files.urdf_text import Node, Reader, parse_urdf
from pathsim.files.yaml_source import YamlSource
from pathsim.geometry.solids import ball, box, cylinder
from pathsim.model import Mesh
from pathsim.transforms import Array, inverse, pose

_PACKAGE = re.compile(r"^package://([^/]+)/(.+)$")


def read_urdf(
    entry: UrdfEntry,
    name: str,
    source: YamlSource,
    beside: Path,
    meshes: MeshSource,
    faults: FaultList,
) -> tuple[Arm, LinkShapes] | None:
    """Read the file that a description names; None after noting its faults."""
    line = source.line(("urdf", "file"))
    path, wrong = confined(entry.file, beside, meshes.root)
    if path is None:
        rule = "a path relative to this file, inside the folder that holds the cell folder"
        faults.add(source.shown, line, "urdf.file", f"'{entry.file}' {wrong}", rule)
        return None
    raw = meshes.bytes_of(path, source.shown, line, "urdf.file", entry.file)
    if raw is None:
        return None
    read = Reader(shown(path, meshes.root), faults)
    before = len(faults)
    robot = parse_urdf(raw, read.shown, faults)
    parts = None if robot is None else read_joints(robot, read)
    if robot is None or parts is None:
        return None
    links, joints = parts
    chain = read_chain(robot, links, joints, entry.tip, read)
    if chain is None:
        return None
    arm = _arm(chain, entry, name, source, read)
    shapes = _Shapes(entry, path.parent, beside, meshes, read).of(chain, links)
    if arm is None or len(faults) > before:
        return None
    return arm, shapes


def _arm(chain: Chain, entry: UrdfEntry, name: str, source: YamlSource, read: Reader) -> Arm | None:
    """Turn each joint's axis into a z axis: ``T_joint = T_parent_joint @ A``, ``A z = axis``."""
    fixed, ends, accelerations = [], [], []
    carried: Array = np.eye(4)
    for joint, before in zip(chain.joints, chain.before, strict=True):
        A = _z_along(joint.axis)
        fixed.append(carried @ before @ A)
        carried = inverse(A)
        ends.append(carried)
        slides = joint.kind == "prismatic"
        if slides and entry.sliding_acceleration is None:
            read.fault(joint.node, "this joint slides", "'sliding acceleration' in the description")
            return None
        accelerations.append(entry.sliding_acceleration if slides else entry.acceleration)
    ends[-1] = ends[-1] @ chain.tip
    try:
        return Arm.from_chain(
            np.array(fixed),
            np.array(ends),
            limits=[(joint.lower, joint.upper) for joint in chain.joints],
            speed=[joint.speed for joint in chain.joints],
            acceleration=[float(a or math.inf) for a in accelerations],
            prismatic=[joint.kind == "prismatic" for joint in chain.joints],
            name=name,
        )
    except PathsimError as error:
        line = source.line(("urdf",))
        read.faults.add(source.shown, line, "urdf", str(error), "joints that make an arm")
        return None


def _z_along(axis: Array) -> Array:
    """Pose without a move whose z is ``axis``; none at all where the axis is z already."""
    if axis[2] > 1 - 1e-15:
        return np.eye(4)
    x = np.cross(np.eye(3)[np.argmin(np.abs(axis))], axis)
    x /= np.linalg.norm(x)
    return pose(np.column_stack([x, np.cross(axis, x), axis]), np.zeros(3))


class _Shapes:
    """Meshes of all moving links, in link frames; the last one's frame is the tip."""

    def __init__(
        self, entry: UrdfEntry, beside: Path, cell_side: Path, meshes: MeshSource, read: Reader
    ) -> None:
        self._entry, self._beside, self._description = entry, beside, cell_side
        self._meshes, self._read = meshes, read

    def of(self, chain: Chain, links: dict[str, Node]) -> LinkShapes:
        count = len(chain.joints)
        parts: list[list[Mesh]] = [[] for _ in range(count + 1)]
        solids: set[int] = set()
        for name, node in links.items():
            number, T = chain.carrier[name]
            if number == count:
                T = inverse(chain.tip) @ T
            for shape in shapes_of(node, self._entry.shapes, self._read) or []:
                mesh = self._mesh(shape)
                if mesh is not None:
                    parts[number].append(mesh.moved(T @ shape.T_link_shape))
                    if shape.geometry.tag != "mesh":
                        solids.add(number)
        found = tuple(_together(part) if part else None for part in parts)
        return LinkShapes(found, tuple(sorted(solids)))

    def _mesh(self, shape: Shape) -> Mesh | None:
        """Mesh of one geometry in its own frame."""
        node, read = shape.geometry, self._read
        try:
            if node.tag == "box":
                size = read.numbers(node, "size", 3)
                return None if size is None else box(size)
            if node.tag == "cylinder":
                radius, length = read.numbers(node, "radius", 1), read.numbers(node, "length", 1)
                return None if radius is None or length is None else cylinder(radius[0], length[0])
            if node.tag == "sphere":
                radius = read.numbers(node, "radius", 1)
                return None if radius is None else ball(radius[0])
            if node.tag == "mesh":
                return self._file(node)
        except PathsimError as error:
            read.fault(node, str(error), "sizes above zero")
            return None
        read.fault(node, f"came <{node.tag}>", "mesh, box, cylinder or sphere")
        return None

    def _file(self, node: Node) -> Mesh | None:
        read, text = self._read, self._read.text(node, "filename")
        scale = read.numbers(node, "scale", 3, (1.0, 1.0, 1.0))
        if text is None or scale is None:
            return None
        if min(scale) <= 0:
            read.fault(node, f"its scale is {scale}", "three numbers above zero")
            return None
        beside, match = self._beside, _PACKAGE.match(text)
        if match:
            package, text = match.groups()
            folder = self._entry.packages.get(package)
            if folder is None:
                cure = f"Add 'packages: {{{package}: FOLDER}}' beside 'file' in the description."
                read.fault(node, f"nobody says where the package '{package}' lies", "it", cure)
                return None
            path, wrong = confined(folder, self._description, self._meshes.root)
            if path is None:
                read.fault(node, f"the folder '{folder}' of '{package}' {wrong}", "a folder inside")
                return None
            beside = path
        x, y, z = scale
        where = (beside, read.shown, node.line, f"<{node.tag}>")
        return self._meshes.mesh(MeshRequest(text, "m", None, *where, scale=(x, y, z)))


def _together(meshes: list[Mesh]) -> Mesh:
    """Return one mesh of several."""
    if len(meshes) == 1:
        return meshes[0]
    offsets = np.cumsum([0] + [len(m.vertices) for m in meshes[:-1]])
    faces = np.vstack([m.faces + offset for m, offset in zip(meshes, offsets, strict=True)])
    return Mesh(np.vstack([m.vertices for m in meshes]), faces)
