"""Cures for a wrist that lines up: a small twist about the wire, or the other solution."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from pathsim.advice.change import Change
from pathsim.advice.places import all_joints_at, joints_at
from pathsim.advice.sites import is_air_point
from pathsim.advice.trial import Bench
from pathsim.arm.postures import has_postures, posture_of
from pathsim.findings.axis_words import joint_values
from pathsim.motion import MoveTrack
from pathsim.transforms import Array, pose, rotation_about
from pathsim.units import degrees

#: Turns tried, smallest first, rad: the first that serves is the smallest to this step.
TWISTS = np.radians(np.arange(2.0, 46.0, 2.0))


@dataclass(frozen=True, eq=False)
class Turn:
    """A point taught with the torch turned, or with other joint values."""

    kind: str
    words: str
    change: Change


def air_ends(bench: Bench, track: MoveTrack) -> list[tuple[str, Array]]:
    """Return names and axes of a move's ends that are air points, so that no seam changes."""
    ends = [(track.move.target, track.q[-1])]
    if track.continuous:
        ends.append((track.start, track.q[0]))
    return [(name, q) for name, q in ends if is_air_point(bench, name)]


def twists(bench: Bench, track: MoveTrack) -> Iterator[Turn]:
    """Yield turns about the wire at the air ends of a straight move, smallest first."""
    for size in TWISTS:
        for name, q in air_ends(bench, track):
            for angle in (size, -size):
                T = bench.cell.tool_poses(q[None])[0]
                turn = pose(rotation_about([0.0, 0.0, 1.0], float(angle)), np.zeros(3))
                turned = joints_at(bench.cell, T @ turn, q)
                if turned is None:
                    continue
                text = (
                    f"Teach '{name}' with the torch turned {degrees(float(angle), 0)} about its "
                    "wire; the weld stays as it is."
                )
                yield Turn("twist", text, Change(bench.cell, {name: turned}))


def other_postures(bench: Bench, track: MoveTrack) -> Iterator[Turn]:
    """Yield the other joint values that reach the air point at a move's end, nearest first."""
    arm = bench.cell.arm
    for name, q in air_ends(bench, track):
        others = sorted(all_joints_at(bench.cell, q), key=lambda other: np.abs(other - q).max())
        for other in others:
            stands = f"{posture_of(arm, other[: arm.dof])}: " if has_postures(arm) else ""
            text = (
                f"Teach '{name}' at the same place with other joint values "
                f"({stands}{joint_values(bench.cell, other)})."
            )
            yield Turn("posture", text, Change(bench.cell, {name: other}))
