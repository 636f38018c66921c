"""From the tree of a robot description file to a chain of joints and the shapes on it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from pathsim.files.faults import did_you_mean
from pathsim.files.urdf_text import Node, Reader
from pathsim.transforms import Array, pose, rotation_from_angles
from pathsim.units import MOST

MOVING = ("revolute", "continuous", "prismatic")
_UNIT = 0.05  # how far the length of an axis may be from 1


@dataclass(frozen=True, eq=False)
class Joint:
    """One joint: ``T_parent_joint (4, 4)``, its unit axis in the joint frame, limits in SI."""

    name: str
    kind: str
    parent: str
    child: str
    T_parent_joint: Array
    axis: Array
    lower: float
    upper: float
    speed: float
    node: Node


@dataclass(frozen=True, eq=False)
class Shape:
    """A shape on a link: a mesh file or a simple solid, at ``T_link_shape (4, 4)``."""

    kind: str  # visual or collision
    T_link_shape: Array
    geometry: Node


@dataclass(eq=False)
class Chain:
    """The moving joints from root to tip, and every link's place on them.

    ``carrier``: for each link, the number of the moving link that carries it (0 the base) and
    ``T_carrier_link``; a moving link's frame is its joint's frame after the joint moved.
    """

    joints: list[Joint]
    before: list[Array]  # T from the moving link before to the joint, fixed joints folded in
    tip: Array  # T_last_tip (4, 4)
    carrier: dict[str, tuple[int, Array]] = field(default_factory=dict)


def read_joints(robot: Node, read: Reader) -> tuple[dict[str, Node], list[Joint]] | None:
    """Return all links by name and all joints; None after a fault."""
    before = len(read.faults)
    _require_known(robot, read)
    links: dict[str, Node] = {}
    for node in robot.all("link"):
        name = read.text(node, "name")
        if name is not None and name in links:
            read.fault(node, "this link came twice", "each link once")
        if name is not None:
            links[name] = node
    if not links:
        read.fault(robot, "has no links", "links and joints")
    joints = [joint for joint in (_joint(n, links, read) for n in robot.all("joint")) if joint]
    names = [joint.name for joint in joints]
    for joint in joints:
        if names.count(joint.name) > 1:
            read.fault(joint.node, "this joint's name came twice", "each joint once")
    return None if len(read.faults) > before else (links, joints)


def _require_known(robot: Node, read: Reader) -> None:
    """Note elements that look like links, joints or shapes but stand or are spelt wrongly."""
    meant = {"link", "joint", "visual", "collision", "geometry", "origin", "axis", "limit"}

    def visit(node: Node, depth: int) -> None:
        for child in node.children:
            if child.tag not in meant and child.tag.lower() in meant:
                read.fault(child, f"came <{child.tag}>", f"<{child.tag.lower()}>, in small letters")
            if child.tag == "link" and depth > 0:
                read.fault(child, f"a link inside <{node.tag}>", "links right inside <robot>")
            visit(child, depth + 1)

    visit(robot, 0)


def _joint(node: Node, links: dict[str, Node], read: Reader) -> Joint | None:
    name, kind = read.text(node, "name"), read.text(node, "type")
    once(node, ("origin", "axis", "limit", "parent", "child"), read)
    ends = []
    for tag in ("parent", "child"):
        end = node.first(tag)
        link = None if end is None else end.attributes.get("link")
        if link not in links:
            cure = did_you_mean(link or "", links)
            read.fault(node, f"its {tag} '{link}' is no link of the file", "a link's name", cure)
        ends.append(link or "")
    if kind is not None and kind not in (*MOVING, "fixed"):
        read.fault(node, f"came type '{kind}'", "revolute, continuous, prismatic or fixed")
        return None
    if node.first("mimic") is not None:
        read.fault(node, "it mimics another joint, which is not understood", "an own joint")
        return None
    T = origin(node, read)
    axis_node = node.first("axis")
    axis = (1.0, 0.0, 0.0) if axis_node is None else read.numbers(axis_node, "xyz", 3, (1.0, 0, 0))
    if name is None or kind is None or T is None or axis is None or "" in ends:
        return None
    length = float(np.linalg.norm(axis))
    if kind != "fixed" and abs(length - 1) > _UNIT:
        read.fault(node, f"its axis has length {length:.3g}", "a unit vector")
        return None
    lower, upper, speed = -np.inf, np.inf, np.inf
    if kind in MOVING:
        limits = _limits(node, kind, read)
        if limits is None:
            return None
        lower, upper, speed = limits
    unit = np.array(axis) / max(length, 1e-12)
    return Joint(name, kind, ends[0], ends[1], T, unit, lower, upper, speed, node)


def _limits(node: Node, kind: str, read: Reader) -> tuple[float, float, float] | None:
    limit = node.first("limit")
    if limit is None:
        read.fault(node, "has no <limit>", "<limit> with velocity, lower and upper")
        return None
    speed = read.numbers(limit, "velocity", 1)
    if speed is None:
        return None
    most, unit = (MOST["speed"], "m/s") if kind == "prismatic" else (MOST["turning speed"], "rad/s")
    if not 0 < speed[0] <= most:
        rule = f"a number above zero, at most {most:.4g} {unit}"
        read.fault(node, f"its velocity is {speed[0]:g}", rule)
        return None
    if kind == "continuous":
        return -np.inf, np.inf, speed[0]
    # The format's default for a missing end is 0; both missing would be a joint that stands.
    low, high = read.numbers(limit, "lower", 1, (0.0,)), read.numbers(limit, "upper", 1, (0.0,))
    soft = node.first("safety_controller")
    if soft is not None and low is not None and high is not None:
        # the controller stops there already
        soft_low = read.numbers(soft, "soft_lower_limit", 1, low)
        soft_high = read.numbers(soft, "soft_upper_limit", 1, high)
        low = None if soft_low is None else max(low, soft_low)
        high = None if soft_high is None else min(high, soft_high)
    if low is None or high is None:
        return None
    if not low[0] < high[0]:
        read.fault(node, f"its limits are {low[0]:g} to {high[0]:g}", "the lower one first")
        return None
    return low[0], high[0], speed[0]


def once(node: Node, tags: tuple[str, ...], read: Reader) -> None:
    """Note a fault for each of ``tags`` that comes more than once."""
    for tag in tags:
        if len(node.all(tag)) > 1:
            read.fault(node, f"has {len(node.all(tag))} <{tag}>", f"one <{tag}>")


def origin(node: Node, read: Reader) -> Array | None:
    """Return the pose ``(4, 4)`` of a node's ``origin``; the identity when it has none."""
    found = node.first("origin")
    if found is None:
        return np.eye(4)
    read.only(found, ("xyz", "rpy"))
    xyz = read.numbers(found, "xyz", 3, (0.0, 0.0, 0.0))
    rpy = read.numbers(found, "rpy", 3, (0.0, 0.0, 0.0))
    if xyz is None or rpy is None:
        return None
    return pose(rotation_from_angles("fixed x-y-z", rpy), xyz)


def read_chain(
    robot: Node, links: dict[str, Node], joints: list[Joint], tip: str | None, read: Reader
) -> Chain | None:
    """Return the chain from the root to ``tip``; None after a fault (loop, two roots, ...)."""
    into: dict[str, Joint] = {}
    before = len(read.faults)
    for joint in joints:
        if joint.child in into:
            came = f"link '{joint.child}' hangs on joint '{into[joint.child].name}' already"
            read.fault(joint.node, came, "one joint above each link (a tree, no loop)")
        into[joint.child] = joint
    roots = [name for name in links if name not in into]
    if len(read.faults) > before:
        return None
    if len(roots) != 1:
        came = "every link hangs on another: a loop" if not roots else "roots: " + ", ".join(roots)
        read.fault(robot, came, "exactly one link that hangs on no joint")
        return None
    parents = {joint.parent for joint in joints}
    leaves = [name for name in links if name not in parents]
    if tip is None and len(leaves) != 1:
        read.fault(robot, "several links end it: " + ", ".join(leaves), "'tip' in the description")
        return None
    last = leaves[0] if tip is None else tip
    if last not in links:
        cure = did_you_mean(last, links)
        read.fault(robot, f"it has no link '{last}'", "the name of the last link as 'tip'", cure)
        return None
    path: list[Joint] = []
    name = last
    while name in into:
        if len(path) > len(links):
            read.fault(into[name].node, "it is part of a loop", "a tree, no loop")
            return None
        path.insert(0, into[name])
        name = into[name].parent
    return _folded(roots[0], path, joints, read)


def _folded(root: str, path: list[Joint], joints: list[Joint], read: Reader) -> Chain | None:
    """Fold fixed joints into the moving ones and hang every other link on its carrier."""
    chain = Chain([], [], np.eye(4), {root: (0, np.eye(4))})
    for joint in path:
        number, T = chain.carrier[joint.parent]
        there = T @ joint.T_parent_joint
        if joint.kind == "fixed":
            chain.carrier[joint.child] = (number, there)
        else:
            chain.joints.append(joint)
            chain.before.append(there)
            chain.carrier[joint.child] = (len(chain.joints), np.eye(4))
        chain.tip = chain.carrier[joint.child][1]
    waiting = [joint for joint in joints if joint not in path]
    while waiting:
        ready = [joint for joint in waiting if joint.parent in chain.carrier]
        if not ready:
            read.fault(waiting[0].node, "it is part of a loop", "a tree, no loop")
            return None
        for joint in ready:
            if joint.kind != "fixed":
                came = "it moves a link that is not between the root and the tip"
                cure = "Make it fixed, take it out, or name another 'tip'."
                read.fault(joint.node, came, "moving joints on the way to the tip only", cure)
                return None
            number, T = chain.carrier[joint.parent]
            chain.carrier[joint.child] = (number, T @ joint.T_parent_joint)
            waiting.remove(joint)
    if not chain.joints:
        read.fault(path[0].node if path else Node("robot", {}, 1), "nothing moves", "moving joints")
        return None
    return chain


def shapes_of(link: Node, wanted: str, read: Reader) -> list[Shape] | None:
    """Shapes of a link: visual, collision, or both (then each geometry once)."""
    # where a link has none of the kind asked for, its other shape is better than none
    has_wanted = wanted != "both" and bool(link.all(wanted))
    tags = (wanted,) if has_wanted else ("visual", "collision")
    found: list[Shape] = []
    seen: list[tuple[str, dict[str, str], bytes]] = []
    for node in [n for tag in tags for n in link.all(tag)]:
        once(node, ("geometry", "origin"), read)
        geometry = node.first("geometry")
        solids = [] if geometry is None else geometry.children
        T = origin(node, read)
        if len(solids) != 1 or T is None:
            if T is not None:
                read.fault(node, f"has {len(solids)} geometries", "one")
            return None
        key = (solids[0].tag, solids[0].attributes, np.round(T, 9).tobytes())
        if key not in seen:
            seen.append(key)
            found.append(Shape(node.tag, T, solids[0]))
    return found
