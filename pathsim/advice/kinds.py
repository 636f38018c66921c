"""Kinds of findings for which points are looked for."""

from __future__ import annotations

from pathsim.findings.kinds import FindingKind

#: How near a pair comes on an air move: cured by another way.
NEAR = (FindingKind.CONTACT, FindingKind.NEAR_HIT)
#: A posture that is hard on the joints: cured by another posture, or a turn about the wire.
LINED_UP = (
    FindingKind.WRIST_ALIGNED,
    FindingKind.ELBOW_STRETCHED,
    FindingKind.TWO_WAYS,
    FindingKind.WRIST_OVER_SHOULDER,
    FindingKind.NEAR_SINGULAR,
)
