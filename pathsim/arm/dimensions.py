"""The six-axis dimension drawing: the lengths that stand on every data sheet, to a chain.

With all joints at zero the upper arm stands straight up, the forearm lies straight forward
and the flange faces forward; seen from the side::

                    elbow offset
        axis 4 ----------+==================+   wrist offset: axis 5 below axis 4
        axis 3 ----------o     forearm      o--| flange
                         |                axis 5
               upper arm |
                         |
        axis 2 ----------o   shoulder height: floor of the base to axis 2
               |         |
               | shoulder offset
             axis 1

Joint 1 turns to the left, 2 leans forward, 3 lowers the forearm, 4 and 6 roll to the right
(about the forward axis), 5 lowers the flange. Whatever the display counts otherwise is
said in the readings map.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from pathsim.errors import ArmError
from pathsim.transforms import Array, pose, translation

#: Frames whose z lies along y and along x of their parent.
_Z_ALONG_Y = pose([[1, 0, 0], [0, 0, 1], [0, -1, 0]], np.zeros(3))
_Z_ALONG_X = pose([[0, 0, 1], [0, 1, 0], [-1, 0, 0]], np.zeros(3))


@dataclass(frozen=True)
class Dimensions:
    """Lengths in m, as the module's drawing names them.

    ``shoulder_side`` is how far the arm's plane stands to the left of axis 1. ``wrist_offset``
    0 gives a spherical wrist. Upper arm and forearm must be longer than nothing.
    """

    shoulder_height: float
    shoulder_offset: float
    upper_arm: float
    elbow_offset: float
    forearm: float
    flange: float
    shoulder_side: float = 0.0
    wrist_offset: float = 0.0

    def __post_init__(self) -> None:
        for item in fields(self):
            value = getattr(self, item.name)
            if not np.isfinite(value):
                raise ArmError(f"{item.name.replace('_', ' ')} is not a finite number")
        if self.upper_arm <= 0 or np.hypot(self.forearm, self.elbow_offset) <= 0:
            raise ArmError("upper arm and forearm must be longer than nothing")


def chain_from_dimensions(size: Dimensions) -> tuple[Array, Array]:
    """Return ``fixed (6, 4, 4)`` and ``ends (6, 4, 4)`` (see ``pathsim.arm.dh``).

    Link frames stand on their joint's axis and are parallel to the base at zero; the flange
    frame has z out of the flange and x down at zero.
    """
    y, x = _Z_ALONG_Y, _Z_ALONG_X
    back_y, back_x = np.linalg.inv(y), np.linalg.inv(x)
    fixed = [
        np.eye(4),
        translation([size.shoulder_offset, size.shoulder_side, size.shoulder_height]) @ y,
        back_y @ translation([0.0, 0.0, size.upper_arm]) @ y,
        back_y @ translation([0.0, 0.0, size.elbow_offset]) @ x,
        back_x @ translation([size.forearm, 0.0, -size.wrist_offset]) @ y,
        back_y @ x,
    ]
    ends = [np.eye(4), back_y, back_y, back_x, back_y, translation([0.0, 0.0, size.flange])]
    return np.array(fixed), np.array(ends)
