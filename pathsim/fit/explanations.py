"""What may be wrong with a description, one thing at a time, each with its price.

The price says how readily a person should believe it: a wrong sign, zero or coupling of one
joint costs 1; a tool or base that is shifted costs 2; shifted and turned 3.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pathsim.arm import Arm
from pathsim.fit.description import Description
from pathsim.transforms import Array, exp_rotation, log_rotation, pose
from pathsim.units import degrees, millimetres


@dataclass(frozen=True)
class Explanation:
    """One thing that may be wrong.

    ``kind``: "sign", "zero", "coupling", "tool place", "tool", "base place", "base". ``joint``
    (index from 0) for the first three; ``factor`` of a coupling to the joint before.
    """

    kind: str
    joint: int = 0
    factor: float = 0.0

    @property
    def price(self) -> int:
        """Return how much it asks a person to believe."""
        return {"tool place": 2, "base place": 2, "tool": 3, "base": 3}.get(self.kind, 1)

    @property
    def numbers(self) -> int:
        """Return how many free numbers it has."""
        return {"sign": 0, "coupling": 0, "zero": 1, "tool place": 3, "base place": 3}.get(
            self.kind, 6
        )

    def applied(self, description: Description, x: Array) -> Description:
        """Return the description as it would have to be; ``x (numbers,)`` in rad and m."""
        readings = description.arm.readings
        if self.kind == "sign":
            mix = np.array(readings.mix)
            mix[self.joint, self.joint] *= -1
            return description.with_map(mix, readings.zero)
        if self.kind == "coupling":
            mix = np.array(readings.mix)
            mix[self.joint, self.joint - 1] += self.factor
            return description.with_map(mix, readings.zero)
        if self.kind == "zero":
            zero = np.array(readings.zero)
            zero[self.joint] += x[0]
            return description.with_map(readings.mix, zero)
        T = pose(exp_rotation(x[3:]) if len(x) == 6 else np.eye(3), x[:3])
        if self.kind.startswith("tool"):
            # shifted in the flange frame, turned about itself
            moved = np.array(description.T_flange_tcp)
            moved[:3, 3] += T[:3, 3]
            moved[:3, :3] = moved[:3, :3] @ T[:3, :3]
            return replace(description, T_flange_tcp=moved)
        moved = np.array(description.T_shown_base)
        moved[:3, 3] += T[:3, 3]
        moved[:3, :3] = T[:3, :3] @ moved[:3, :3]
        return replace(description, T_shown_base=moved)

    def words(self, arm: Arm, x: Array) -> str:
        """Say it as a sentence's part; ``arm`` with the readings map that explains the rows."""
        name = arm.joint_name(self.joint)
        if self.kind == "sign":
            return f"{name} counts the other way round on the display"
        if self.kind == "coupling":
            other, mix = arm.joint_name(self.joint - 1), arm.readings.mix
            how = "taken off" if self.factor < 0 else "added to"
            # Both joints together then follow the display of this one alone.
            level = mix[self.joint, self.joint - 1] == -mix[self.joint - 1, self.joint - 1]
            against = " (the display shows its angle to the horizon)" if level else ""
            return f"the reading of {other} must be {how} {name}{against}"
        if self.kind == "zero":
            size = millimetres(x[0], 2) if arm.prismatic[self.joint] else degrees(x[0], 3)
            return f"the zero of {name} is off: {size} must be added"
        what = "the tool centre point" if "tool" in self.kind else "the frame of displayed poses"
        shift = " ".join(f"{v * 1e3:.2f}" for v in x[:3])
        turned = ""
        if len(x) == 6:
            angle = float(np.linalg.norm(log_rotation(exp_rotation(x[3:]))))
            turned = f" and turned by {degrees(angle, 2)}"
        return f"{what} is shifted by {shift} mm{turned}"


def candidates(arm: Arm, *, with_tool: bool, with_base: bool) -> list[Explanation]:
    """Everything that may be wrong with an arm's description, cheapest first."""
    found = [Explanation("sign", j) for j in range(arm.dof)]
    found += [Explanation("zero", j) for j in range(arm.dof)]
    third = coupled_joint(arm)
    if third is not None:
        found += [Explanation("coupling", third, factor) for factor in (-1.0, 1.0)]
    if with_tool:
        found += [Explanation("tool place"), Explanation("tool")]
    if with_base:
        found += [Explanation("base place"), Explanation("base")]
    return sorted(found, key=lambda e: e.price)


def coupled_joint(arm: Arm) -> int | None:
    """Index of the joint that a display may show against the horizon: the third that turns."""
    turning = [j for j in range(arm.dof) if not arm.prismatic[j]]
    third = turning[2] if len(turning) > 2 else None
    return None if third is None or arm.prismatic[third - 1] else third
