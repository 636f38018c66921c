"""How far joints 4, 5 and 6 are from lining up."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pathsim.arm.chain import Arm
from pathsim.arm.inverse import geometry_of
from pathsim.transforms import Array


def has_spherical_wrist(arm: Arm) -> bool:
    """Tell whether alignment of joints 4 and 6 is this arm's wrist singularity."""
    return geometry_of(arm) is not None


def wrist_angle(arm: Arm, q: ArrayLike) -> Array:
    """Angle ``(...)`` between the lines of joints 4 and 6, rad in [0, pi/2]; 0 is aligned.

    For a spherical wrist with square axes this is the angle of joint 5 from its aligned
    position; |sin| of it is the wrist factor of the Jacobian's determinant.
    """
    axes = arm.axis_frames(q)[..., :3, 2]
    fourth, sixth = axes[..., 3, :], axes[..., 5, :]
    across = np.linalg.norm(np.cross(fourth, sixth), axis=-1)
    return np.asarray(np.arctan2(across, np.abs((fourth * sixth).sum(axis=-1))))
