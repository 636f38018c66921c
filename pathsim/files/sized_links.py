"""Solids for a dimension drawing whose castings are not to be had: four radii, round its lines.

What they hold is a promise: every point within the radius of the line that the part follows.

- base: axis 1 from the floor up to the height of axis 2, and from there to axis 2, straight and
  by way of the shoulder offset. Nothing below the floor.
- upper arm: from axis 2 to axis 3.
- forearm: from axis 3 to axis 4, along axis 4, and down the wrist offset to axis 5.
- wrist: from axis 5 along axis 6 to the flange.

Where one link ends and the next begins on a line that a joint turns about is nobody's to say:
the room round such a line is the same wherever it is cut. So it is cut where the parts on
both sides stay apart, and a ball round the place where the wrist's axes meet goes with the flange.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.arm import Dimensions
from pathsim.files.arm_schema import GirthEntry
from pathsim.geometry.solids import ball, capsule, outward, rod, together
from pathsim.model import Mesh, SharedRoom
from pathsim.model.shared_room import SharedBall
from pathsim.transforms import Array, inverse, pose

#: What does not share room by construction has to stay this far apart, m: more than is asked of
#: the arm's own links.
_APART = 0.01
_X, _UP = np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True)
class SizedLinks:
    """Meshes in link frames, base first, and what they share by construction."""

    meshes: tuple[Mesh | None, ...]
    shared: SharedRoom


def sized_links(size: Dimensions, girth: GirthEntry) -> SizedLinks:
    """Solids of the seven links; see the module for what they hold."""
    shoulder = np.array([size.shoulder_offset, size.shoulder_side, size.shoulder_height])
    elbow = shoulder + size.upper_arm * _UP
    roll = elbow + size.elbow_offset * _UP
    forearm_end = roll + size.forearm * _X
    wrist = forearm_end - size.wrist_offset * _UP
    flange = wrist + size.flange * _X
    forearm, is_cut = _cut_forearm(size, girth)
    cut = roll + forearm * np.sign(size.forearm) * _X
    base = _base_height(size, girth)

    link3 = [capsule(elbow, roll, girth.forearm)]
    link4: list[Mesh] = []
    if size.forearm != 0:
        has_front = bool(np.linalg.norm(cut - roll) > 0)
        if has_front:
            link3.append(rod(roll, cut, girth.forearm, flat_end=True))
        if is_cut:
            is_round = size.wrist_offset != 0
            link4.append(
                rod(cut, forearm_end, girth.forearm, flat_start=has_front, flat_end=not is_round)
            )
    if size.wrist_offset != 0:
        bend = size.forearm == 0  # then the ball at its upper end is not there yet
        link4.append(rod(forearm_end, wrist, girth.forearm, flat_start=not bend, flat_end=True))
    link6 = [ball(max(girth.forearm, girth.wrist)).moved(pose(np.eye(3), wrist))]
    link6.append(capsule(wrist, flange, girth.wrist))

    solids: list[list[Mesh]] = [
        [rod(np.zeros(3), base * _UP, girth.base, flat_start=True, flat_end=True)] if base else [],
        _link_1(shoulder, base, girth.base),
        [capsule(shoulder, elbow, girth.upper_arm)],
        link3,
        link4,
        [],
        link6,
    ]
    # Link frames of this form stand on their axis, parallel to the base at zero; that of the
    # last link is the flange's: z out, x down.
    out = pose([[0, 0, 1], [0, 1, 0], [-1, 0, 0]], flange)
    places = [np.zeros(3), np.zeros(3), shoulder, elbow, roll, wrist]
    frames = [*(pose(np.eye(3), place) for place in places), out]
    meshes = tuple(
        together(parts).moved(inverse(T)) if parts else None
        for parts, T in zip(solids, frames, strict=True)
    )
    within = [(5, 6)]
    if meshes[0] is None:
        within.append((0, 1))
    if meshes[4] is None:
        within.append((4, 3))
    end = SharedBall(3 if meshes[4] is None else 4, (0.0, 0.0, -size.flange), girth.forearm)
    return SizedLinks(meshes, SharedRoom(tuple(sorted(within)), _joined(size, girth), end))


def _link_1(shoulder: Array, base: float, radius: float) -> list[Mesh]:
    """Axis 1 from the base's solid on, and out to axis 2."""
    side, height = shoulder[1], shoulder[2]
    top, corner = height * _UP, np.array([shoulder[0], 0.0, height])
    if height > 0:
        parts = [rod(base * _UP, top, radius, flat_start=True)]
    else:
        parts = [capsule(np.zeros(3), top, radius)]
    if np.linalg.norm(shoulder - top) > 0:
        parts.append(capsule(top, shoulder, radius))
    if shoulder[0] != 0 and side != 0:
        parts += [capsule(top, corner, radius), capsule(corner, shoulder, radius)]
    return parts


def _base_height(size: Dimensions, girth: GirthEntry) -> float:
    """How far up axis 1 the standing base reaches, m; 0 where there is no room under axis 2.

    Half of what is free under the ball that the upper arm turns in: the rest turns with link 1.
    """
    free = size.shoulder_height - outward() * girth.upper_arm
    return free / 2 if free > 4 * _APART else 0.0


def _cut_forearm(size: Dimensions, girth: GirthEntry) -> tuple[float, bool]:
    """How far along axis 4 link 3 reaches, m, and whether link 4 has the rest.

    Between the ball of the upper arm at axis 3 and that of the wrist at axis 5, so that link 4
    stays clear of the one and link 3 of the other; a forearm too short for that is one solid.
    """
    low, high = _free_forearm(size, girth)
    length = abs(size.forearm)
    if low < high:
        return (low + high) / 2, True
    if size.wrist_offset == 0:
        return length, False
    return float(np.clip((low + high) / 2, 0.0, length / 2)), True


def _free_forearm(size: Dimensions, girth: GirthEntry) -> tuple[float, float]:
    """From where to where along axis 4, m, no ball of a neighbour reaches; empty if low > high."""
    hand = max(girth.forearm, girth.wrist)
    low = outward() * girth.upper_arm + _APART
    return low, abs(size.forearm) - outward() * hand - _APART


def _joined(size: Dimensions, girth: GirthEntry) -> tuple[tuple[int, int], ...]:
    """Links whose solids share room in every posture: balls round joints that stand too near."""
    hand = max(girth.forearm, girth.wrist)
    (low, high), (cut, is_cut) = _free_forearm(size, girth), _cut_forearm(size, girth)
    # Joint 5 alone lies between forearm and wrist, and both hold the room round it.
    found = {(4, 6)} if is_cut or size.wrist_offset != 0 else {(3, 6)}
    if cut > high:
        found.add((3, 6))
    if cut < low and is_cut:
        found.add((2, 4))
    if size.upper_arm < outward() * (girth.base + girth.forearm) + _APART:
        found.add((1, 3))
    across = max(abs(size.elbow_offset) - abs(size.wrist_offset), 0.0)
    if np.hypot(size.forearm, across) < outward() * (girth.upper_arm + hand) + _APART:
        found.add((2, 6))
    return tuple(sorted(found))
