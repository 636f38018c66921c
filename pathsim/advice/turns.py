"""Cures for a wrist that lines up: a small twist about the wire, or the other solution."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from pathsim.advice.change import Change
from pathsim.advice.trial import Evaluator
from pathsim.arm.postures import has_postures, posture_of
from pathsim.findings.axis_words import joint_values
from pathsim.findings.places import all_joints_at
from pathsim.findings.twist import air_ends, twists
from pathsim.motion import MoveTrack
from pathsim.units import degrees


@dataclass(frozen=True, eq=False)
class Turn:
    """A point taught with the torch turned, or with other joint values."""

    kind: str
    words: str
    change: Change


def turned_about_wire(evaluator: Evaluator, track: MoveTrack) -> Iterator[Turn]:
    """Yield turns about the wire at the air ends of a straight move, smallest first."""
    for twist in twists(evaluator.evidence, track):
        names = " and ".join(f"'{name}'" for name in twist.points)
        text = (
            f"Teach {names} with the torch turned {degrees(twist.angle, 0)} about its wire; the "
            "weld stays as it is."
        )
        yield Turn("twist", text, Change(evaluator.cell, twist.points))


def other_postures(evaluator: Evaluator, track: MoveTrack) -> Iterator[Turn]:
    """Yield the other joint values that reach the air point at a move's end, nearest first."""
    arm = evaluator.cell.arm
    for name, q in air_ends(evaluator.cell, track):
        others = sorted(all_joints_at(evaluator.cell, q), key=lambda other: np.abs(other - q).max())
        for other in others:
            stands = f"{posture_of(arm, other[: arm.dof])}: " if has_postures(arm) else ""
            text = (
                f"Teach '{name}' at the same place with other joint values "
                f"({stands}{joint_values(evaluator.cell, other)})."
            )
            yield Turn("posture", text, Change(evaluator.cell, {name: other}))
