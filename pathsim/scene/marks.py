"""Findings with a place, a symbol, and a camera that looks across the gap."""

from __future__ import annotations

import numpy as np

from pathsim.check import CheckResult
from pathsim.clearance import PairClearance
from pathsim.findings import Finding
from pathsim.findings.kinds import FindingKind
from pathsim.scene.camera_fit import Camera
from pathsim.scene.cameras import gap_radius, open_side
from pathsim.scene.gap import Gap
from pathsim.scene.headlines import headline
from pathsim.scene.records import FindingMark, SceneMesh, Symbol
from pathsim.scene.sight import placed
from pathsim.transforms import Array

_SYMBOLS = {
    FindingKind.CONTACT: Symbol.CROSS,
    FindingKind.NEAR_HIT: Symbol.DIAMOND,
    FindingKind.WRIST_ALIGNED: Symbol.RINGS,
    FindingKind.ELBOW_STRETCHED: Symbol.RINGS,
    FindingKind.WRIST_OVER_SHOULDER: Symbol.RINGS,
    FindingKind.NEAR_SINGULAR: Symbol.RINGS,
    FindingKind.TWO_WAYS: Symbol.RINGS,
    FindingKind.OUT_OF_REACH: Symbol.BAR,
    FindingKind.JOINT_LEAP: Symbol.BAR,
    FindingKind.JOINT_LIMIT: Symbol.BAR,
    FindingKind.JOINT_SPEED: Symbol.BAR,
    FindingKind.SEAM_OFF: Symbol.BAR,
    FindingKind.TOUCH_SEARCH: Symbol.BAR,
}
_TIP_RADIUS = 0.16  # m round the tip for a finding without a gap
_JOINT_RADIUS = 0.45  # m round a joint that a finding is about
#: Joints, from 1, that findings without a number of their own are about.
_JOINT_OF = {FindingKind.ELBOW_STRETCHED: 3, FindingKind.WRIST_OVER_SHOULDER: 1}


def finding_marks(result: CheckResult, meshes: tuple[SceneMesh, ...]) -> tuple[FindingMark, ...]:
    """Return one mark a finding, in the result's order, numbered from 1."""
    return tuple(
        _mark(result, finding, index + 1, meshes) for index, finding in enumerate(result.findings)
    )


def _mark(
    result: CheckResult, finding: Finding, number: int, meshes: tuple[SceneMesh, ...]
) -> FindingMark:
    gap, place, camera = _gap(result, finding), None, None
    hides: tuple[str, ...] = ()
    if finding.time is not None and finding.move is not None:
        cell = result.cell
        q = result.trajectory.tracks[finding.move - 1].q_at(finding.time)[0]
        T = cell.link_poses(q[None])[0]
        if gap is not None:
            place = (gap.on_moving + gap.on_standing) / 2
            across = gap.on_standing - gap.on_moving
            radius = gap_radius(float(np.linalg.norm(across)))
            camera, hides = open_side("finding", place, radius, across, meshes, T, finding.piece)
        else:
            place, radius = cell.tips(q[None])[0], _TIP_RADIUS
            joint = _joint(finding)
            if joint is not None and joint < len(T):
                place, radius = T[joint][:3, 3], _JOINT_RADIUS
            camera, hides = open_side("finding", place, radius, None, meshes, T)
            hides = tuple(name for name in hides if joint is None)
    else:
        place, camera, hides = _thing_in_doubt(result, finding, meshes)
    return FindingMark(
        number,
        finding.level,
        _SYMBOLS.get(finding.kind, Symbol.DOT),
        headline(finding, gap),
        finding.text,
        finding.time,
        finding.move,
        finding.spans,
        place,
        gap,
        camera,
        hides,
    )


def _joint(finding: Finding) -> int | None:
    """Return the joint, from 1, that a finding is about; None where it is about the tip."""
    if finding.kind in {FindingKind.JOINT_LIMIT, FindingKind.JOINT_SPEED}:
        return int(finding.numbers["joint"])
    return _JOINT_OF.get(finding.kind)


def _thing_in_doubt(
    result: CheckResult, finding: Finding, meshes: tuple[SceneMesh, ...]
) -> tuple[Array | None, Camera | None, tuple[str, ...]]:
    """Return where to look for a finding about no moment: at the bodies that it names, whole."""
    q = result.trajectory.tracks[0].q[:1]
    T = result.cell.link_poses(q)[0]
    named = [placed(m, T) for m in meshes if m.name in (finding.piece, finding.body)]
    if not named:
        return None, None, ()
    corners = np.concatenate([triangles.reshape(-1, 3) for triangles in named])
    low, high = corners.min(axis=0), corners.max(axis=0)
    place = (low + high) / 2
    radius = max(float(np.linalg.norm(high - low)) / 2, _TIP_RADIUS)
    camera, hides = open_side("finding", place, radius, None, meshes, T, finding.body)
    shown = {finding.piece, finding.body}
    return place, camera, tuple(name for name in hides if name not in shown)


def _gap(result: CheckResult, finding: Finding) -> Gap | None:
    """Return the gap of a finding about a pair, at the moment that was measured."""
    if finding.piece is None or finding.body is None or finding.move is None:
        return None
    pairs: list[PairClearance] = [
        pair
        for pair in result.moves[finding.move - 1].noteworthy
        if (pair.piece, pair.body) == (finding.piece, finding.body)
        and pair.clearance.time == finding.time
        and pair.clearance.on_moving is not None
    ]
    if not pairs:
        return None
    tightest = min(pairs, key=lambda pair: pair.clearance.lower)
    found = tightest.clearance
    if found.on_moving is None or found.on_standing is None:
        return None
    lower = 0.0 if found.touches else found.lower
    return Gap(found.on_moving, found.on_standing, lower, finding.piece, finding.body,
               tightest.margin)  # fmt: skip
